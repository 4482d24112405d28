"""What is too small for a thickness: holes, slots, lines, tabs, corners. Each limit names the rule that it comes from.

Rules as makers of such parts publish them (craft reference A9, reference values §7); they differ a little, and the
larger holds. Lengths in µm, T is the sheet's thickness.
"""

from dataclasses import dataclass

from sumlight.craft.bounds import between, one_of
from sumlight.craft.etching.factor import undercut_um
from sumlight.craft.saying import say

FEATURES = ("hole", "slot", "line", "web", "tab", "inside-corner", "outside-corner")
"""A web is metal in a field of slots; a tab holds a part in its frame; corners are radii."""
COPPER_ALLOYS = ("copper", "brass", "bronze", "nickel-silver")
RULES_60 = "a maker's design rules, reference values 60"
RULES_32 = "a maker's guidelines, craft reference S32"
RULES_33 = "a maker's design page, craft reference S33"
RULES_34 = "a maker's notes on line width, craft reference S34"
SCAN_DOTS = 5
"""A feature needs that many dots of a scan to be found (craft reference A11)."""


@dataclass(frozen=True)
class Limit:
    """The smallest that works, and why: the rule's name and its source."""

    smallest_um: float
    rule: str
    source: str


def smallest(
    feature: str,
    thickness_um: float,
    metal: str = "brass",
    *,
    factor: float = 1.5,
    over_etch: float = 1.2,
    printed_um: float = 50.0,
    scan_dpi: float | None = None,
) -> Limit:
    """Find the smallest feature of its kind, the largest of all rules that speak about it.

    `printed_um` is the least that prints; `scan_dpi` adds what a scan can still find. Raises ValueError for unknown
    words and a thickness outside 5 to 3000 µm, MeaningNeededError for a factor outside 0.8 to 6.
    """
    one_of("feature", feature, FEATURES)
    between("thickness_um", thickness_um, 5, 3000, say("sheet of 20 to 500 µm is usual"))
    between("printed_um", printed_um, 1, 1e4)
    found = [*_shape(feature, thickness_um, metal), Limit(printed_um, "smallest that prints", "as entered")]
    if feature == "tab":
        least = thickness_um + 2 * undercut_um(over_etch * thickness_um / 2, factor)
        found.append(Limit(least, "thickness and the undercut of both edges", "common practice, no source"))
    if scan_dpi is not None:
        dots = SCAN_DOTS * 25400 / between("scan_dpi", scan_dpi, 50, 20000)
        found.append(Limit(dots, f"{SCAN_DOTS} dots of the scan", "craft reference A11"))
    return max(found, key=lambda limit: limit.smallest_um)


def _shape(feature: str, t: float, metal: str) -> list[Limit]:
    """The rules of shape that speak about a feature."""
    alloy = metal in COPPER_ALLOYS
    if feature == "hole":
        times = 1.2 if t < 100 else 1.1 if t <= 200 or alloy else 1.0
        found = [Limit(times * t, f"hole at least {times:g} T", RULES_60)]
        return [*found, Limit(75, "hole at least 75 µm", RULES_32)] if t < 125 else found
    if feature == "slot":
        times = 1.2 if t < 100 else 1.1 if t <= 200 or alloy else 1.0
        return [Limit(times * t, f"slot at least {times:g} T", RULES_60)]
    if feature == "web":
        times = 1.0 if t < 125 else 1.25
        return [Limit(times * t, f"web between slots at least {times:g} T", RULES_34)]
    times = {"line": 0.8 if alloy else 1.0, "tab": 1.0, "inside-corner": 1.0, "outside-corner": 0.75}[feature]
    source = RULES_33 if feature.endswith("corner") else RULES_60
    return [Limit(times * t, f"{feature.replace('-', ' ')} at least {times:g} T", source)]
