"""Doses found on another scale, without a box: ratios of what a count was worth then and is worth now."""

import math
from dataclasses import replace

import pytest

from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.calibration.old_scale import Moved, moved, one_dose, scale_moved
from sumlight.store.logbook.recipe_doses import FoundDose

THEN = CalibrationFactor(1.0, 0.3, 0.0, "box.yaml", True, 100.0, 0, meter="below", position="centre")
NOW = replace(
    THEN, mw_cm2_per_basic_count=0.75, ln_sigma=0.01, common_ln_sigma=0.02, origin="radiometer", relative=False
)


def told(then: CalibrationFactor, now: CalibrationFactor, ln_corrected: float = 0.0) -> list[Moved]:
    """A dose of 40 of one side."""
    found = {"lower": FoundDose("panel", 1, "", 40.0, then.kept())}
    return moved([("A", "lower", 40.0)], found, {"lower": now}, lambda _bank, _hours: ln_corrected)


def test_the_same_light_is_called_by_the_ratio_of_the_scales() -> None:
    """Counts stay, so a dose of 40 by a count of 1 is one of 30 by a count of 0.75."""
    (seen,) = told(THEN, NOW)
    assert seen.same_light_mj_cm2 == pytest.approx(30.0)
    assert told(THEN, replace(NOW, mw_cm2_per_basic_count=1.005)) == []


def test_between_two_calibrations_only_what_neither_told_of_is_another_scale() -> None:
    """A tenth, or more where the first one was less sure (k = 2)."""
    first = replace(THEN, ln_sigma=0.0, common_ln_sigma=0.02, relative=False, origin="radiometer")
    assert told(first, replace(NOW, mw_cm2_per_basic_count=1.09)) == []
    assert len(told(first, replace(NOW, mw_cm2_per_basic_count=1.12))) == 1
    unsure = replace(first, common_ln_sigma=0.1)
    assert told(unsure, replace(NOW, mw_cm2_per_basic_count=1.2)) == []


def test_a_corrected_window_and_the_sensors_clock_are_no_other_scale() -> None:
    """Both moved the number so that the same dose stays the same light."""
    assert told(THEN, replace(NOW, mw_cm2_per_basic_count=1.25), math.log(1.25)) == []
    slow = replace(NOW, mw_cm2_per_basic_count=math.exp(-0.03), ln_window=0.03)
    assert told(THEN, slow) == []


def test_no_single_dose_where_the_sides_moved_apart() -> None:
    """One number for both sides, or none."""
    a, b = told(THEN, NOW)[0], told(THEN, replace(NOW, mw_cm2_per_basic_count=0.9))[0]
    assert one_dose([a], 1) == pytest.approx(30.0)
    assert one_dose([a, a], 2) == pytest.approx(30.0)
    assert one_dose([a, b], 2) is None
    assert one_dose([a], 2) is None
    assert one_dose([], 0) is None


def test_a_calibration_that_moves_the_scale_is_told_of_at_once() -> None:
    """So that whoever made it knows that recipes wait."""
    assert scale_moved(THEN, NOW)
    assert not scale_moved(NOW, replace(NOW, mw_cm2_per_basic_count=0.78))
