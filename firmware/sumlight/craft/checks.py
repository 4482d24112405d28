"""What the trade's arithmetic says to numbers that cannot be: the field, the value, what is allowed and what to do."""

import math

from sumlight.text.message import Message, say


class RefusedError(ValueError):
    """A thing that can hurt: not a slip of the pen but a no. The words say why, and what to do instead."""


def number(field: str, value: float) -> float:
    """Give back a finite number. Raises ValueError for anything else. `value` may be in any unit."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(say("sum_not_a_number", field=field, value=str(value)))
    return float(value)


def between(field: str, value: float, low: float, high: float, hint: Message | None = None) -> float:
    """Give back a number from low to high, both allowed. Raises ValueError, with `hint` for what to do.

    `value`, `low` and `high` are in one unit.
    """
    if not low <= number(field, value) <= high:
        told = say("sum_not_between", field=field, value=value, low=low, high=high)
        raise ValueError(_with(told, hint))
    return float(value)


def above(field: str, value: float, low: float, high: float, hint: Message | None = None) -> float:
    """Give back a number above low, up to high. Raises ValueError, with `hint` for what to do.

    `value`, `low` and `high` are in one unit.
    """
    if not low < number(field, value) <= high:
        told = say("sum_not_above", field=field, value=value, low=low, high=high)
        raise ValueError(_with(told, hint))
    return float(value)


def one_of(field: str, value: str, allowed: tuple[str, ...]) -> str:
    """Give back one of the words allowed. Raises ValueError that lists them."""
    if value not in allowed:
        raise ValueError(say("sum_not_one_of", field=field, words=allowed, value=value))
    return value


def _with(told: Message, hint: Message | None) -> Message:
    return say("sum_with_hint", told=told, hint=hint) if hint else told
