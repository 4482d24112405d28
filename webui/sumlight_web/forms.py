"""Forms: their inputs, what was typed into them, and every mistake beside the field it belongs to. Pure.

One engine for every form with numbers. Bounds and lengths come from the models that check files and commands.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sumlight import days
from sumlight.bounds import FREE, Bounds, bounds_of, is_whole, longest_of, per_cent, unit_shown
from sumlight.quantity import LONGEST, QuantityError, is_bare, split
from sumlight.quantity import read as read_quantity
from sumlight_web.language import N_, _, reader
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

MISSING = N_("Fill this in.")
MISTAKE = 422
LONG_TEXT = 1500
NUMBERS = ("number", "whole")
APART_C = "Δ°C"
"""The unit of a difference of two temperatures: 1 °C is 1.8 °F, and 0 is 0 (NIST SP 811, B.9)."""

INCH_UNITS = {"mm": "in", "µm": "mil", "°C": "°F", "cm²": "in²", "µm/min": "mil/min", APART_C: "Δ°F"}
"""What a reader of inches types without a unit behind it, for each unit of ours."""

CONVERTED_DIGITS = 5
"""Figures kept of a bare number that was converted: as many as bring back a value that was shown with one more."""


@dataclass(frozen=True)
class Input:
    """One input; `label` and `help` are translated when shown.

    `kind` is text, long, number, whole, day or pick; `bounds` are those of a number, in `unit`, which
    is called `told` where that is given.
    """

    key: str
    label: str
    kind: str = "text"
    unit: str = ""
    help: str = ""
    optional: bool = False
    bounds: Bounds = FREE
    longest: int = 80
    told: str = ""

    @property
    def html_id(self) -> str:
        """An id for the page."""
        return "f-" + self.key.replace("_", "-").replace(".", "-")

    @property
    def numeric(self) -> bool:
        """Whether a number is asked for."""
        return self.kind in NUMBERS

    @property
    def keyboard(self) -> str:
        """The keys that a phone shows: a pad for numbers has neither the colon of 8:00 nor letters for units."""
        return "numeric" if self.kind == "whole" else "text" if self.unit in ("s", "h") else "decimal"

    @property
    def most_typed(self) -> int:
        """Characters that a browser takes into it."""
        return LONGEST if self.numeric else self.longest

    @property
    def typed_unit(self) -> str:
        """The unit of a number that is typed without one: the reader's."""
        return INCH_UNITS.get(self.unit, self.unit) if reader().units == "inch" else self.unit

    @property
    def unit_shown(self) -> str:
        """The unit beside the label."""
        return self.told or unit_shown(self.typed_unit).lstrip("Δ")

    def allowed(self) -> str:
        """The allowed numbers in words; empty where all are."""
        low, high = (
            None if end is None else float(self.converted(end, 4)) for end in (self.bounds.low, self.bounds.high)
        )
        return text_of(Bounds(low, high, self.bounds.above).in_words(self.unit_shown))

    def converted(self, value: float, digits: int = CONVERTED_DIGITS + 1) -> str:
        """A number in the unit of this input as the reader would type it."""
        if self.typed_unit == self.unit:
            return f"{value:.12g}"
        if self.unit == "°C":
            return f"{round(value * 9 / 5 + 32, 4):.{digits}g}"
        if self.unit == APART_C:
            return f"{value * 9 / 5:.{digits}g}"
        return f"{value / read_quantity(f'1 {self.typed_unit}', self.unit):.{digits}g}"

    def proposed(self, value: str) -> str:
        """A proposal, which is in the unit of this input, as the reader would type it; any other text as it is."""
        if self.typed_unit == self.unit or not is_bare(value):
            return value
        return self.converted(read_quantity(value, "" if self.unit == APART_C else self.unit))

    def number(self, typed: str) -> float:
        """What was typed, in the unit of this input. Raises QuantityError."""
        if self.unit == APART_C:
            return self._apart_c(typed)
        if self.typed_unit == self.unit or not is_bare(typed):
            return read_quantity(typed, self.unit, self.bounds, whole=self.kind == "whole", told=self.told)
        found = read_quantity(f"{typed} {self.typed_unit}", self.unit, self.bounds)
        return float(f"{found:.{CONVERTED_DIGITS}g}")

    def _apart_c(self, typed: str) -> float:
        if self.typed_unit == self.unit:
            return read_quantity(typed, "", self.bounds)
        low, high = (None if end is None else end * 9 / 5 for end in (self.bounds.low, self.bounds.high))
        return float(f"{read_quantity(typed, '', Bounds(low, high)) * 5 / 9:.{CONVERTED_DIGITS}g}")

    def several(self, typed: str, count: int) -> list[float]:
        """`count` numbers that were typed into one input, in its unit. Raises QuantityError."""
        return [self.number(part) for part in split(typed, count)]


