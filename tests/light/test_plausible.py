"""What light lamps can give at all, judged by physics and published data; no twin."""

import math
from typing import Literal

import pytest

from sumlight.light.plausible import (
    BLUE_OVER_VIOLET,
    MOST_MW_CM2,
    changed_colour,
    too_strong,
    unchecked_ln_sigma,
    wrong_colour,
)

PEAK_AND_WIDTH_NM = ((415.0, 26.0), (445.0, 30.0))
"""Peak and full width at half maximum of F1 and F2 (AS7341 datasheet DS000504)."""
H_NM, G_NM = 404.6563, 435.8328
"""Lines of neutral mercury in air (NIST, Handbook of Basic Atomic Spectroscopic Data)."""


def bell(nm: float, peak_nm: float, width_nm: float) -> float:
    """A channel as a Gaussian."""
    return math.exp(-4 * math.log(2) * ((nm - peak_nm) / width_nm) ** 2)


def mercury(g_over_h: float) -> float:
    """F2 over F1 under the two lines alone."""
    violet, blue = (bell(H_NM, *c) + g_over_h * bell(G_NM, *c) for c in PEAK_AND_WIDTH_NM)
    return blue / violet


def led(peak_nm: float, width_nm: float = 15.0) -> float:
    """F2 over F1 under an LED: the overlap of two Gaussians."""
    violet, blue = (
        math.exp(-4 * math.log(2) * (peak_nm - p) ** 2 / (w**2 + width_nm**2)) * w / math.hypot(w, width_nm)
        for p, w in PEAK_AND_WIDTH_NM
    )
    return blue / violet


def net(violet: float, blue: float, green: float = 0.0) -> list[float]:
    """Six channels."""
    return [violet, blue, 0.0, green, violet / 3, 0.0]


@pytest.mark.parametrize("g_over_h", [0.2, 0.5, 1.0, 2.2, 3.0])
def test_mercury_behind_any_glass_is_a_tube_and_no_led(g_over_h: float) -> None:
    """An arc gives about 2.2 (NIST's relative intensities 4000 and 1800); dark glass keeps part of the blue back."""
    seen = net(8000.0, 8000.0 * mercury(g_over_h))
    assert wrong_colour("lower", seen, 2.0, "tubes") is None
    found = wrong_colour("lower", seen, 2.0, "led")
    if mercury(g_over_h) > 0.3:
        assert found is not None
        assert "not LEDs" in found.said()


@pytest.mark.parametrize("peak_nm", [385.0, 395.0, 405.0])
def test_an_led_has_no_blue_and_is_no_tube(peak_nm: float) -> None:
    """Whose channel at 445 nm has next to nothing to see."""
    seen = net(8000.0, 8000.0 * led(peak_nm))
    assert wrong_colour("lower", seen, 2.0, "led") is None
    found = wrong_colour("lower", seen, 2.0, "tubes")
    assert found is not None
    assert "not fluorescent tubes" in found.said()


def test_a_bit_that_is_lost_from_violet_makes_the_light_too_blue() -> None:
    """Bit 12 of 8000 at a proportion of 1: 3904 of 8000."""
    assert wrong_colour("lower", net(8000.0 - 4096, 8000.0), 2.0, "tubes") is None  # still within what tubes give
    found = wrong_colour("lower", net(5400.0 - 4096, 5400.0), 2.0, "tubes")
    assert found is not None
    assert "4.1 times" in found.said()


def test_colour_is_not_judged_in_next_to_no_light() -> None:
    """A hundred counts have the colour of noise."""
    assert wrong_colour("lower", net(100.0, 0.0), 2.0, "tubes") is None
    assert changed_colour(net(100.0, 50.0), net(8000.0, 8000.0), 2.0, 0.05) is None


def test_nothing_gets_more_than_the_wall_of_a_lamp_gives_off() -> None:
    """A 15 W tube of 26 mm by 438 mm, a quarter of its power UV-A, a reflector that doubles it: 21 mW/cm²."""
    wall_mw_cm2 = 0.25 * 15_000 / (math.pi * 2.6 * 43.8)
    assert not too_strong(2 * wall_mw_cm2, 0.02, "tubes")
    assert too_strong(5 * wall_mw_cm2, 0.02, "tubes")
    assert not too_strong(5 * wall_mw_cm2, 0.5, "tubes"), "a number that may be wrong by a factor proves nothing"
    assert not too_strong(5 * wall_mw_cm2, 0.02, "led")
    assert MOST_MW_CM2["led"] > MOST_MW_CM2["tubes"]


@pytest.mark.parametrize(("lamps", "least"), [("tubes", 0.3), ("led", 1.0)])
def test_a_number_that_nobody_checked_is_doubtful_and_more_so_with_hours(
    lamps: Literal["tubes", "led"], least: float
) -> None:
    """However sure the file is of it; what the file doubts more stays."""
    of = [unchecked_ln_sigma(0.01, lamps, hours) for hours in (0.0, 500.0, 1800.0, 5000.0)]
    assert of == sorted(of)
    assert of[0] >= least
    assert of[-1] > of[0]
    assert unchecked_ln_sigma(2.0, lamps, 0.0) == pytest.approx(2.0)


def test_a_phosphor_at_two_thirds_is_inside_what_is_stated_after_1800_hours() -> None:
    """UV-A at 60 % beside lines at 85 % of new (the project's own figures): 71 % of what the number says."""
    assert math.exp(-2 * unchecked_ln_sigma(0.05, "tubes", 1800.0)) < 0.60 / 0.85


def test_a_change_of_colour_is_told_from_daylight_and_from_noise() -> None:
    """Blue against violet by 10 %; with daylight 515 nm rises as well, and at 300 counts noise may do it."""
    before = net(8000.0, 8000.0, 40.0)
    change = changed_colour(net(8000.0, 8800.0, 40.0), before, 2.0, 0.05)
    assert change == pytest.approx(math.log(1.1), abs=1e-6)
    assert changed_colour(net(8000.0, 8240.0, 40.0), before, 2.0, 0.05) is None
    assert changed_colour(net(8000.0, 8800.0, 240.0), before, 2.0, 0.05) is None
    assert changed_colour(net(300.0, 330.0), net(300.0, 300.0), 8.0, 0.05) is None


def test_the_bounds_leave_room_on_both_sides() -> None:
    """Between the bluest LED and the least blue tube."""
    assert led(405.0) < BLUE_OVER_VIOLET["tubes"][0] / 2
    assert BLUE_OVER_VIOLET["tubes"][0] < mercury(0.2) / 1.9
    assert BLUE_OVER_VIOLET["tubes"][1] > mercury(3.0)
