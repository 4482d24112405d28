"""What is too small for a thickness: holes, slots, lines, tabs, corners. Each limit names the rule that it comes from.

Rules as makers of such parts publish them (craft reference A9, reference values §7); they differ a little, and the
larger holds. Lengths in µm, T is the sheet's thickness.
"""

from dataclasses import dataclass

from sumlight.craft.checks import between, one_of
from sumlight.craft.etching.factor import SHEET_UM, undercut_um
from sumlight.text.message import Message, say

FEATURES = ("hole", "slot", "line", "web", "tab", "inside-corner", "outside-corner")
"""A web is metal in a field of slots; a tab holds a part in its frame; corners are radii."""
COPPER_ALLOYS = ("copper", "brass", "bronze", "nickel-silver")
RULES_60 = say("source_rules_60")
RULES_32 = say("source_rules_32")
RULES_33 = say("source_rules_33")
RULES_34 = say("source_rules_34")
SCAN_SOURCE = say("source_scan")
AS_ENTERED = say("source_as_entered")
COMMON_PRACTICE = say("source_common_practice")
SCAN_DOTS = 5
"""A feature needs that many dots of a scan to be found (craft reference A11)."""
PRINTED = (0.98, 1.02)
"""So much longer or shorter does a printer make a length (common practice, no source)."""
MOST_BIAS_UM = 200.0
"""So far film and light may move an edge."""
SPECK_UM, LARGEST_SPECK_UM = 100.0, 2000.0
"""Dust and pinholes are smaller, what somebody drew is larger (common practice, no source); and the most to ask for."""
BORDER_MM, WIDEST_BORDER_MM = 10.0, 50.0
"""Of metal around a drawing, to hold and tape: what is usual (common practice, no source), and the most."""
MOST_TABS = 12
"""For each piece that falls out."""


@dataclass(frozen=True)
class Limit:
    """The smallest that works, and why: the rule's name and its source."""

    smallest_um: float
    rule: Message
    source: Message


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
    between("thickness_um", thickness_um, *SHEET_UM, say("hint_sheet_um"))
    between("printed_um", printed_um, 1, 1e4)
    found = [*_shape(feature, thickness_um, metal), Limit(printed_um, say("rule_smallest_print"), AS_ENTERED)]
    if feature == "tab":
        least = thickness_um + 2 * undercut_um(over_etch * thickness_um / 2, factor)
        found.append(Limit(least, say("rule_tab"), COMMON_PRACTICE))
    if scan_dpi is not None:
        dots = SCAN_DOTS * 25400 / between("scan_dpi", scan_dpi, 50, 20000)
        found.append(Limit(dots, say("rule_scan_dots", dots=SCAN_DOTS), SCAN_SOURCE))
    return max(found, key=lambda limit: limit.smallest_um)


def _shape(feature: str, t: float, metal: str) -> list[Limit]:
    """The rules of shape that speak about a feature."""
    alloy = metal in COPPER_ALLOYS
    if feature == "hole":
        times = 1.2 if t < 100 else 1.1 if t <= 200 or alloy else 1.0
        found = [Limit(times * t, say("rule_hole", times=times), RULES_60)]
        return [*found, Limit(75, say("rule_hole_75_um"), RULES_32)] if t < 125 else found
    if feature == "slot":
        times = 1.2 if t < 100 else 1.1 if t <= 200 or alloy else 1.0
        return [Limit(times * t, say("rule_slot", times=times), RULES_60)]
    if feature == "web":
        times = 1.0 if t < 125 else 1.25
        return [Limit(times * t, say("rule_web", times=times), RULES_34)]
    times = {"line": 0.8 if alloy else 1.0, "tab": 1.0, "inside-corner": 1.0, "outside-corner": 0.75}[feature]
    rule = {
        "line": say("rule_line", times=times),
        "tab": say("rule_tab_thickness", times=times),
        "inside-corner": say("rule_inside_corner", times=times),
        "outside-corner": say("rule_outside_corner", times=times),
    }[feature]
    return [Limit(times * t, rule, RULES_33 if feature.endswith("corner") else RULES_60)]