def quantity(
    model: Any, name: str, label: str, unit: str = "", help: str = "", *, key: str = "", optional: bool = False
) -> Input:
    """The input of a number whose bounds `model` states at `name` (dotted for a part of it).

    With "%" as the unit of what the model holds as a share, per cent are typed.
    """
    bounds = bounds_of(model, name)
    if unit == "%" and (bounds.high or 0) <= 1:
        bounds = per_cent(bounds)
    kind = "whole" if is_whole(model, name) else "number"
    return Input(key or name, label, kind, unit, help, optional, bounds)


def text(model: Any, name: str, label: str, help: str = "", *, kind: str = "text", optional: bool = False) -> Input:
    """The input of a text whose length `model` bounds at `name`."""
    return Input(name, label, kind, "", help, optional, FREE, longest_of(model, name))


@dataclass
class Form:
    """What was typed, and the mistakes by field key (`""`: the form as a whole); `status` is that of the answer.

    `numbers` are those that could be read, in the unit of their input, and `days` are as ISO 8601.
    """

    inputs: tuple[Input, ...]
    values: dict[str, str] = field(default_factory=dict)
    errors: dict[str, list[str]] = field(default_factory=dict)
    status: int = 200
    numbers: dict[str, float] = field(default_factory=dict)
    days: dict[str, str] = field(default_factory=dict)

    def add(self, key: str, message: str, status: int = MISTAKE) -> None:
        """Note a mistake; one about a field that this form has not belongs to the form as a whole."""
        known = key if any(each.key == key for each in self.inputs) else ""
        self.errors.setdefault(known, []).append(sentence(message))
        self.status = max(self.status, status)

    def input(self, key: str) -> Input:
        """The input of that key. Raises KeyError."""
        return next((each for each in self.inputs if each.key == key), None) or _no_input(key)

    def wrong(self) -> list[Input]:
        """The inputs that need attention, in order."""
        return [each for each in self.inputs if each.key in self.errors]

    def text(self, key: str) -> str:
        """What was typed."""
        return self.values.get(key, "")

    def number(self, key: str) -> float | None:
        """A checked number; None when it is empty or wrong."""
        return self.numbers.get(key) if key not in self.errors else None

    def day(self, key: str) -> str:
        """A day that was typed, as ISO 8601; empty when there is none, or it is wrong."""
        return self.days.get(key, "")

    def required_number(self, key: str) -> float:
        """A number of a form without mistakes that may not stay empty. Raises KeyError otherwise."""
        return self.numbers[key]

    def required_whole(self, key: str) -> int:
        """The same, whole."""
        return int(self.numbers[key])


def _no_input(key: str) -> Input:
    raise KeyError(key)


def blank(inputs: Sequence[Input], **values: str) -> Form:
    """A form that nobody has filled in, with proposals in the units of its inputs."""
    return Form(tuple(inputs), values | proposals(inputs, values))


def proposals(inputs: Sequence[Input], values: Mapping[str, str]) -> dict[str, str]:
    """Proposals as the reader would type them."""
    return {each.key: each.proposed(values[each.key]) for each in inputs if each.key in values}


def read(inputs: Sequence[Input], typed: Mapping[str, str]) -> Form:
    """Take in what was typed and check everything that needs no box to check."""
    form = Form(tuple(inputs), {each.key: _tidy(typed.get(each.key, "")) for each in inputs})
    for each in inputs:
        value = form.values[each.key]
        if not value:
            if not each.optional:
                form.add(each.key, _("Choose one.") if each.kind == "pick" else _(MISSING))
        elif each.numeric:
            try:
                form.numbers[each.key] = each.number(value)
            except QuantityError as error:
                form.add(each.key, text_of(error.message))
        elif each.kind == "day":
            try:
                form.days[each.key] = days.read(value).isoformat()
            except days.DayError as error:
                form.add(each.key, text_of(error.message))
        elif each.kind in ("text", "long") and len(value) > each.longest:
            form.add(each.key, _("At most {n} characters; this has {m}.", n=each.longest, m=len(value)))
    return form


def cut(text: str) -> str:
    """Short enough to be quoted."""
    return text if len(text) <= 30 else text[:29] + "…"


def _tidy(text: str) -> str:
    return text.replace("\r\n", "\n").strip()
