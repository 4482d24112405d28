"""Numbers as people type them, judged by other readers: Babel's for two languages, and the units of a standard."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from babel.numbers import NumberFormatError, parse_decimal
from hypothesis import assume, example, given
from hypothesis import strategies as st

from sumlight.bounds import FREE, Bounds, bounds_of, per_cent
from sumlight.quantity import QuantityError, number_readings, read, shown
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.recipe import Recipe
from sumlight.text.asked import TYPED

DIGITS = st.text("0123456789", min_size=1, max_size=4)
GROUPED = st.builds(
    lambda parts, marks: "".join(part + mark for part, mark in zip(parts, marks, strict=False)),
    st.lists(DIGITS, min_size=1, max_size=4),
    st.lists(st.sampled_from([",", ".", ""]), min_size=4, max_size=4),
)
WIDE = Bounds(0, 1e17)


def tried(typed: str, unit: str, bounds: Bounds, *, whole: bool = False) -> float | QuantityError:
    """The number, or the refusal."""
    try:
        return read(typed, unit, bounds, whole=whole)
    except QuantityError as error:
        return error


def read_by_babel(text: str) -> set[Decimal]:
    """What readers of English and of German take a number for (Unicode CLDR by Babel, strict)."""
    found = set()
    for locale in ("en_US", "de_DE"):
        try:
            found.add(parse_decimal(text, locale=locale, strict=True))
        except NumberFormatError:
            continue
    return found


@given(GROUPED)
@example("1,250")
@example("1.250")
@example("0,900")
@example("12,34,567")
@example("1.234,5")
@example("1,234.567")
def test_a_number_is_what_one_of_two_languages_takes_it_for_or_is_refused(typed: str) -> None:
    """One value where both agree or only one can read it; two are never silently decided."""
    assume(typed[0].isdigit() and typed[-1].isdigit())
    judged, taken = read_by_babel(typed), tried(typed, "", WIDE)
    if isinstance(taken, QuantityError) and taken.message.code == "two_readings":
        assert len(judged) == 2
        assert {
            Decimal(str(taken.message.values["write_first"])),
            Decimal(str(taken.message.values["write_second"])),
        } == judged
        return
    if isinstance(taken, QuantityError):
        assert judged == set()
        return
    # a group that begins with 0 (0,900) is a thousand for nobody who writes it, though Babel takes it
    assert float(taken) in {float(each) for each in judged}
    assert len(judged) == 1 or typed.startswith("0")


@pytest.mark.parametrize("mark", [",", "."])
def test_three_digits_behind_the_only_separator_are_refused_where_both_readings_may_stand(mark: str) -> None:
    """And the message shows both, and how to write either."""
    with pytest.raises(QuantityError) as caught:
        read(f"1{mark}250 mJ/cm²", "mJ/cm²", Bounds(1, 5000))
    told = str(caught.value)
    assert told == f"'1{mark}250 mJ/cm²' can mean 1.25 mJ/cm² or 1250 mJ/cm². Write 1.25 or 1250."
    assert read(f"1{mark}250", "mJ/cm²", Bounds(1, 100)) == 1.25
    assert read(f"1{mark}250", "mJ/cm²", Bounds(100, 5000)) == 1250
    with pytest.raises(QuantityError) as caught:
        read(f"1{mark}250", "mJ/cm²", Bounds(2, 100))
    assert caught.value.message.code == "out_of_bounds"


def test_how_the_refusal_says_to_write_either_reading_is_understood() -> None:
    """Also where the decimal itself has three places."""
    with pytest.raises(QuantityError) as caught:
        read("12,125", "s", Bounds(0, 36_000))
    assert read(str(caught.value.message.values["write_first"]), "s", Bounds(0, 36_000)) == 12.125
    assert read(str(caught.value.message.values["write_second"]), "s", Bounds(0, 36_000)) == 12_125


@given(st.integers(0, 5999), st.integers(0, 59))
def test_minutes_and_seconds_are_read_as_a_clock_counts(minutes: int, seconds: int) -> None:
    """Python's own timedelta judges; hours, minutes and seconds the same."""
    wanted = timedelta(minutes=minutes, seconds=seconds).total_seconds()
    assert read(f"{minutes}:{seconds:02d}", "s") == wanted
    hours, left = divmod(minutes, 60)
    assert read(f"{hours}:{left:02d}:{seconds:02d}", "s") == wanted
    assert read(f"{hours} h {left} min {seconds} s", "s") == wanted
    assert read(f"{minutes}min{seconds}s", "s") == wanted
    assert read(f"{minutes}m {seconds}s", "s") == wanted


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("90 %", "share", 0.9),
        ("90%", "share", 0.9),
        ("90", "share", 0.9),
        ("0,9", "share", 0.9),
        ("82,5 Prozent", "share", 0.825),
        ("28 s", "s", 28),
        ("8:00", "s", 480),
        ("8:00 min", "s", 480),
        ("8:00 h", "s", 28_800),
        ("8 min", "s", 480),
        ("8 Minuten", "s", 480),
        ("1,5 h", "s", 5400),
        ("90 min", "h", 1.5),
        ("60 mJ/cm²", "mJ/cm²", 60),
        ("0,9 mJ/cm2", "mJ/cm²", 0.9),
        ("60 mJ·cm⁻²", "mJ/cm²", 60),
        ("4 mW / cm^2", "mW/cm²", 4),
        ("−5 °C", "°C", -5),
        ("23 ℃", "°C", 23),
        ("38 μm", "µm", 38),
        ("38 um", "µm", 38),
        (" 1\u202f200 ", "", 1200),
        ("1’200,5", "", 1200.5),
        ("1 200.125", "", 1200.125),
        (".5", "", 0.5),
        ("060", "", 60),
    ],
)
def test_what_people_type_is_understood(typed: str, unit: str, value: float) -> None:
    """As newcomers typed it, with the spaces and signs of phones."""
    assert read(typed, unit, Bounds(-100, 1) if unit == "share" else FREE) == value


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("1 in", "mm", 25.4),  # NIST SP 811 (2008), B.8: inch, exactly
        ('0.5"', "mm", 12.7),
        ("0,5 Zoll", "mm", 12.7),
        ("1.5 mil", "µm", 38.1),  # the same: mil (0.001 in) = 25.4 µm
        ("0.05 mm", "µm", 50),
        ("1 J/m2", "mJ/cm²", 0.1),  # 1 m² = 10⁴ cm², 1 J = 10³ mJ
        ("0.06 J/cm²", "mJ/cm²", 60),
        ("600 J/m²", "mJ/cm²", 60),
        ("40 W/m²", "mW/cm²", 4),
        ("4000 µW/cm²", "mW/cm²", 4),
        ("212 °F", "°C", 100),  # the same: t/°C = (t/°F − 32)/1.8
        ("-40 F", "°C", -40),
    ],
)
def test_units_are_converted_as_the_standard_says(typed: str, unit: str, value: float) -> None:
    """The factors stand in the guide to the SI, not in our code alone."""
    assert read(typed, unit) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("typed", "unit", "code"),
    [
        ("", "", "not_a_number"),
        ("much", "mJ/cm²", "not_a_number"),
        ("1e3", "mJ/cm²", "not_a_number"),
        ("0x10", "", "not_a_number"),
        ("1_000", "", "not_a_number"),
        ("nan", "", "not_a_number"),
        ("٣", "", "not_a_number"),
        ("5²", "", "not_a_number"),
        ("1.2.3", "", "not_a_number"),
        ("12,34,567", "", "not_a_number"),
        ("10 20", "", "not_a_number"),
        ("9" * 61, "", "not_a_number"),
        ("\x00", "", "not_a_number"),
        ("8:60", "s", "not_a_time"),
        ("8:5", "s", "not_a_time"),
        ("1:60:00", "s", "not_a_time"),
        ("8 s 20 min", "s", "not_a_time"),
        ("8 min -20 s", "s", "unknown_unit"),
        ("8:00 s", "s", "not_a_time"),
        ("8:00", "mJ/cm²", "not_a_number"),
        ("28 s", "mJ/cm²", "unknown_unit"),
        ("60 mJ/cm²", "s", "unknown_unit"),
        ("8 mm", "", "needs_no_unit"),
        ("60 mJ/cm² 3", "mJ/cm²", "unknown_unit"),
    ],
)
def test_what_is_no_quantity_is_refused_with_what_to_write(typed: str, unit: str, code: str) -> None:
    """No unit is guessed, no rest of a line is dropped."""
    with pytest.raises(QuantityError) as caught:
        read(typed, unit, Bounds(0, 5000))
    assert caught.value.message.code == code
    assert "Write" in str(caught.value)


