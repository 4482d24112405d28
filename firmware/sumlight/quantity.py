"""Numbers as people type them, in forms and on the command line: units, times, a decimal comma or point. Pure.

Files are another matter: they hold plain decimals only (see `checkedfile`).
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from sumlight.bounds import FREE, Bounds, unit_shown
from sumlight.text.message import Message, say

LONGEST: Final = 60
"""Characters that a quantity may have; whoever types more has slipped."""


class QuantityError(ValueError):
    """What was typed is no quantity that may stand here; `message` says what is wrong with it."""

    def __init__(self, message: Message) -> None:
        self.message = message
        super().__init__(message)


# -- units ------------------------------------------------------------------------------------------------------------

_TIMES = {
    1: ("s", "sec", "secs", "second", "seconds", "sek", "sekunde", "sekunden"),
    60: ("min", "mins", "minute", "minutes", "minuten", "m"),
    3600: ("h", "hr", "hrs", "hour", "hours", "std", "stunde", "stunden"),
    86_400: ("d", "day", "days", "tag", "tage"),
}
_DOSES = {
    Fraction(1): ("mj/cm2", "mjcm-2", "mj"),
    Fraction(1000): ("j/cm2", "jcm-2"),
    Fraction(1, 1000): ("μj/cm2", "uj/cm2"),
    Fraction(1, 10): ("j/m2", "jm-2"),
    Fraction(100): ("kj/m2",),
}
_LIGHTS = {
    Fraction(1): ("mw/cm2", "mwcm-2", "mw"),
    Fraction(1000): ("w/cm2", "wcm-2"),
    Fraction(1, 1000): ("μw/cm2", "uw/cm2"),
    Fraction(1, 10): ("w/m2", "wm-2"),
}
_LENGTHS = {  # in µm; an inch is 25.4 mm by definition
    Fraction(1): ("μm", "um", "micron", "microns", "micrometre", "micrometer", "mikrometer"),
    Fraction(1000): ("mm", "millimetre", "millimetres", "millimeter"),
    Fraction(10_000): ("cm",),
    Fraction(1_000_000): ("m",),
    Fraction(25_400): ("in", "inch", "inches", "zoll", '"', "''", "′′", "”"),
    Fraction(254, 10): ("mil", "mils", "thou"),
}
_VOLUMES = {  # in litres; a US gallon is 231 cubic inches, a fluid ounce its 128th part
    Fraction(1): ("l", "litre", "litres", "liter"),
    Fraction(1, 10): ("dl",),
    Fraction(1, 100): ("cl",),
    Fraction(1, 1000): ("ml", "millilitre", "millilitres", "milliliter", "cm3"),
    Fraction(3_785_411_784, 10**9): ("gal", "gallon", "gallons"),
    Fraction(3_785_411_784, 128 * 10**9): ("floz",),
}
_AREAS = {
    Fraction(1): ("cm2",),
    Fraction(100): ("dm2",),
    Fraction(1, 100): ("mm2",),
    Fraction(64_516, 10_000): ("in2", "sqin"),
}
_RATES = {
    Fraction(1): ("μm/min", "um/min"),
    Fraction(60): ("μm/s", "um/s"),
    Fraction(254, 10): ("mil/min",),
}
_PARTS = {
    Fraction(1): ("%", "percent", "per cent", "prozent", "pct"),
    Fraction(1, 10): ("‰", "permille"),
}


def _scaled(table: Mapping[Any, tuple[str, ...]], base: Any = 1) -> dict[str, Fraction]:
    return {_folded(name): Fraction(factor) / Fraction(base) for factor, names in table.items() for name in names}


def _folded(unit: str) -> str:
    """A unit as the tables know it: `mJ/cm²`, `mJ / cm^2` and `mj·cm⁻²` are one."""
    plain = unicodedata.normalize("NFKC", unit).casefold().replace("\u2212", "-")
    return re.sub(r"[\s^·*⋅.]", "", plain)


@dataclass(frozen=True)
class _Kind:
    """How one unit of ours is typed: factors by spelling, and what to propose when something else was."""

    factors: Mapping[str, Fraction]
    proposes: str
    example: str = "12.5"
    is_time: bool = False


_KINDS: Final = {
    "": _Kind({}, ""),
    "s": _Kind(_scaled(_TIMES), "s, min, h", "480", True),
    "h": _Kind(_scaled(_TIMES, 3600), "h, min", "120.5"),
    "days": _Kind(_scaled(_TIMES, 86_400), "d, h", "30"),
    "mJ/cm²": _Kind(_scaled(_DOSES), "mJ/cm², J/cm²", "60"),
    "mW/cm²": _Kind(_scaled(_LIGHTS), "mW/cm², W/m²", "4.2"),
    "µm": _Kind(_scaled(_LENGTHS), "µm, mm, mil, in", "38"),
    "mm": _Kind(_scaled(_LENGTHS, 1000), "mm, cm, in", "120"),
    "%": _Kind(_scaled(_PARTS), "%", "90"),
    "share": _Kind(_scaled(_PARTS, 100), "%", "0.9"),
    "L": _Kind(_scaled(_VOLUMES), "L, mL, gal", "1"),
    "cm²": _Kind(_scaled(_AREAS), "cm², dm², mm², in²", "120"),
    "µm/min": _Kind(_scaled(_RATES), "µm/min, mil/min", "10"),
    "g/L": _Kind({"g/l": Fraction(1)}, "g/L", "50"),
    "°C": _Kind({}, "°C, °F", "23"),
    "°": _Kind({"°": Fraction(1), "deg": Fraction(1), "degrees": Fraction(1), "grad": Fraction(1)}, "°", "12"),
}
"""Every unit that a field of ours can have. A `share` is a part of one, which people also give in per cent."""

_CELSIUS = ("°c", "c", "celsius", "oc", "degc", "gradc", "gradcelsius")
_FAHRENHEIT = ("°f", "f", "fahrenheit", "of", "degf")
_LIKE_A_UNIT = re.compile(r"(?![a-zA-Z_]{1,2}[+-]?\d)[^\W\d_²³]|[%°‰\"'″”]")
"""Not what follows the 1 of 1e3, 0x10 or 1_000."""
_LEAST_PER_CENT = 10
"""A bare number from here on, typed for a share, is per cent: 85 means 85 %. An 8 may be 8 % or a slip for 0.8."""


# -- numbers ----------------------------------------------------------------------------------------------------------

_NUMBER = re.compile(r"[+-]?(?:\d[\d.,' ]*|[.,]\d+)", re.ASCII)
_WHOLE = re.compile(r"[1-9]\d{0,2}(?:([.,' ])\d{3})(?:\1\d{3})*", re.ASCII)
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,4}):([0-5]\d(?:[.,]\d{1,6})?)(?: ?(min|h))?", re.ASCII | re.IGNORECASE)


def number_readings(text: str) -> tuple[Fraction, ...]:
    """What an unsigned number can mean: nothing, one value, or two, the decimal first.

    Two only where its one separator, a comma or a point, has a group of exactly three digits behind it and a group
    of one to three before it that begins with no 0: 1,250 is 1.25 to some and 1250 to others.
    """
    marks = [letter for letter in text if not letter.isdigit()]
    if not marks:
        return (Fraction(text),)
    last = marks[-1]
    head, _, tail = text.rpartition(last)
    found = []
    if last in ".," and tail and last not in head and (not head or head.isdigit() or _WHOLE.fullmatch(head)):
        found.append(Fraction(re.sub(r"\D", "", head) + "." + tail))
    if _WHOLE.fullmatch(text):
        found.append(Fraction(re.sub(r"\D", "", text)))
    return tuple(found)


def is_bare(text: str) -> bool:
    """Whether a number was typed with no unit behind it."""
    return _NUMBER.fullmatch(text.strip()) is not None


@dataclass(frozen=True)
class _Asked:
    """What was typed, and for which field."""

    typed: str
    unit: str
    bounds: Bounds
    whole: bool
    told: str = ""

    @property
    def kind(self) -> _Kind:
        """How the field's unit is typed."""
        return _KINDS[self.unit]

    @property
    def shortened(self) -> str:
        """What was typed, short enough to be quoted."""
        return _cut(self.typed)

    def no_number(self) -> QuantityError:
        """It cannot be read at all."""
        if self.kind.is_time:
            return QuantityError(say("not_a_time", typed=self.shortened))
        return QuantityError(say("not_a_number", typed=self.shortened, example=self.example()))

    def impossible(self) -> QuantityError:
        """It lies out of bounds."""
        allowed = self.bounds.in_words(self.told or self.unit)
        if self.unit == "share":
            return QuantityError(say("out_of_share", typed=self.shortened, allowed=allowed))
        return QuantityError(say("out_of_bounds", typed=self.shortened, allowed=allowed))

    def example(self) -> str:
        """A number that this field takes."""
        usual = "8" if self.whole else self.kind.example
        number = float(usual.split()[0])
        end = self.bounds.high if self.bounds.low is None or self.bounds.above else self.bounds.low
        return usual if self.bounds.allow(number) or end is None else shown(end)


