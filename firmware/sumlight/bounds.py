"""What a number may be, as the models of files and commands state it. Pure."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final, Literal, get_args, get_origin

from sumlight.text.message import Message, as_written, say


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

    def in_words(self, unit: str = "") -> Message:
        """Such as "from 0.5 to 3600 s"; empty where there are none."""
        allowed, unit = self._allowed(), unit_shown(unit)
        return say("in_unit", allowed=allowed, unit=unit) if allowed and unit else allowed

    def _allowed(self) -> Message:
        low, high = self.low or 0.0, self.high or 0.0
        match self.low is not None, self.high is not None:
            case True, True:
                return say("above_to", low=low, high=high) if self.above else say("from_to", low=low, high=high)
            case True, False:
                return say("above", low=low) if self.above else say("from", low=low)
            case False, True:
                return say("at_most", high=high)
        return as_written("")


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


def choices_of(model: Any, key: str) -> tuple[Any, ...]:
    """The words of which a pydantic model takes one. Raises KeyError, StopIteration where it takes any."""
    parts = _within(model.model_fields[key].annotation)
    return get_args(next(part for part in parts if get_origin(part) is Literal))


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
