"""What the trade's arithmetic says to numbers that cannot be: the field, the value, what is allowed and what to do."""

import math

from sumlight.craft.saying import Said, say


class RefusedError(ValueError):
    """A thing that can hurt: not a slip of the pen but a no. The words say why, and what to do instead."""


def number(field: str, value: float) -> float:
    """Give back a finite number. Raises ValueError for anything else."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(say("{field} must be a number, not {value}", field=field, value=value))
    return float(value)


def between(field: str, value: float, low: float, high: float, hint: Said | None = None) -> float:
    """Give back a number from low to high, both allowed. Raises ValueError, with `hint` for what to do."""
    if not low <= number(field, value) <= high:
        told = say(
            "{field} must lie between {low} and {high}, not {value}",
            **_ends(field, value, low, high),
        )
        raise ValueError(_with(told, hint))
    return float(value)


def above(field: str, value: float, low: float, high: float, hint: Said | None = None) -> float:
    """Give back a number above low, up to high. Raises ValueError, with `hint` for what to do."""
    if not low < number(field, value) <= high:
        told = say(
            "{field} must be above {low} and at most {high}, not {value}",
            **_ends(field, value, low, high),
        )
        raise ValueError(_with(told, hint))
    return float(value)


def one_of(field: str, value: str, allowed: tuple[str, ...]) -> str:
    """Give back one of the words allowed. Raises ValueError that lists them."""
    if value not in allowed:
        words = ", ".join(allowed)
        raise ValueError(say("{field} must be one of {words}, not '{value}'", field=field, words=words, value=value))
    return value


def _ends(field: str, value: float, low: float, high: float) -> dict[str, str]:
    return {"field": field, "value": f"{value:g}", "low": f"{low:g}", "high": f"{high:g}"}


def _with(told: Said, hint: Said | None) -> Said:
    return say("{told}: {hint}", told=told, hint=hint) if hint else told
