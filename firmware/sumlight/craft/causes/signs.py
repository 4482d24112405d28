"""The closed lists: what can be seen on a panel, where, what can be known of it, and what may be behind it. Names only.

Their words stand in `text.signs` and `text.causes`; what speaks for what stands in `table`.
"""

from typing import Literal, get_args

Station = Literal["develop", "image", "etch", "part", "strip"]
"""When a sign shows: in the developer, on the developed image, in the etchant, on the part, in the stripper."""

STATIONS: tuple[Station, ...] = get_args(Station)

SIGNS: dict[str, Station] = {
    "floats_off": "develop",
    "lifts_in_patches": "develop",
    "nothing_clears": "develop",
    "clears_late": "develop",
    "scum": "develop",
    "image_thin": "image",
    "image_wide": "image",
    "image_blurred": "image",
    "image_holes": "image",
    "image_reversed": "image",
    "image_wrong_size": "image",
    "faces_apart": "image",
    "lifts_in_etchant": "etch",
    "spots_unetched": "etch",
    "not_through": "etch",
    "stops_under_film": "etch",
    "fizzes": "etch",
    "middle_slow": "etch",
    "crowded_slow": "etch",
    "pitted": "part",
    "specks_left": "part",
    "part_thin": "part",
    "edge_ragged": "part",
    "wall_step": "part",
    "parts_fell_out": "part",
    "brass_dull": "part",
    "strips_badly": "strip",
    "stains": "strip",
}
"""Every sign, in the order in which a panel can show it."""

Place = Literal["everywhere", "edges", "middle", "patches", "scattered", "one_face"]
"""Where on the panel it shows."""

PLACES: tuple[Place, ...] = get_args(Place)

CAUSES = (
    *("underexposed", "overexposed", "fogged", "weak_black", "poor_contact"),
    *("film_specks", "film_ragged", "film_size", "film_reversed", "films_shifted", "drawn_too_fine"),
    *("dirty_metal", "poor_lamination", "old_resist", "dust_or_bubbles", "rest_short", "rest_long"),
    *("overdeveloped", "underdeveloped", "developer_spent", "developer_weak", "developer_cold", "cover_left"),
    "poor_rinse",
    *("etchant_spent", "etchant_cold", "acid_low", "etchant_hot", "over_etched", "uneven_etch", "one_face_starved"),
    *("metal_thicker", "stripper_weak"),
)
"""Every cause, in the order of the work."""