def test_a_number_out_of_bounds_is_told_what_is_allowed() -> None:
    """In the field's own unit, whatever unit was typed; an open end is said as one."""
    with pytest.raises(QuantityError, match=r"^2 h is not possible here: from 0\.5 to 3600 s\.$"):
        read("2 h", "s", Bounds(0.5, 3600))
    for typed in ("0", "1.5", "8", "8.5"):  # nobody knows whether 8 means 8 % or is a slip for 0.8
        told = (
            f"{typed} is not possible here: more than 0, at most 1. Per cent are written with their sign, such as 90 %."
        )
        with pytest.raises(QuantityError, match=f"^{re.escape(told)}$"):
            read(typed, "share", Bounds(0, 1, above=True))
    with pytest.raises(QuantityError, match=r"^'2\.5' is not a whole number\. Write one such as 8\.$"):
        read("2.5", "", Bounds(1, 20), whole=True)
    assert read("3.000", "", Bounds(1, 20), whole=True) == 3
    assert read("3.000", "", Bounds(100, 5000), whole=True) == 3000


@given(st.text(max_size=70), st.sampled_from(["", "s", "h", "share", "mm", "°C", "mJ/cm²"]), st.booleans())
def test_no_text_does_more_than_be_refused(typed: str, unit: str, whole: bool) -> None:
    """Whatever strangers send: a number within bounds, or a QuantityError that fills all its blanks."""
    bounds = Bounds(0, 5000, above=True)
    value = tried(typed, unit, bounds, whole=whole)
    if isinstance(value, QuantityError):
        assert value.message.code in TYPED
        assert not any("{" + name in str(value) for name in ("typed", "unit", "units", "example", "allowed", "first"))
        return
    assert 0 < value <= 5000
    assert not whole or value == int(value)


