"""The etch factor, and what others mean by the word.

Ours is depth over undercut on each side (PCMI 1982, 'Quantitative examination of photofabricated profiles'; IPC-T-50
as quoted on the technet list, June 2012). 1 is an etchant that eats equally in all directions; trays 1 to 2 (common
practice), sprayed iron chloride on copper alloys 2.6 to 2.8, precision work 3 to 4 (craft reference A8).
"""

from sumlight.craft.bounds import above, between, number, one_of
from sumlight.craft.saying import say

LOW, HIGH = 0.8, 6.0
"""A factor outside is not used before it is known what was meant."""

MEANINGS = {
    "depth-over-undercut": say("depth over undercut of one side (ours)"),
    "depth-over-both": say("depth over the undercut of both sides together"),
    "undercut-over-depth": say("undercut of one side over depth, the ratio upside down"),
    "undercut-um": say("a length: the undercut of one side in µm"),
    "artwork-um": say("a length: what the artwork is made larger by in all, in µm"),
    "trapezoid": say("twice the height over foot less top of the finished line: ours only if the wall is straight"),
}


class MeaningNeededError(ValueError):
    """The factor given is not used until it is known what is meant: `question`, with `answers` by key of MEANINGS."""

    def __init__(self, value: float) -> None:
        self.question = say(
            "An etch factor of {value} lies outside {low} to {high}: do you mean undercut over depth, depth over the "
            "undercut of both sides, or a length in µm?",
            value=f"{value:g}",
            low=f"{LOW:g}",
            high=f"{HIGH:g}",
        )
        self.answers = tuple(key for key in MEANINGS if key != "depth-over-undercut")
        super().__init__(self.question)


def etch_factor(value: float) -> float:
    """Take a factor as ours. Raises ValueError for 0, below or no number, MeaningNeededError outside 0.8 to 6."""
    if number("etch_factor", value) <= 0:
        raise ValueError(say("etch_factor must be above 0, not {value}: it is depth over undercut", value=f"{value:g}"))
    if not LOW <= value <= HIGH:
        raise MeaningNeededError(value)
    return float(value)


def etch_factor_meaning(value: float, meaning: str, depth_um: float | None = None) -> float:
    """Turn what was answered into our factor; lengths need the depth at which they were found.

    Raises ValueError for an unknown meaning, a length without depth, or a result still outside 0.8 to 6.
    """
    one_of("meaning", meaning, tuple(MEANINGS))
    if number("etch_factor", value) <= 0:
        raise ValueError(say("etch_factor must be above 0, not {value}: it is depth over undercut", value=f"{value:g}"))
    factor = value
    if meaning == "depth-over-both":
        factor = 2 * value
    elif meaning == "undercut-over-depth":
        factor = 1 / value
    elif meaning in ("undercut-um", "artwork-um"):
        if depth_um is None:
            raise ValueError(say("depth_um must be given: a length says nothing without the depth that was etched"))
        factor = above("depth_um", depth_um, 0, 5000) / (value if meaning == "undercut-um" else value / 2)
    hint = say("'{meaning}' makes it that; measure a coupon", meaning=MEANINGS[meaning])
    return between("etch_factor", factor, LOW, HIGH, hint)


def etch_factor_of_coupon(depth_um: float, metal_opening_um: float, resist_opening_um: float) -> float:
    """Measure it: depth etched before break-through, over half of what the opening in metal is wider than in resist.

    u = (W_metal - W_resist) / 2 for a slot (PCMI 1982). Raises ValueError for an opening that did not grow, or a
    result outside 0.8 to 6.
    """
    above("depth_um", depth_um, 0, 5000)
    above("resist_opening_um", resist_opening_um, 0, 1e6)
    hint = say("metal under the resist goes too; measure at the surface, before the resist is stripped")
    above("metal_opening_um", metal_opening_um, resist_opening_um, 1e6, hint)
    factor = depth_um / ((metal_opening_um - resist_opening_um) / 2)
    return between("etch_factor", factor, LOW, HIGH, say("measure again, on a wider slot"))


def undercut_um(reach_um: float, factor: float) -> float:
    """Sideways eating at the surface, on each side of an opening: reach over factor. Raises as `etch_factor` does."""
    return between("reach_um", reach_um, 0, 10000) / etch_factor(factor)