def read(text: str, unit: str = "", bounds: Bounds = FREE, *, whole: bool = False, told: str = "") -> float:
    """Read the number that was typed, in `unit`: a key of the kinds above, "" for a number without a unit.

    Units are converted. Where a separator can be read in two ways the reading within `bounds` is taken; where both
    are, it is refused. `told` is what a refusal calls the unit. Raises QuantityError.

    >>> read("8:00", "s"), read("0,9 J/cm2", "mJ/cm²"), read("90 %", "share")
    (480.0, 900.0, 0.9)
    """
    asked = _Asked(_tidied(text), unit, bounds, whole, told)
    if len(asked.typed) > LONGEST:
        raise asked.no_number()
    found = (_clock(asked.typed) if asked.kind.is_time else None) or _readings(asked)
    values = list(dict.fromkeys(float(value) for value in found))
    fits = [value for value in values if bounds.allow(value) and not (whole and value != int(value))]
    if len(fits) == 1:
        return fits[0] + 0.0  # never -0
    if len(fits) > 1:
        raise _ambiguous(asked)
    if any(bounds.allow(value) for value in values):
        raise QuantityError(say("not_whole", typed=asked.shortened, example=asked.example()))
    raise asked.impossible()


def shown(value: float, places: int | None = None) -> str:
    """A number as a form takes it back: without exponent and of one reading only; in `places` decimals at most."""
    text = format(Decimal(repr(value)), "f") if places is None else f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else _one_reading(text)


