"""A comparison in words: how the scan lies, its sizes against the reference, and how far edges and places are off."""

from sumlight.artwork.compare import Comparison
from sumlight.artwork.warp import Affine
from sumlight.text.message import Message, say


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
