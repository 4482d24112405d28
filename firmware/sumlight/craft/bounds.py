"""What the trade's arithmetic says to numbers that cannot be: the field, the value, what is allowed and what to do."""

import math


class RefusedError(ValueError):
    """A thing that can hurt: not a slip of the pen but a no. The words say why, and what to do instead."""


def number(field: str, value: float) -> float:
    """Give back a finite number. Raises ValueError for anything else."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{field} must be a number, not {value}")
    return float(value)


def between(field: str, value: float, low: float, high: float, hint: str = "") -> float:
    """Give back a number from low to high, both allowed. Raises ValueError, with `hint` for what to do."""
    if not low <= number(field, value) <= high:
        raise ValueError(_words(field, value, f"must lie between {low:g} and {high:g}", hint))
    return float(value)


def above(field: str, value: float, low: float, high: float, hint: str = "") -> float:
    """Give back a number above low, up to high. Raises ValueError, with `hint` for what to do."""
    if not low < number(field, value) <= high:
        raise ValueError(_words(field, value, f"must be above {low:g} and at most {high:g}", hint))
    return float(value)


def one_of(field: str, value: str, allowed: tuple[str, ...]) -> str:
    """Give back one of the words allowed. Raises ValueError that lists them."""
    if value not in allowed:
        raise ValueError(f"{field} must be one of {', '.join(allowed)}, not '{value}'")
    return value


def _words(field: str, value: float, allowed: str, hint: str) -> str:
    return f"{field} {allowed}, not {value:g}" + (f": {hint}" if hint else "")
