"""What a person tells of a panel, in the units they measure in, and the facts that the table weighs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.craft.causes.facts import BOUNDS, Contact, Facts, rest_of
from sumlight.craft.causes.signs import Place


@dataclass(frozen=True)
class Known:
    """What somebody told of a panel; everything may be None. Times in s, temperatures in °C above the usual ones.

    `held_step` is the last held one, `wanted_step` the one that should be. `clear_s` is the time to clear,
    `fresh_clear_s` that of the fresh bath, `developed_s` the whole time in the developer. `etched_s` and
    `expected_etch_s` are the time in the etchant and the planned one. Used shares are of the bath's capacity.
    """

    place: Place | None = None
    same_place: bool | None = None
    held_step: float | None = None
    wanted_step: float | None = None
    contact: Contact | None = None
    faces_off_um: float | None = None
    roll_months: float | None = None
    rested_s: float | None = None
    clear_s: float | None = None
    fresh_clear_s: float | None = None
    developed_s: float | None = None
    developer_used: float | None = None
    developer_warmer_c: float | None = None
    etched_s: float | None = None
    expected_etch_s: float | None = None
    etchant_used: float | None = None
    etchant_warmer_c: float | None = None


def facts_of(
    known: Known, doses: Sequence[tuple[float, float]] = (), hold_s: float | None = None, limit_s: float | None = None
) -> Facts:
    """Put together what was told and what the record knows.

    `doses` are reached and wanted in mJ/cm² of each side: the one farthest off counts. `hold_s` and `limit_s` are the
    recipe's shortest and longest rest. Raises ValueError for a number that cannot be.
    """
    return Facts(
        dose_share=_farthest(doses),
        held_off=_difference(known.held_step, known.wanted_step),
        rest=None if known.rested_s is None else rest_of(known.rested_s, hold_s, limit_s),
        roll_months=known.roll_months,
        contact=known.contact,
        faces_off_um=known.faces_off_um,
        clear_share=_share("clear_share", known.clear_s, known.fresh_clear_s),
        dwell_share=_share("dwell_share", known.developed_s, known.clear_s),
        developer_used=known.developer_used,
        developer_off_c=known.developer_warmer_c,
        etch_share=_share("etch_share", known.etched_s, known.expected_etch_s),
        etchant_used=known.etchant_used,
        etchant_off_c=known.etchant_warmer_c,
        place=known.place,
        same_place=known.same_place,
    )


def _farthest(doses: Sequence[tuple[float, float]]) -> float | None:
    shares = [reached / wanted for reached, wanted in doses if wanted > 0]
    if not shares:
        return None
    return _within("dose_share", max(shares, key=lambda share: abs(math.log(max(share, 1e-3)))))


def _difference(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other


def _share(name: str, part: float | None, whole: float | None) -> float | None:
    return _within(name, part / whole) if part and whole else None


def _within(name: str, value: float) -> float:
    """What lies beyond the bounds of a fact as its nearest bound: two times do not belong together there."""
    low, high = BOUNDS[name]
    return min(high, max(low, value))
