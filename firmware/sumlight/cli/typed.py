"""What people type after an option of `sumlight bath`: units, a decimal comma or point, and ways to say a strength."""

import argparse
from collections.abc import Callable

from sumlight.bounds import Bounds
from sumlight.craft.chemistry import solutions
from sumlight.language import _, text_of
from sumlight.quantity import QuantityError, read

HIGHEST = {"g/l": 999.0, "g/cm3": 3.0, "vol": 200.0}
"""Above any strength in that unit, to tell 1.087 from 1087."""

Reader = Callable[[str], float]


def of(unit: str, highest: float | None = None) -> Reader:
    """Read a quantity of a unit that `sumlight.quantity` knows.

    `highest` only settles which of two readings of 1,250 is meant; the arithmetic judges what is possible.
    """

    def reader(text: str) -> float:
        try:
            return _read(text, unit, highest)
        except QuantityError as error:
            raise argparse.ArgumentTypeError(text_of(error.message)) from None

    return reader


def pair(text: str) -> tuple[float, float]:
    """Read 'BEFORE:AFTER' or '2:1'. Raises ArgumentTypeError."""
    return _pair(text, of("", 999), "2:1")


def temperatures(text: str) -> tuple[float, float]:
    """Read 'FOUND:NOW', such as 20C:95F, in °C. Raises ArgumentTypeError."""
    return _pair(text, of("°C", 999), "20C:35C")


def _pair(text: str, reader: Reader, example: str) -> tuple[float, float]:
    one, colon, other = text.partition(":")
    if not colon:
        told = _("'{text}' is not a pair; write two, such as {example}", text=text, example=example)
        raise argparse.ArgumentTypeError(told)
    return reader(one), reader(other)


def _read(text: str, unit: str = "", highest: float | None = None) -> float:
    """Where both readings are possible `read` refuses; where neither is, the number is read as it stands."""
    try:
        return read(text, unit, Bounds(None, highest))
    except QuantityError as error:
        if error.message.code != "out_of_bounds":
            raise
        return read(text, unit)


def strength_of(solute: str, text: str) -> float:
    """Read a strength in wt% of dry substance, in any way in which it is said.

    '40%' or '40' wt%, '566g/l', '1.415g/cm3', '42Be/145' (Baumé with its modulus), '60%hydrate' (ferric chloride
    counted as hexahydrate), '10vol' (peroxide), '1:115water' or '1:115whole' (by mass). Raises ValueError.
    """
    if ":" in text:
        for word in ("water", "whole"):
            if text.strip().lower().endswith(word):
                one, other = pair(text.strip()[: -len(word)])
                return solutions.wt_percent_of_parts(one, other, other_is=word)
        told = _("'{text}': 1 : 115 means two things. Write 1:115water (added) or 1:115whole (finished)", text=text)
        raise ValueError(told)
    number, unit = _split(text)
    kind, _slash, modulus = unit.partition("/")
    if kind in ("be", "°be", "bé", "°bé"):
        if not modulus:
            told = _(
                "'{text}': degrees Baumé need their modulus, such as {number}Be/145; ask the maker",
                text=text,
                number=number,
            )
            raise ValueError(told)
        return solutions.wt_percent_of_baume(solute, _read(number, "", 999), _read(modulus, "", 999))
    value = _read(number, "", HIGHEST.get(unit, 100))
    if unit in ("", "%", "wt%"):
        return value
    if unit == "g/l":
        return solutions.wt_percent_of_g_per_l(solute, value)
    if unit == "g/cm3":
        return solutions.wt_percent_of_density(solute, value)
    if unit == "vol" and solute == "H2O2":
        return solutions.wt_percent_of_oxygen_volumes(value)
    if unit == "%hydrate" and solute == "FeCl3":
        return solutions.wt_percent_of_hexahydrate(value)
    told = _("'{text}': '{unit}' does not say a strength; write %, g/l, g/cm3 or Be/145", text=text, unit=unit)
    raise ValueError(told)


def _split(text: str) -> tuple[str, str]:
    """The number, and what stands behind it, as plain small letters."""
    number = text.strip()
    end = next((i for i, letter in enumerate(number) if not (letter.isdigit() or letter in "+-.,' ")), len(number))
    unit = number[end:].replace(" ", "").lower().replace("²", "2").replace("³", "3")
    return number[:end].strip(), unit.replace("µ", "u").replace("μ", "u").replace("^", "")