def read_list(text: str, count: int, unit: str = "", bounds: Bounds = FREE) -> list[float]:
    """`count` numbers that were typed one after the other: 12.5, 30 or 12,5; 30 or 12,5 30.

    Between numbers stand semicolons, spaces or, where neither is, commas. Raises QuantityError.
    """
    return [read(part, unit, bounds) for part in split(text, count)]


def split(text: str, count: int) -> list[str]:
    """The texts of `count` numbers, as `read_list` takes them apart. Raises QuantityError for more or fewer."""
    wide = [part.strip() for part in text.split(";")] if ";" in text else text.replace(", ", " ").split()
    parts = wide if len(wide) == count else [part.strip() for part in text.split(",")]
    if len(parts) != count:
        raise QuantityError(say("not_so_many", typed=_cut(_tidied(text)), count=count))
    return parts


def _tidied(text: str) -> str:
    """With plain spaces, a plain minus and a plain apostrophe; the rest as it was typed."""
    plain = re.sub(r"\s+", " ", text).strip()
    return plain.replace("\u2212", "-").replace("\u2019", "'")


def _clock(text: str) -> list[Fraction] | None:
    """8:00 as 480 s, 1:08:00 as 4080 s; None for what is not written with a colon. Two parts with h: hours."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds, said = found.groups()
    spent = Fraction(60 * int(minutes)) + Fraction(seconds.replace(",", "."))
    if hours is not None:
        return None if int(minutes) > 59 or said == "min" else [3600 * int(hours) + spent]
    return [60 * spent] if said and said.lower() == "h" else [spent]


def _readings(asked: _Asked) -> list[Fraction]:
    """Every value that a text without a colon can have."""
    parts = _parts(asked.typed)
    if len(parts) == 1:
        return _converted(asked, *parts[0])
    sums, before = [Fraction(0)], Fraction(10**9)
    for sign, readings, named in parts:
        factor = asked.kind.factors.get(_folded(named))
        if not asked.kind.is_time or factor is None or sign or factor >= before:
            raise asked.no_number()
        sums, before = [so_far + reading * factor for so_far in sums for reading in readings], factor
    if not parts:
        raise asked.no_number()
    return sums


def _parts(typed: str) -> list[tuple[str, tuple[Fraction, ...], str]]:
    """Sign, readings and unit of each number in a text; nothing where it is not made of such."""
    found: list[tuple[str, tuple[Fraction, ...], str]] = []
    rest = typed
    while rest:
        number = _NUMBER.match(rest)
        if number is None:
            return []
        digits = number[0].strip()
        quotes = len(digits) - len(digits.rstrip("'"))  # a mark of inches, not of thousands
        digits = digits.rstrip("'")
        sign = digits[0] if digits[0] in "+-" else ""
        readings = number_readings(digits.removeprefix(sign))
        named = "'" * quotes + rest[number.end() :].strip()
        # only units of time are followed by another number: 8 min 20 s
        more = re.match(r"([^\W\d_]+) ?(?=\d)", named)
        named, rest = (
            (more[1], named[more.end() :]) if more and _folded(more[1]) in _KINDS["s"].factors else (named, "")
        )
        if not readings or len(found) > 3:
            return []
        found.append((sign, readings, named))
    return found


def _converted(asked: _Asked, sign: str, readings: tuple[Fraction, ...], named: str) -> list[Fraction]:
    """The readings of one number in our unit."""
    signed = [-value if sign == "-" else value for value in readings]
    known, factors = _folded(named), asked.kind.factors
    if known in factors:
        return [value * factors[known] for value in signed]
    if asked.unit == "°C" and known in _FAHRENHEIT:
        return [(value - 32) * 5 / 9 for value in signed]
    if not known or (asked.unit == "°C" and known in _CELSIUS):
        return [_share(value, asked.bounds) for value in signed] if asked.unit == "share" else signed
    if not _LIKE_A_UNIT.match(named):
        raise asked.no_number()
    if asked.kind.proposes:
        raise QuantityError(say("unknown_unit", unit=_cut(named), units=asked.kind.proposes))
    raise QuantityError(say("needs_no_unit", unit=_cut(named), example=asked.example()))


def _share(value: Fraction, bounds: Bounds) -> Fraction:
    """A bare number typed for a share: 0.9, or 90 for 90 %."""
    return value / 100 if value >= _LEAST_PER_CENT and not bounds.allow(float(value)) else value


def _ambiguous(asked: _Asked) -> QuantityError:
    """The refusal of a number with two readings; it says how to write either."""
    *_, (sign, readings, named) = _parts(asked.typed)
    first, second = (sign + f"{float(value):.9f}".rstrip("0").rstrip(".") for value in readings)
    unit = named or unit_shown(asked.unit)
    return QuantityError(
        say(
            "two_readings",
            typed=asked.shortened,
            first=f"{first} {unit}".strip(),
            second=f"{second} {unit}".strip(),
            write_first=_one_reading(first),
            write_second=second,
        )
    )


def _one_reading(text: str) -> str:
    """A plain decimal that nobody takes for thousands: 1.250 stays 1.25, 12.125 becomes 12.1250."""
    return text + "0" if len(number_readings(text.lstrip("+-"))) > 1 else text


def _cut(text: str) -> str:
    """Short enough to be quoted."""
    return text if len(text) <= 30 else text[:29] + "…"
