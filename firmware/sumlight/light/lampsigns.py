"""Signs by which lamps of another kind are told where the sensor sees no colour. Pure.

A UV sensor counts UV-A whatever gives it, and answers tubes and LEDs of the same dose differently by tens of per cent.
What it does see: a tube takes its time to strike and ripples with the mains, an LED does neither; and clear glass lets
out UV-B that dark glass keeps. Each is compared with the lamps of the calibration, never with a rule for all lamps: a
tube on an electronic ballast starts at once and does not ripple.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Literal

AT_ONCE_S, SLOWLY_S = 0.3, 0.5
"""Lamps that gave light sooner than the one do not start like lamps that took longer than the other. An LED's light is
seen after two conversions, a starter takes more than half a second (common practice, no source)."""
RIPPLES, STILL = 0.004, 0.25
"""Swing of successive conversions from which lamps ripple, and the share of another's swing below which they do not."""
FEWEST_FOR_SWING = 20
UV_B_APART, UV_B_SHARE = 0.003, 0.3
"""Change of UV-B over UV-A that no ageing makes: so much, and so much of the larger one (judgement, no source)."""
FEWEST_COUNTS = 500.0
UNLIKE_LN_SIGMA = 0.3
"""Standard uncertainty (ln) of a calibration made with other lamps, as for new lamps without one (common practice, no
source)."""
UNSEEN_LAMPS_SIGMA = 0.5
"""The same of box.yaml's number where the sensor sees no colour: nothing tells it lamps of another kind, and from 365
to 405 nm its answer falls to less than half beside a resist's (judgement from its published response, no source). And
of a calibration under LEDs: others that give as much UV-A start alike, do not ripple and hold no UV-B either."""

Sign = Literal["start", "ripple", "uv_b"]


@dataclass(frozen=True)
class LampSigns:
    """Of one light: how long after switching on it was seen, how far successive conversions lie apart (relative
    standard deviation), UV-B over UV-A in counts, and violet as a colour sensor beside it sees it over UV-A, in basic
    counts. None is what could not be told."""

    struck_after_s: float | None = None
    swing: float | None = None
    uv_b_share: float | None = None
    violet_share: float | None = None
    uv_a_level: float | None = None


SIGNS = tuple(field.name for field in fields(LampSigns))


def signs_in(record: object) -> LampSigns | None:
    """The signs as a record keeps them; None from one that holds none, or was changed by hand."""
    if not isinstance(record, dict):
        return None
    values = {name: record.get(name) for name in SIGNS}
    if any(value is not None and not isinstance(value, int | float) for value in values.values()):
        return None
    return LampSigns(**values)


def swing(values: Sequence[float]) -> float | None:
    """Relative standard deviation of what changes from one conversion to the next; None for too few.

    From second differences, whose variance is six times that of white noise (1 + 4 + 1), so that lamps which warm up
    do not count. Conversions that are no whole number of mains periods alias the ripple into it.
    `values` are light in any unit, one for all.
    """
    if len(values) < FEWEST_FOR_SWING:
        return None
    mean = math.fsum(values) / len(values)
    if mean <= 0:
        return None
    bends = [a - 2 * b + c for a, b, c in zip(values, values[1:], values[2:], strict=False)]
    return math.sqrt(math.fsum(bend * bend for bend in bends) / len(bends) / 6) / mean


def unlike(now: LampSigns, then: LampSigns) -> list[Sign]:
    """What tells these lamps from those of then."""
    found: list[Sign] = []
    if now.struck_after_s is not None and then.struck_after_s is not None:
        early, late = sorted((now.struck_after_s, then.struck_after_s))
        if early < AT_ONCE_S and late > SLOWLY_S:
            found.append("start")
    if now.swing is not None and then.swing is not None:
        low, high = sorted((now.swing, then.swing))
        if high > RIPPLES and low < STILL * high:
            found.append("ripple")
    if now.uv_b_share is not None and then.uv_b_share is not None:
        low, high = sorted((now.uv_b_share, then.uv_b_share))
        if high - low > UV_B_APART + UV_B_SHARE * max(0.0, high):
            found.append("uv_b")
    return found


def surely_others(signs: Sequence[Sign]) -> bool:
    """Whether lamps with these signs are others: UV-B, or two; one of the rest alone may be a ballast's doing."""
    return "uv_b" in signs or len(signs) > 1
