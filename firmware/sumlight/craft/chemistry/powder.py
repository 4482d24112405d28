"""Which soda powder is it? Asked before anything is weighed: the wrong one makes a developer that does nothing.

10 g of crystals in a litre are only 3.7 g of soda; kitchen soda is bicarbonate and does not develop at all.
"""

from dataclasses import dataclass

from sumlight.craft.checks import above, between, one_of
from sumlight.craft.chemistry.substances import grams_out
from sumlight.text.message import Message, say

ANSWERS = ("dry-powder", "clear-crystals", "white-and-crumbly", "unknown")
SHARES = {
    "anhydrous": 1.0,
    "monohydrate": grams_out("monohydrate in the oven", "Na2CO3", "Na2CO3(H2O)"),
    "bicarbonate": grams_out("bicarbonate in the oven", "Na2CO3", "NaHCO3"),
    "crystals": grams_out("crystals in the oven", "Na2CO3", "Na2CO3(H2O)10"),
}
"""What a gram leaves in the oven, by stoichiometry: 1, 0.85, 0.63, 0.37."""

KINDS = {
    "anhydrous": say("dry_soda"),
    "monohydrate": say("soda_monohydrate"),
    "bicarbonate": say("bicarbonate"),
    "crystals": say("soda_crystals"),
}
WEIGHED_G = (1.0, 1e4)
WINDOW = 0.03
"""How near a residue must come to be called by name: scales of 0.1 g, 10 g of powder (common practice, no source)."""
OVEN_CHECK = say("oven_check")
"""Temperature and time from memory: bicarbonate falls apart above about 100 °C, slowly."""
STRIP_RULES = say("strip_overrules")


@dataclass(frozen=True)
class Powder:
    """What a gram of the powder at hand counts for: `share` in grams of dry soda, None while it must not be used."""

    share: float | None
    kind: str
    sentence: Message


def powder_of(answer: str) -> Powder:
    """Answer the question which powder it is.

    Dry powder counts as anhydrous: if it is the monohydrate the bath is 15 % weaker, which does no harm. The last two
    answers need the oven check first. Raises ValueError for any other word.
    """
    one_of("powder", answer, ANSWERS)
    if answer == "dry-powder":
        words = say("powder_dry")
        return Powder(SHARES["anhydrous"], "anhydrous", words)
    if answer == "clear-crystals":
        words = say("powder_clear_crystals")
        return Powder(SHARES["crystals"], "crystals", words)
    if answer == "white-and-crumbly":
        said = say("powder_gone_white", check=OVEN_CHECK)
    else:
        said = say("powder_unknown", check=OVEN_CHECK)
    return Powder(None, "unknown", said)


def powder_of_oven(before_g: float, after_g: float) -> Powder:
    """Read the oven check: grams before and after, without the tray.

    Near 63 % it stays unusable as it is: half-dried crystals leave that much too, and bicarbonate does not develop.
    Raises ValueError for a weight that rose, or for too little to weigh.
    """
    above("before_g", before_g, *WEIGHED_G, say("hint_weigh_more"))
    hint = say("hint_gained_weight")
    between("after_g", after_g, 0, before_g * 1.005, hint)
    left = after_g / before_g
    near = min(SHARES, key=lambda kind: abs(SHARES[kind] - left))
    near = near if abs(SHARES[near] - left) <= WINDOW else ""
    percent = 100 * left
    if left < SHARES["crystals"] - WINDOW:
        told = say("oven_too_little", percent=percent)
        return Powder(None, "unknown", told)
    if near == "bicarbonate":
        told = say(
            "oven_bicarbonate",
            percent=percent,
        )
        return Powder(None, "bicarbonate", told)
    if near:
        return Powder(min(left, 1.0), near, say("oven_kind", percent=percent, kind=KINDS[near]))
    told = say(
        "oven_between",
        percent=percent,
    )
    return Powder(left, "between", told)
