"""Forms of Light: their inputs, what was typed into them, and every mistake beside the field it belongs to. Pure."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sumlight_web.language import N_, _
from sumlight_web.words import sentence

NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?\Z", re.ASCII)
WHOLE = re.compile(r"-?\d{1,9}\Z", re.ASCII)
MISSING = N_("Fill this in.")
MISTAKE = 422


@dataclass(frozen=True)
class Input:
    """One input; `label` and `help` are translated when shown.

    `kind` is text, long, number, whole or pick; `low` and `high` bound a number in its shown unit.
    """

    key: str
    label: str
    kind: str = "number"
    unit: str = ""
    help: str = ""
    optional: bool = False
    low: float | None = None
    high: float | None = None

    @property
    def html_id(self) -> str:
        """An id for the page."""
        return "f-" + self.key.replace("_", "-")

    def bounds(self) -> str:
        """The allowed numbers in words."""
        if self.low is not None and self.high is not None:
            return _("from {low} to {high}", low=format(self.low, "g"), high=format(self.high, "g"))
        if self.low is not None:
            return _("{low} or more", low=format(self.low, "g"))
        return _("at most {high}", high=format(self.high, "g"))


@dataclass
class Form:
    """What was typed, and the mistakes by field key (`""`: the form as a whole); `status` is that of the answer."""

    inputs: tuple[Input, ...]
    values: dict[str, str] = field(default_factory=dict)
    errors: dict[str, list[str]] = field(default_factory=dict)
    status: int = 200

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
        value = self.values.get(key, "")
        return float(value) if value and key not in self.errors else None

    def sure_number(self, key: str) -> float:
        """A number of a form without mistakes that may not stay empty. Raises ValueError otherwise."""
        return float(self.values[key])

    def sure_whole(self, key: str) -> int:
        """The same, whole."""
        return int(self.values[key])


def _no_input(key: str) -> Input:
    raise KeyError(key)


def blank(inputs: Sequence[Input], **values: str) -> Form:
    """A form that nobody has filled in, with proposals."""
    return Form(tuple(inputs), dict(values))


def read(inputs: Sequence[Input], typed: Mapping[str, str]) -> Form:
    """Take in what was typed and check everything that needs no box to check."""
    form = Form(tuple(inputs), {each.key: _tidy(typed.get(each.key, "")) for each in inputs})
    for each in inputs:
        value = form.values[each.key]
        if not value:
            if not each.optional:
                form.add(each.key, _("Choose one.") if each.kind == "pick" else _(MISSING))
        elif each.kind in ("number", "whole"):
            _check_number(form, each, value)
    return form


def shown(value: float, places: int = 4) -> str:
    """A number as a form takes it: never with an exponent."""
    return f"{value:.{places}f}".rstrip("0").rstrip(".")


def cut(text: str) -> str:
    """Short enough to be quoted."""
    return text if len(text) <= 30 else text[:29] + "…"


def _check_number(form: Form, each: Input, value: str) -> None:
    if each.kind == "whole" and not WHOLE.match(value):
        form.add(each.key, _("'{typed}' is not a whole number. Write one such as 8.", typed=cut(value)))
    elif not NUMBER.match(value):
        form.add(each.key, _("'{typed}' is not a number. Write it with a point, such as 12.5.", typed=cut(value)))
    elif not (each.low is None or each.low <= float(value)) or not (each.high is None or float(value) <= each.high):
        allowed = f"{each.bounds()} {each.unit}".strip()
        form.add(each.key, _("{typed} is not possible here: {allowed}.", typed=cut(value), allowed=allowed))


def _tidy(text: str) -> str:
    return text.replace("\r\n", "\n").strip()
