"""Permitted times for leaks of ultraviolet light, against published limits and weights.

Outside sources: IEC 62471:2006 4.3.1 and 4.3.2 (30 J/m² weighted, 10 000 J/m² UV-A), Directive 2006/25/EC Annex I
(the same pair as daily values; its table from memory), S(λ) at 5 nm as shipped by the package guv-calcs 0.10.0 in its
column 'IEC 62471-6:2022 (Eye/Skin)', ICNIRP 2004 equation 2c (Health Physics 87(2) 171-186).
"""

import math

import pytest

from sumlight.light import eyesafety
from sumlight.light.eyesafety import actinic_weight, leak, leak_of_spectrum, permitted_mw_cm2

TABLE = {
    300: 0.300,
    305: 0.060,
    310: 0.015,
    315: 0.003,
    320: 0.0010,
    325: 0.00050,
    330: 4.1e-4,
    335: 3.4e-4,
    340: 2.8e-4,
    345: 2.4e-4,
    350: 2.0e-4,
    355: 1.6e-4,
    360: 1.3e-4,
    365: 1.1e-4,
    370: 9.3e-5,
    375: 7.7e-5,
    380: 6.4e-5,
    385: 5.3e-5,
    390: 4.4e-5,
    395: 3.6e-5,
    400: 3.0e-5,
}


@pytest.mark.parametrize(("wavelength_nm", "weight"), TABLE.items())
def test_the_weight_is_never_below_the_published_table(wavelength_nm: int, weight: float) -> None:
    """To the rounding of its two digits; above it by 29 % at most, which shortens times."""
    assert 0.985 * weight <= actinic_weight(wavelength_nm) <= 1.30 * weight


@pytest.mark.parametrize(
    ("wavelength_nm", "weight"), [(365, 1.1233e-4), (385, 5.3027e-5), (395, 3.6433e-5), (400, 3.0200e-5)]
)
def test_the_weight_is_the_published_function(wavelength_nm: int, weight: float) -> None:
    """Closed form, worked out apart from this program."""
    assert actinic_weight(wavelength_nm) == pytest.approx(weight, rel=5e-5)


def test_nothing_is_weighted_above_400_nm_and_below_300_nm_is_refused() -> None:
    """S is not defined there, or not in this form."""
    assert actinic_weight(404.66) == 0.0
    with pytest.raises(ValueError, match="nm is below that"):
        actinic_weight(253.7)


@pytest.mark.parametrize(("mw_cm2", "uva_s"), [(1, 1000), (5, 200), (10, 100), (20, 50)])
def test_worked_example_of_the_365_nm_line(mw_cm2: float, uva_s: float) -> None:
    """5 mW/cm² at the eye are 50 W/m²: 10 000 / 50 = 200 s a day, which governs; weighted it would be 5454.5 s."""
    found = leak(mw_cm2)
    assert found.uva_w_m2 == pytest.approx(10 * mw_cm2)
    assert found.uva_s == pytest.approx(uva_s)
    # The table's S(365) = 1.1e-4 gives 27 273 s for 1 mW/cm²; the function's value is 2.1 % larger.
    assert found.actinic_s == pytest.approx(27_273 / mw_cm2, rel=0.022)
    assert found.actinic_s < 27_273 / mw_cm2
    assert (found.limit, found.permitted_s) == ("uva", pytest.approx(uva_s))
    assert not found.harmless_all_day


def test_at_short_wavelengths_the_weighted_limit_governs() -> None:
    """At 310 nm S is some hundred times that at 365 nm, and UV-A does not count it."""
    found = leak(1.0, 310.0)
    assert found.uva_w_m2 == 0.0
    assert found.limit == "actinic"
    assert found.permitted_s == pytest.approx(30 / (10 * actinic_weight(310.0)))


def test_a_spectrum_is_summed_line_by_line() -> None:
    """Violet counts for neither limit here."""
    found = leak_of_spectrum([(365.0, 0.02), (385.0, 0.01), (404.66, 5.0)])
    assert found.uva_w_m2 == pytest.approx(0.3)
    assert found.effective_w_m2 == pytest.approx(0.2 * actinic_weight(365) + 0.1 * actinic_weight(385))
    assert found.permitted_s == pytest.approx(10_000 / 0.3)
    assert found.harmless_all_day


def test_no_light_is_permitted_for_ever() -> None:
    """And called harmless."""
    assert leak(0.0).permitted_s == math.inf
    assert leak(0.0).harmless_all_day


@pytest.mark.parametrize("wavelength_nm", [310.0, 365.0, 395.0])
@pytest.mark.parametrize("seconds", [50.0, 1000.0, 30_000.0])
def test_what_is_permitted_for_a_time_is_permitted_for_just_that_time(wavelength_nm: float, seconds: float) -> None:
    """Both directions agree; a hundredth of a milliwatt and a bit are the whole day at 365 nm."""
    allowed = permitted_mw_cm2(seconds, wavelength_nm)
    assert leak(allowed, wavelength_nm).permitted_s == pytest.approx(seconds)
    assert permitted_mw_cm2(30_000.0) == pytest.approx(1 / 30)
    assert permitted_mw_cm2(10.0, 420.0) == math.inf


@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf])
def test_an_impossible_reading_is_refused(value: float) -> None:
    """It must not come out as a long time."""
    with pytest.raises(ValueError, match="mW/cm²"):
        leak(value)
    with pytest.raises(ValueError, match="above 0"):
        permitted_mw_cm2(-value if value > 0 else value)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (math.inf, "a whole working day"),
        (30_000.0, "a whole working day"),
        (29_999.0, "8.3 hours a day"),
        (3600.0, "1 hours a day"),
        (200.9, "3 minutes a day"),
        (119.9, "119 seconds a day"),
        (0.4, "0 seconds a day"),
    ],
)
def test_times_are_told_in_words_and_never_rounded_up(seconds: float, words: str) -> None:
    """A person must not be told more than is permitted."""
    assert eyesafety.in_words(seconds) == words
