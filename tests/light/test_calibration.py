"""Calibration records and the drift of the ratio with lamp hours."""

import math

import pytest

from sumlight.light.calibration import Calibration, RatioModel, Shift, model_from


def tablet(hours: float, ln_ratio: float, sigma: float = 0.04) -> Calibration:
    """A tablet check as recorded."""
    return Calibration("tablet", ln_ratio, sigma, hours, "2026-03-01T10:00:00Z")


def test_a_single_calibration_is_repeated_where_it_was_made() -> None:
    """Nothing else is known, so its own value and uncertainty stand."""
    mean, sigma = model_from([tablet(300, -4.4, 0.05)]).at(300)
    assert (mean, sigma) == pytest.approx((-4.4, 0.05), rel=2e-3)


def test_the_uncertainty_grows_with_lamp_hours_since_the_calibration() -> None:
    """At 10, 100 and 500 h later it is wider each time."""
    model = model_from([tablet(300, -4.4)])
    sigmas = [model.at(300 + dh)[1] for dh in (0, 10, 100, 500)]
    assert sigmas == sorted(sigmas)
    assert sigmas[3] > 1.5 * sigmas[0]


def test_the_ratio_is_expected_to_fall_before_a_second_check_says_so() -> None:
    """The phosphor fades faster than the lines: about two percent in 100 h."""
    model = model_from([tablet(300, -4.4)])
    assert model.at(400)[0] == pytest.approx(-4.42, abs=0.002)


def test_a_check_is_due_without_any_calibration() -> None:
    """A new box asks at once."""
    assert RatioModel().check_due(0.0, 0.1)


@pytest.mark.parametrize(("hours", "tolerance", "due"), [(399, 0.05, False), (401, 0.05, True), (401, 0.5, False)])
def test_a_check_is_due_when_the_tolerance_is_passed_but_at_most_every_hundred_hours(
    hours: float, tolerance: float, due: bool
) -> None:
    """Both conditions count."""
    assert model_from([tablet(300, -4.4)]).check_due(hours, tolerance) is due


def test_a_dirty_diffuser_shifts_the_ratio_and_adds_its_doubt() -> None:
    """By hand: shift in the mean, variances add."""
    clean = model_from([tablet(300, -4.4)])
    fouled = model_from([tablet(300, -4.4)], [Shift(320, 0.105, 0.03)])
    mean, sigma = clean.at(330)
    assert fouled.at(330) == pytest.approx((mean + 0.105, math.hypot(sigma, 0.03)))


def test_taught_boxes_are_relative_until_something_absolute_is_known() -> None:
    """A radiometer makes the scale absolute and the taught record is dropped."""
    taught = Calibration("teach", 0.0, 0.01, 10, "2026-01-01T00:00:00Z")
    meter = Calibration("radiometer", -4.3, 0.02, 20, "2026-01-02T00:00:00Z", common_ln_sigma=0.08)
    assert model_from([taught]).relative
    model = model_from([taught, meter])
    assert not model.relative
    assert model.at(20)[0] == pytest.approx(-4.3, abs=1e-3)
    assert model.common_ln_sigma == 0.08


def test_a_wrong_reading_stands_out() -> None:
    """A tablet read one step off (ln 0.345) is far beyond what was expected, a usual one is not."""
    model = model_from([tablet(300, -4.4), tablet(400, -4.42), tablet(500, -4.44)])
    assert abs(model.surprise(tablet(600, -4.46 + 0.345))) > 5
    assert abs(model.surprise(tablet(600, -4.46 + 0.03))) < 1


def test_records_of_different_meters_are_not_mixed() -> None:
    """A calibration holds for its lamp set, meter and position only."""
    other = Calibration("tablet", -4.4, 0.04, 10, "2026-01-01T00:00:00Z", meter="above")
    with pytest.raises(ValueError, match="cannot be combined"):
        model_from([tablet(5, -4.4), other])


def test_lamp_hours_do_not_go_back() -> None:
    """Asking about the past is a mistake of the caller."""
    with pytest.raises(ValueError, match="must not go back"):
        model_from([tablet(300, -4.4)]).at(299)


@pytest.mark.parametrize(
    ("ln_ratio", "sigma", "hours", "field"),
    [(math.nan, 0.1, 1.0, "ln_ratio"), (0.0, 0.0, 1.0, "ln_sigma"), (0.0, 0.1, -1.0, "lamp_hours")],
)
def test_impossible_records_are_refused_by_field(ln_ratio: float, sigma: float, hours: float, field: str) -> None:
    """The message names the field."""
    with pytest.raises(ValueError, match=field):
        Calibration("tablet", ln_ratio, sigma, hours, "")