@given(st.floats(-1e6, 1e6), st.integers(0, 9))
def test_what_a_form_shows_it_takes_back_as_the_same(value: float, places: int) -> None:
    """Also 12.125, which typed so has two readings; compared with Python's own rounding."""
    text = shown(value, places)
    assert len(number_readings(text.removeprefix("-"))) == 1
    assert read(text) == float(f"{value:.{places}f}")


@given(st.floats(1e-6, 1e6) | st.integers(1, 10**9).map(lambda n: n / 1000))
def test_a_form_loses_nothing_of_a_number_in_a_file(value: float) -> None:
    """To the last bit: opening and saving changes nothing."""
    assert read(shown(value)) == value


def test_bounds_come_from_the_model_that_checks_the_file() -> None:
    """Open and closed ends, optional fields, parts; the model itself judges values at and beyond each end."""
    assert bounds_of(Recipe, "transmission.b") == Bounds(0, 1, above=True)
    assert bounds_of(Recipe, "hold_limit_s") == Bounds(0, 604_800, above=True)
    assert bounds_of(Recipe, "interruptions.forgiven") == Bounds(0, 100)
    assert per_cent(bounds_of(Recipe, "tolerance")) == Bounds(2, 100)
    bounds = bounds_of(LampSettings, "replace_at_percent")
    for value in (bounds.low, bounds.high):
        assert value is not None
        assert LampSettings(replace_at_percent=value)
    for value in (bounds.low - 0.01, bounds.high + 0.01):  # type: ignore[operator]
        with pytest.raises(ValueError, match="replace_at_percent"):
            LampSettings(replace_at_percent=value)
        assert not bounds.allow(value)
