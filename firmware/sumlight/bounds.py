"""What a number may be, as the models of files and commands state it. Pure."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

BOUNDS_WORDS: Final = {
    "from_to": "from {low} to {high}",
    "above_to": "more than {low}, at most {high}",
    "from": "{low} or more",
    "above": "more than {low}",
    "to": "at most {high}",
}
"""What is allowed, in English."""

Translate = Callable[..., str]
"""Fills `{names}` in a text, in some language."""


@dataclass(frozen=True)
class Bounds:
    """What a number may be: from `low` (or above it) to `high`; None where nothing bounds it."""

    low: float | None = None
    high: float | None = None
    above: bool = False

    def allow(self, value: float) -> bool:
        """Whether `value` lies within."""
        if self.low is not None and (value < self.low or (self.above and value == self.low)):
            return False
        return self.high is None or value <= self.high

    def in_words(self, unit: str = "", translate: Translate | None = None) -> str:
        """Such as "from 0.5 to 3600 s"; empty where there are none."""
        known = ("above" if self.above else "from") if self.low is not None else ""
        known += "_to" if known and self.high is not None else "to" if self.high is not None else ""
        if not known:
            return ""
        ends = {"low": _plain(self.low or 0.0), "high": _plain(self.high or 0.0)}
        words = (translate or str.format)(BOUNDS_WORDS[known], **ends)
        return f"{words} {unit_shown(unit)}".strip()


FREE: Final = Bounds()


def unit_shown(unit: str) -> str:
    """A unit as it is written behind a number; shares have none."""
    return "" if unit == "share" else unit


def bounds_of(model: Any, key: str) -> Bounds:
    """The bounds of a number that a pydantic model states; `key` may be dotted (`transmission.a`). Raises KeyError."""
    name, _, rest = key.partition(".")
    field = model.model_fields[name]
    if rest:
        return bounds_of(next(part for part in _within(field.annotation) if hasattr(part, "model_fields")), rest)
    rules = [*field.metadata, *(rule for part in _within(field.annotation) for rule in _rules(part))]
    low, above, high = (_first(rules, name) for name in ("ge", "gt", "le"))
    return Bounds(low if above is None else above, high, above is not None)


def is_whole(model: Any, key: str) -> bool:
    """Whether a pydantic model takes whole numbers at `key` (may be dotted). Raises KeyError."""
    name, _, rest = key.partition(".")
    parts = _within(model.model_fields[name].annotation)
    return is_whole(next(part for part in parts if hasattr(part, "model_fields")), rest) if rest else int in parts


def longest_of(model: Any, key: str) -> int:
    """Characters that a pydantic model allows for a text. Raises KeyError, StopIteration where it bounds none."""
    field = model.model_fields[key]
    return int(next(rule.max_length for rule in field.metadata if getattr(rule, "max_length", None) is not None))


def per_cent(share: Bounds) -> Bounds:
    """The bounds of a share for a field in per cent."""
    low, high = (None if end is None else float(Fraction(str(end)) * 100) for end in (share.low, share.high))
    return Bounds(low, high, share.above)


def _within(annotation: Any) -> list[Any]:
    """An annotation and, of a choice of several or one with metadata, its parts."""
    inner = [part for arg in getattr(annotation, "__args__", ()) for part in _within(arg)]
    return [annotation, *inner]


def _rules(annotation: Any) -> list[Any]:
    return [one for rule in getattr(annotation, "__metadata__", ()) for one in (*getattr(rule, "metadata", ()), rule)]


def _first(rules: list[Any], name: str) -> float | None:
    return next((getattr(rule, name) for rule in rules if getattr(rule, name, None) is not None), None)


def _plain(value: float) -> str:
    text = f"{value:.9f}"
    return text.rstrip("0").rstrip(".")
