"""Small drawings of the signs, for their chips: our own, in the colours of the page.

Seen from the side, metal (`m`) carries resist (`r`); seen from above, a plate has a frame (`l`). `d` is what should
be there, `g` a hole. The words beside a drawing say it all: it is hidden from screen readers.
"""

from markupsafe import Markup

from sumlight.craft.causes.signs import SIGNS

Part = tuple[str, str]
"""A kind and the path of an outline, in a field of 48 by 28."""

METAL = ("m", "M4 19h40v6H4z")
PLATE = ("l", "M5 4h38v20H5z")
BLOCKS = ("r", "M4 12h12v6H4zM32 12h12v6H32z")
CUT = ("m", "M4 13h12c0 4 2 6 3 6l-3 6H4zM44 13H32c0 4-2 6-3 6l3 6h12z")
"""A sheet with an opening etched through."""

BODIES: dict[str, tuple[Part, ...]] = {
    "floats_off": (
        METAL,
        ("r", "M6 8l11-3 1 5-11 3zM28 4l12 2-1 5-12-2z"),
        ("l", "M14 17v-3M34 16v-3"),
    ),
    "lifts_in_patches": (
        METAL,
        ("r", "M4 12h10v6H4zM34 12h10v6H34zM16 14l14-8 3 5-14 8z"),
    ),
    "nothing_clears": (
        METAL,
        ("r", "M4 12h40v6H4z"),
    ),
    "clears_late": (
        METAL,
        BLOCKS,
        ("l", "M18 8a6 6 0 1 0 12 0a6 6 0 1 0 -12 0z"),
        ("l", "M24 4v4h3"),
    ),
    "scum": (
        METAL,
        BLOCKS,
        ("r", "M16 16c3-2 5 1 8-1s5 1 8 0v3H16z"),
    ),
    "image_thin": (
        PLATE,
        ("r", "M14 5h2v18h-2zM32 5h2v18h-2z"),
        ("d", "M11 5v18M19 5v18M29 5v18M37 5v18"),
    ),
    "image_wide": (
        PLATE,
        ("r", "M8 5h14v18H8zM24 5h16v18H24z"),
        ("d", "M12 5v18M18 5v18M29 5v18M35 5v18"),
    ),
    "image_blurred": (
        PLATE,
        ("r", "M18 5h12v18H18z"),
        ("l", "M15 6v16M12.5 7v14M33 6v16M35.5 7v14"),
    ),
    "image_holes": (
        PLATE,
        ("r", "M10 5h28v18H10z"),
        ("g", "M15 9h3v3h-3zM27 8h2v2h-2zM22 16h3v3h-3zM32 15h2v2h-2zM14 18h2v2h-2z"),
    ),
    "image_reversed": (
        PLATE,
        ("l", "M14 20V8h7M14 13h5"),
        ("d", "M24 5v18"),
        ("l", "M34 20V8h-7M34 13h-5"),
    ),
    "image_wrong_size": (
        ("d", "M5 3h26v18H5z"),
        ("r", "M8 7h32v18H8z"),
    ),
    "faces_apart": (
        ("m", "M4 11h40v6H4z"),
        ("r", "M8 5h10v5H8zM26 5h10v5H26zM13 18h10v5H13zM31 18h10v5H31z"),
    ),
    "lifts_in_etchant": (
        ("m", "M4 15h13c1 4 4 6 7 6s6-2 7-6h13v10H4z"),
        ("r", "M4 9h14v5H4zM30 9l13-6 2 5-12 6z"),
    ),
    "spots_unetched": (
        CUT,
        ("m", "M20 25l2-5 2 5zM25 25l2-3 2 3z"),
        ("r", "M4 7h12v5H4zM32 7h12v5H32z"),
    ),
    "not_through": (("m", "M4 6h12c1 4 4 6 8 6s7-2 8-6h12v18H32c-1-4-4-6-8-6s-7 2-8 6H4z"),),
    "stops_under_film": (
        ("m", "M4 10h12c1 5 4 8 8 8s7-3 8-8h12v15H4z"),
        ("l", "M16 9c1 5 4 7 8 7s7-2 8-7"),
    ),
    "fizzes": (
        ("l", "M5 10v14h38V10M5 15h38"),
        ("l", "M12.5 9a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0 -5 0z"),
        ("l", "M21 5a3 3 0 1 0 6 0a3 3 0 1 0 -6 0z"),
        ("l", "M30 10a2 2 0 1 0 4 0a2 2 0 1 0 -4 0z"),
        ("l", "M18.5 20a1.5 1.5 0 1 0 3 0a1.5 1.5 0 1 0 -3 0z"),
    ),
    "middle_slow": (
        PLATE,
        ("m", "M16 9h16v10H16z"),
    ),
    "crowded_slow": (("m", "M4 8h10l-2 8 2 8H4zM24 8h3c0 5 4 5 4 0h2c0 5 4 5 4 0h2c0 5 4 5 4 0h1v16H24l2-8z"),),
    "pitted": (("m", "M4 9h8c0 4 4 4 4 0h6c0 3 3 3 3 0h7c0 5 5 5 5 0h7v16H4z"),),
    "specks_left": (
        PLATE,
        ("m", "M13 9h3v3h-3zM21 14h4v3h-4zM32 8h3v3h-3zM30 18h2v2h-2zM15 18h2v2h-2z"),
    ),
    "part_thin": (
        PLATE,
        ("m", "M22 5h4v18h-4z"),
        ("d", "M16 5v18M32 5v18"),
    ),
    "edge_ragged": (("m", "M4 4h18l4 3-5 3 6 3-5 3 5 3-4 2 3 3H4z"),),
    "wall_step": (("m", "M4 5h14v9h-5v10H4zM44 5H34v9h-5v10h15z"),),
    "parts_fell_out": (
        ("l", "M5 3h38v16H5z"),
        ("d", "M18 7h12v9H18z"),
        ("l", "M24 17v8M21 22l3 3 3-3"),
    ),
    "brass_dull": (
        ("m", "M5 4h38v20H5z"),
        ("g", "M10 8h12v2H10zM26 8h12v2H26zM10 13h20v2H10zM16 18h20v2H16z"),
    ),
    "strips_badly": (
        METAL,
        ("r", "M4 16h9v2H4zM18 13h12v5H18zM36 15h8v3h-8z"),
        ("l", "M8 8h30M34 4l4 4-4 4"),
    ),
    "stains": (
        PLATE,
        ("r", "M10 8c5-3 8 1 6 4s-8 3-6-4zM26 12c6-4 12 0 9 5s-12 2-9-5zM13 18c3-1 6 1 4 3s-5 0-4-3z"),
    ),
}


def _svg(parts: tuple[Part, ...]) -> Markup:
    paths = Markup("").join(Markup('<path class="{}" d="{}"/>').format(kind, path) for kind, path in parts)
    return Markup('<svg class="drawing" viewBox="0 0 48 28" aria-hidden="true">{}</svg>').format(paths)


DRAWINGS = {name: _svg(BODIES[name]) for name in SIGNS}
"""By sign."""
