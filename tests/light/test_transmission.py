"""Transmission of sheets, and the dose window of an artwork."""

import math

import pytest

from sumlight.light import transmission
from sumlight.light.transmission import (
    Reading,
    Transmission,
    dose_window,
    judge_sheet,
    measured,
    of,
    plate,
    reflectance,
)

DARK = Reading(2.0, 0.0)


@pytest.mark.parametrize(("n", "expected"), [(1.49, 0.0387252), (1.50, 0.04), (1.52, 0.0425800)])
def test_reflection_at_right_angles_follows_fresnel(n: float, expected: float) -> None:
    """Fresnel, ((n-1)/(n+1))²; numbers from the reference values §6."""
    assert reflectance(n) == pytest.approx(expected, abs=5e-8)


@pytest.mark.parametrize(
    ("n", "angle_deg", "expected"), [(1.52, 45, 0.0530452), (1.50, 60, 0.0891867), (1.49, 30, 0.0402263)]
)
def test_slanting_reflection_follows_fresnel(n: float, angle_deg: float, expected: float) -> None:
    """Mean of the two polarisations; numbers from the reference values §6."""
    assert reflectance(n, angle_deg) == pytest.approx(expected, abs=5e-8)


@pytest.mark.parametrize(("n", "every", "once"), [(1.49, 0.925437, 0.924049), (1.52, 0.918318, 0.916653)])
def test_a_clear_plate_passes_what_fresnel_says(n: float, every: float, once: float) -> None:
    """2n/(n²+1) with all inner reflections, (1-R)² without; reference values §6."""
    assert plate(n) == pytest.approx(every, abs=5e-7)
    assert plate(n) == pytest.approx(2 * n / (n * n + 1))
    assert plate(n, all_reflections=False) == pytest.approx(once, abs=5e-7)


def test_an_absorbing_plate_sums_its_inner_reflections() -> None:
    """Against the series (1-R)² t (1 + R²t² + R⁴t⁴ + …), term by term."""
    r, t = reflectance(1.5), 0.7
    series = sum((1 - r) ** 2 * t * (r * t) ** (2 * i) for i in range(30))
    assert plate(1.5, internal=t) == pytest.approx(series)


def test_absorption_follows_beer_and_lambert() -> None:
    """T = 0.10 over 38 µm is 0.0605944 per µm (reference values §6), and doubles with thickness to 0.01."""
    per_um = transmission.absorption_per_um(0.10, 38.0)
    assert per_um == pytest.approx(0.0605944, abs=1e-7)
    assert transmission.internal_transmission(per_um, 76.0) == pytest.approx(0.01)


def test_darkness_is_taken_off_before_dividing() -> None:
    """(92 - 2) / (102 - 2)."""
    found = measured(Reading(102.0, 0.0), Reading(92.0, 0.0), DARK)
    assert (found.value, found.density) == pytest.approx((0.9, -math.log10(0.9)))


def test_noise_of_all_three_readings_is_carried() -> None:
    """Against the propagation formula with numerical derivatives (JCGM 100:2008 5.1.2)."""
    values, noises = (102.0, 52.0, 2.0), (0.5, 0.4, 0.3)

    def share(a: float, b: float, c: float) -> float:
        return (b - c) / (a - c)

    variance = 0.0
    for i, noise in enumerate(noises):
        moved = list(values)
        moved[i] += 1e-4
        variance += ((share(*moved) - share(*values)) / 1e-4 * noise) ** 2
    found = measured(*(Reading(v, n) for v, n in zip(values, noises, strict=True)))
    assert found.standard == pytest.approx(math.sqrt(variance), rel=1e-4)


def test_a_second_open_reading_takes_out_the_lamps_drift() -> None:
    """Lamps that rise steadily from 98 to 102 gave 100 while the sheet lay there; the drift adds doubt."""
    found = measured(Reading(98.0, 0.0), Reading(90.0, 0.0), Reading(0.0, 0.0), Reading(102.0, 0.0))
    assert found.value == pytest.approx(0.9)
    assert found.standard == pytest.approx(0.9 * 0.02 / math.sqrt(3))


