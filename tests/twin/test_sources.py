"""Kinds of lamps: where they shine and how they fade, against published figures where there are any."""

import pytest
from scipy.integrate import quad

from sumlight.twin import optics
from sumlight.twin.sources import (
    ALIKE,
    LAMP_TYPE_NAMES,
    LAMP_TYPES,
    LED,
    LINES,
    PHOSPHOR,
    daylight_density,
    white_led_density,
)


@pytest.mark.parametrize("name", ["fluorescent", "other_fluorescent"])
def test_tubes_show_the_mercury_lines_where_they_are_published(name: str) -> None:
    """365.0153, 404.6563 and 435.8328 nm (NIST handbook, as quoted in the reference values §4)."""
    found = [wavelength_nm for wavelength_nm, _ in LAMP_TYPES[name].lines]
    assert found[:3] == [365.0153, 404.6563, 435.8328]


@pytest.mark.parametrize(
    ("name", "share"), [("led_365", 1.000), ("led_385", 0.9926), ("led_395", 0.806), ("led_405", 0.240)]
)
def test_a_led_sends_the_tabulated_share_into_the_uv_a(name: str, share: float) -> None:
    """Gaussian of 15 nm full width, 315 to 400 nm by steps of 1 nm, both ends counted: reference values §1."""
    kind = LAMP_TYPES[name]
    assert sum(kind.density(nm) for nm in range(315, 401)) == pytest.approx(share, abs=0.0006)
    assert quad(kind.density, 250, 550, points=[kind.peak_nm])[0] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("name", [name for name in LAMP_TYPE_NAMES if name.startswith("led")])
def test_a_led_peaks_at_its_name_and_has_no_lines(name: str) -> None:
    """Highest there, half as high half its width away."""
    kind = LAMP_TYPES[name]
    peak_nm = float(name.removeprefix("led_"))
    assert max(range(300, 500), key=kind.density) == peak_nm
    assert kind.density(peak_nm + 7.5) == pytest.approx(kind.density(peak_nm) / 2)
    assert kind.is_led
    assert kind.lines == ()


def test_each_name_in_a_scenario_has_its_lamps() -> None:
    """None without figures, none unreachable."""
    assert tuple(LAMP_TYPES) == LAMP_TYPE_NAMES


def test_phosphor_fades_to_sixty_percent_and_lines_to_eighty_five() -> None:
    """At 1500 h, from 0 h: the project's own figures for the whole-life campaign."""
    assert PHOSPHOR.left(1500.0) == pytest.approx(0.60)
    assert LINES.left(1500.0) == pytest.approx(0.85)
    assert PHOSPHOR.left(0.0) == LINES.left(0.0) == ALIKE.left(0.0) == 1.0


def test_the_ratio_of_dose_to_sensor_falls_about_two_percent_each_hundred_hours() -> None:
    """Faster in the first hundred; this is what a calibration loses."""

    def ratio(hours: float) -> float:
        dose, f1 = optics.actinic(), optics.counts("F1")
        band, lines = PHOSPHOR.left(hours), LINES.left(hours)
        return (dose.phosphor * band + dose.lines * lines) / (f1.phosphor * band + f1.lines * lines)

    slow = [1 - ratio(hours + 100) / ratio(hours) for hours in range(200, 1400, 100)]
    assert all(0.015 < loss < 0.02 for loss in slow)
    assert 1 - ratio(100.0) / ratio(0.0) > 2 * max(slow)


def test_leds_lose_thirty_percent_in_the_hours_of_a_published_life_test() -> None:
    """4480 h of steady light at 365 nm (source L17 of the trade notes)."""
    assert LED.left(4480.0) == pytest.approx(0.70)


def test_the_led_of_the_board_is_only_visible() -> None:
    """Power 1, nothing in the ultraviolet, so that it exposes nothing."""
    assert quad(white_led_density, 400, 1000, points=[452, 560], limit=200)[0] == pytest.approx(1.0, abs=0.001)
    assert all(white_led_density(nm) == 0.0 for nm in range(300, 400))


def test_daylight_is_counted_by_its_visible_part() -> None:
    """Summed from 400 to 700 nm the spectrum gives one."""
    assert sum(daylight_density(nm) for nm in range(400, 700)) == pytest.approx(1.0)


@pytest.mark.parametrize("name", LAMP_TYPE_NAMES)
def test_every_kind_gives_its_nominal_light(name: str) -> None:
    """Band and lines together, as the resist weighs them."""
    answer = optics.actinic(name)
    assert answer.phosphor + answer.lines == pytest.approx(LAMP_TYPES[name].nominal_mw_cm2)


def test_kinds_of_lamps_differ_in_the_colours_that_the_sensor_sees() -> None:
    """F2 over F1 and Clear over F1 tell any two of them apart by a tenth or more."""

    def seen(lamp: str) -> tuple[float, float]:
        f1, f2, clear = (
            answer.phosphor + answer.lines for answer in (optics.counts(c, lamp) for c in ("F1", "F2", "CLEAR"))
        )
        return f2 / f1, clear / f1

    for name in LAMP_TYPE_NAMES:
        for other in LAMP_TYPE_NAMES[: LAMP_TYPE_NAMES.index(name)]:
            assert any(abs(a / b - 1) > 0.1 for a, b in zip(seen(name), seen(other), strict=True)), (name, other)
