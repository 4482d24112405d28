"""In words: how a scan lies, its sizes against the reference, how far edges and places are off, a map."""

from sumlight.artwork.compare import Comparison, MapPlace
from sumlight.artwork.warp import Affine
from sumlight.text.message import Message, as_written, say


def lies(done: Comparison) -> list[Message]:
    """How the scan lies, and what it seems to be."""
    lines = [say("art_lies", turn=done.affine.rotation_deg, x=done.shift_x_um / 1000, y=done.shift_y_um / 1000)]
    if done.affine.mirrored:
        lines.append(say("art_scan_mirrored"))
    if done.inverted:
        lines.append(say("art_scan_inverted"))
    if done.repeats:
        lines.append(say("art_repeats"))
    return lines


def sizes(done: Comparison, affine: Affine) -> list[Message]:
    """Scales and shear of an affine from which a scanner's own may have been taken, edges and registration."""
    worst = done.worst
    return [
        say("art_sizes", across=affine.scale_x - 1, down=affine.scale_y - 1, shear=1000 * affine.shear),
        say(
            "art_bias",
            mean=done.bias.mean_um,
            across=done.bias.across_um,
            down=done.bias.down_um,
            spread=done.bias.spread_um,
        ),
        say(
            "art_register",
            rms=done.off_um,
            most=worst.off_um,
            x=worst.x_mm,
            y=worst.y_mm,
        ),
    ]


def shift_map(done: Comparison) -> list[Message]:
    """The map as rows of numbers, and for a back against its front how to see what that does to the part."""
    rows: dict[float, list[MapPlace]] = {}
    for place in done.places:
        rows.setdefault(place.y_mm, []).append(place)
    columns: list[Message] = [say("art_map_mm", mm=place.x_mm) for place in next(iter(rows.values()))]
    lines = [say("art_map", columns=columns)]
    for y_mm, places in rows.items():
        cells = "".join(f"{place.off_x_um:+7.0f}{place.off_y_um:+5.0f}" for place in places)
        lines.append(say("art_map_row", y=y_mm, cells=as_written(cells)))
    if done.affine.mirrored:
        lines.append(say("art_map_part", um=done.worst.off_um))
    return lines