def test_a_sheet_that_shows_no_light_gives_a_density_it_has_at_least() -> None:
    """Signal within the noise: a bound, marked as one."""
    found = measured(Reading(1000.0, 1.0), Reading(2.5, 1.0), Reading(2.0, 1.0))
    assert found.opaque
    assert 2.3 < found.density < 3.0


def test_lamps_that_are_off_are_noticed() -> None:
    """No transmission from two dark readings."""
    with pytest.raises(ValueError, match="light the lamps"):
        measured(Reading(2.1, 0.5), Reading(2.0, 0.5), Reading(2.0, 0.5))


def test_a_stack_multiplies() -> None:
    """0.9 × 0.8, relative uncertainties in quadrature."""
    found = transmission.stack([of(0.9, 0.009), of(0.8, 0.016)])
    assert found.value == pytest.approx(0.72)
    assert found.standard == pytest.approx(0.72 * math.hypot(0.01, 0.02))
    assert transmission.stack([]).value == 1.0


def test_a_transmission_above_one_is_refused() -> None:
    """The open reading was wrong."""
    with pytest.raises(ValueError, match="repeat the reading"):
        of(1.2, 0.01)


@pytest.mark.parametrize(
    ("violet", "clear", "verdict"),
    [
        (0.9, 0.89, "passes"),
        (0.88, 0.3, "blocks_uv"),
        (0.9, 0.7, "doubtful"),
        (0.532, 0.34, "blocks_uv"),
        (0.3, 0.3, "dim"),
        (0.0, 0.0, "dim"),
    ],
)
def test_a_sheet_is_named_by_what_it_does_to_uv(violet: float, clear: float, verdict: str) -> None:
    """The clear channel sees UV-A beside the violet lines."""
    assert judge_sheet(of(violet, 0.005), of(clear, 0.005)).verdict == verdict


@pytest.mark.parametrize(("held", "clean", "needed"), [(7, 10, 1.7), (11, 14, 2.3)])
def test_black_needs_two_steps_more_than_the_first_clean_step(held: int, clean: int, needed: float) -> None:
    """The two worked cases of the project's trade notes, 1.4."""
    clear, dose = of(10**-0.04, 0.001), 60.0
    enough = Transmission(0.0, 0.0, 0.04 + needed + 1e-9, 0.0)
    short = Transmission(0.0, 0.0, 0.04 + needed - 0.01, 0.0)
    good = dose_window(clear, enough, dose_mj_cm2=dose, held_step=held, clean_step=clean)
    assert (good.verdict, good.low_mj_cm2, good.margin_steps) == ("safe", 60.0, pytest.approx(2.0))
    assert good.high_mj_cm2 == pytest.approx(60.0 * 10**0.3)
    assert dose_window(clear, short, dose_mj_cm2=dose, held_step=held, clean_step=clean).verdict == "thin"


def test_a_black_that_leaks_says_what_to_do() -> None:
    """Density 1 is not enough for a resist that is clean at step 10."""
    found = dose_window(of(0.9, 0.01), of(0.1, 0.01), dose_mj_cm2=60, held_step=7, clean_step=10)
    assert found.verdict == "bleeds"
    assert "two layers" in found.sentence


def test_asking_for_a_higher_step_costs_margin() -> None:
    """One step more of hold is one step less of margin."""
    args = {"dose_mj_cm2": 60.0, "held_step": 7.0, "clean_step": 10.0}
    usual = dose_window(of(0.9, 0.0), of(0.01, 0.0), **args)
    higher = dose_window(of(0.9, 0.0), of(0.01, 0.0), **args, target_step=8)
    assert usual.margin_steps - higher.margin_steps == pytest.approx(1.0)


def test_steps_in_the_wrong_order_are_refused() -> None:
    """Clean before held cannot be."""
    with pytest.raises(ValueError, match="held_step must lie below clean_step"):
        dose_window(of(0.9, 0.0), of(0.01, 0.0), dose_mj_cm2=60, held_step=10, clean_step=7)
