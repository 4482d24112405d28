"""The etch factor, and what others mean by the word.

Ours is depth over undercut on each side (PCMI 1982, 'Quantitative examination of photofabricated profiles'; IPC-T-50
as quoted on the technet list, June 2012). 1 is an etchant that eats equally in all directions; trays 1 to 2 (common
practice), sprayed ferric chloride on copper alloys 2.6 to 2.8, precision work 3 to 4 (craft reference A8).
"""

from sumlight.craft.checks import above, between, number, one_of
from sumlight.text.message import say

SHEET_UM = (5.0, 3000.0)
"""Thinnest and thickest sheet of this trade (common practice, no source)."""
LOW, HIGH = 0.8, 6.0
"""A factor outside is not used before it is known what was meant."""

MEANINGS = {
    "depth-over-undercut": say("factor_ours"),
    "depth-over-both": say("factor_over_both"),
    "undercut-over-depth": say("factor_upside_down"),
    "undercut-um": say("factor_undercut_um"),
    "artwork-um": say("factor_artwork_um"),
    "trapezoid": say("factor_trapezoid"),
}


class MeaningNeededError(ValueError):
    """The factor given is not used until it is known what is meant: `question`, with `answers` by key of MEANINGS."""

    def __init__(self, value: float) -> None:
        self.question = say(
            "factor_meaning_asked",
            value=value,
            low=LOW,
            high=HIGH,
        )
        self.answers = tuple(key for key in MEANINGS if key != "depth-over-undercut")
        super().__init__(self.question)


def etch_factor(value: float) -> float:
    """Take a factor as ours. Raises ValueError for 0, below or no number, MeaningNeededError outside 0.8 to 6.

    `value` is depth over undercut and has no unit.
    """
    if number("etch_factor", value) <= 0:
        raise ValueError(say("factor_not_above_0", value=value))
    if not LOW <= value <= HIGH:
        raise MeaningNeededError(value)
    return float(value)


def etch_factor_meaning(value: float, meaning: str, depth_um: float | None = None) -> float:
    """Turn what was answered into our factor; lengths need the depth at which they were found.

    Raises ValueError for an unknown meaning, a length without depth, or a result still outside 0.8 to 6.
    `value` is a length in µm or a ratio, as `meaning` says.
    """
    one_of("meaning", meaning, tuple(MEANINGS))
    if number("etch_factor", value) <= 0:
        raise ValueError(say("factor_not_above_0", value=value))
    factor = value
    if meaning == "depth-over-both":
        factor = 2 * value
    elif meaning == "undercut-over-depth":
        factor = 1 / value
    elif meaning in ("undercut-um", "artwork-um"):
        if depth_um is None:
            raise ValueError(say("factor_needs_depth"))
        factor = above("depth_um", depth_um, 0, 5000) / (value if meaning == "undercut-um" else value / 2)
    hint = say("hint_factor_meaning", meaning=MEANINGS[meaning])
    return between("etch_factor", factor, LOW, HIGH, hint)


def etch_factor_of_coupon(depth_um: float, metal_opening_um: float, resist_opening_um: float) -> float:
    """Measure it: depth etched before break-through, over half of what the opening in metal is wider than in resist.

    u = (W_metal - W_resist) / 2 for a slot (PCMI 1982). Raises ValueError for an opening that did not grow, or a
    result outside 0.8 to 6.
    """
    above("depth_um", depth_um, 0, 5000)
    above("resist_opening_um", resist_opening_um, 0, 1e6)
    hint = say("hint_resist_opening")
    above("metal_opening_um", metal_opening_um, resist_opening_um, 1e6, hint)
    factor = depth_um / ((metal_opening_um - resist_opening_um) / 2)
    return between("etch_factor", factor, LOW, HIGH, say("hint_wider_slot"))


def undercut_um(reach_um: float, factor: float) -> float:
    """Sideways eating at the surface, on each side of an opening: reach over factor. Raises as `etch_factor` does."""
    return between("reach_um", reach_um, 0, 10000) / etch_factor(factor)
