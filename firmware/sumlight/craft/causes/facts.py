"""What is known of one panel beside its signs. Everything is optional: what nobody knows says nothing."""

import math
from dataclasses import dataclass, fields
from typing import Literal

from sumlight.craft.causes.signs import PLACES, Place
from sumlight.craft.checks import between, one_of

Rest = Literal["short", "kept", "long"]
Contact = Literal["good", "poor"]


@dataclass(frozen=True)
class Facts:
    """Numbers and circumstances of a panel; None is unknown.

    `dose_share` is dose reached over dose wanted, `held_off` the held step less the one wanted, `rest` how the rest
    before developing was kept, `roll_months` the age of the opened roll. `clear_share` is the time to clear over that
    of the fresh bath, `dwell_share` the time in the developer over the time to clear, `developer_used` and
    `etchant_used` the used share of the bath's capacity, `developer_off_c` and `etchant_off_c` how much warmer than
    usual it was. `etch_share` is the time in the etchant over the one expected, `faces_off_um` how far front and back
    lie apart. `same_place` says whether a second panel shows it at the same place.
    Raises ValueError for a number that cannot be, or a word that is not on its list.
    """

    dose_share: float | None = None
    held_off: float | None = None
    rest: Rest | None = None
    roll_months: float | None = None
    contact: Contact | None = None
    faces_off_um: float | None = None
    clear_share: float | None = None
    dwell_share: float | None = None
    developer_used: float | None = None
    developer_off_c: float | None = None
    etch_share: float | None = None
    etchant_used: float | None = None
    etchant_off_c: float | None = None
    place: Place | None = None
    same_place: bool | None = None

    def __post_init__(self) -> None:
        for name, (low, high) in BOUNDS.items():
            value = getattr(self, name)
            if value is not None:
                between(name, value, low, high)
        for name, allowed in WORDS_OF.items():
            word = getattr(self, name)
            if word is not None:
                one_of(name, word, allowed)


BOUNDS = {
    "dose_share": (0.0, 10.0),
    "held_off": (-20.0, 20.0),
    "roll_months": (0.0, 240.0),
    "faces_off_um": (0.0, 20_000.0),
    "clear_share": (0.02, 50.0),
    "dwell_share": (1.0, 50.0),
    "developer_used": (0.0, 5.0),
    "developer_off_c": (-40.0, 60.0),
    "etch_share": (0.02, 50.0),
    "etchant_used": (0.0, 1.0),
    "etchant_off_c": (-60.0, 80.0),
}
"""Slips of the pen lie beyond."""

WORDS_OF = {"rest": ("short", "kept", "long"), "contact": ("good", "poor"), "place": PLACES}

NAMES = tuple(field.name for field in fields(Facts))


def rest_of(rested_s: float, hold_s: float | None, hold_limit_s: float | None) -> Rest:
    """Judge a rest by the recipe's shortest and longest; a tenth short is no matter. Raises ValueError below 0."""
    between("rested_s", rested_s, 0, math.inf)
    if hold_limit_s is not None and rested_s > hold_limit_s:
        return "long"
    return "short" if hold_s is not None and rested_s < 0.9 * hold_s else "kept"
