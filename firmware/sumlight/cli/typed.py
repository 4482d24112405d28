"""What people type after an option of `sumlight bath`: units, a decimal comma or point, and ways to say a strength."""

import argparse
from collections.abc import Callable, Mapping

from sumlight.bounds import Bounds
from sumlight.craft.chemistry import solutions
from sumlight.quantity import QuantityError, read

LITRES = {"l": 1.0, "": 1.0, "dl": 0.1, "cl": 0.01, "ml": 0.001, "gal": 3.785411784, "floz": 0.0295735295625}
"""US gallon and fluid ounce, by definition from the inch."""
GRAMS = {"g": 1.0, "": 1.0, "kg": 1000.0, "oz": 28.349523125}
SQUARE_CM = {"cm2": 1.0, "": 1.0, "dm2": 100.0, "mm2": 0.01, "in2": 6.4516}
HIGHEST = {"g/l": 999.0, "g/cm3": 3.0, "vol": 200.0}
"""Above any strength in that unit, to tell 1.087 from 1087."""
UM_A_MIN = {"um/min": 1.0, "": 1.0, "mil/min": 25.4, "um/s": 60.0}

Reader = Callable[[str], float]


def of(unit: str, highest: float | None = None) -> Reader:
    """Read a quantity of a unit that `sumlight.quantity` knows: µm (also mm, mil, inch), °C (°F), s (min), %.

    `highest` only settles which of two readings of 1,250 is meant; the arithmetic judges what is possible.
    """

    def reader(text: str) -> float:
        try:
            return _read(text, unit, highest)
        except QuantityError as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return reader


def in_units(factors: Mapping[str, float], highest: float | None = None) -> Reader:
    """Read a number with one of these units; the unit "" stands for none. Raises ArgumentTypeError.

    `highest`, in the first unit, settles which of two readings is meant.
    """

    def reader(text: str) -> float:
        number, unit = _split(text)
        if unit not in factors:
            known = ", ".join(name for name in factors if name)
            raise argparse.ArgumentTypeError(f"'{text}': '{unit}' is no unit for this; write {known}")
        return of("", highest and highest / factors[unit])(number) * factors[unit]

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
        raise argparse.ArgumentTypeError(f"'{text}' is no pair; write two such as {example}")
    return reader(one), reader(other)


def _read(text: str, unit: str = "", highest: float | None = None) -> float:
    """Where both readings are possible `read` refuses; where neither is, the number is read as it stands."""
    try:
        return read(text, unit, Bounds(None, highest))
    except QuantityError as error:
        if error.code != "out_of_bounds":
            raise
        return read(text, unit)


def strength_of(solute: str, text: str) -> float:
    """Read a strength in wt% of dry substance, in any way in which it is said.

    '40%' or '40' wt%, '566g/l', '1.415g/cm3', '42Be/145' (Baumé with its modulus), '60%hydrate' (iron chloride counted
    as hexahydrate), '10vol' (peroxide), '1:115water' or '1:115whole' (by mass). Raises ValueError.
    """
    if ":" in text:
        for word in ("water", "whole"):
            if text.strip().lower().endswith(word):
                one, other = pair(text.strip()[: -len(word)])
                return solutions.wt_percent_of_parts(one, other, other_is=word)
        raise ValueError(f"'{text}': 1 : 115 means two things. Write 1:115water (added) or 1:115whole (finished)")
    number, unit = _split(text)
    kind, _, modulus = unit.partition("/")
    if kind in ("be", "°be", "bé", "°bé"):
        if not modulus:
            raise ValueError(f"'{text}': degrees Baumé only with their modulus, such as {number}Be/145; ask the maker")
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
    raise ValueError(f"'{text}': '{unit}' does not say a strength; write %, g/l, g/cm3 or Be/145")


def _split(text: str) -> tuple[str, str]:
    """The number, and what stands behind it, as plain small letters."""
    number = text.strip()
    end = next((i for i, letter in enumerate(number) if not (letter.isdigit() or letter in "+-.,' ")), len(number))
    unit = number[end:].replace(" ", "").lower().replace("²", "2").replace("³", "3")
    return number[:end].strip(), unit.replace("µ", "u").replace("μ", "u").replace("^", "")
