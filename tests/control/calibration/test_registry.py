"""The calibration book: what holds now, made from records alone."""

import math
from dataclasses import replace

import pytest

from sumlight.control.calibration.registry import OTHER_LAMPS_SIGMA, CalibrationBook
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    LampsFitted,
    SelfCheckRecord,
    ShiftRecord,
    StoredCalibrations,
)
from tests.control.bench_box import demo_box

UTC = "2026-11-25T08:00:00.000000Z"
TABLET = CalibrationRecord("tablet", "below", "lower", 0, -0.7, 0.035, 0.0, 100.0, UTC, gain_code=4)
SHIFT = ShiftRecord("below", "lower", 0, 100.0, 0.12, 0.01, True, UTC)


def book(**kept: object) -> CalibrationBook:
    """The demo box with what its logbook held."""
    return CalibrationBook(demo_box(), replace(StoredCalibrations(), **kept))  # type: ignore[arg-type]


def ln_k(of: CalibrationBook, hours: float = 100.0) -> float:
    """ln of what a basic count is worth."""
    return math.log(of.k("lower", hours).mw_cm2_per_basic_count)


def test_without_records_the_number_in_the_file_holds() -> None:
    """However sure the file is of it, nobody has checked it here; what the file doubts more stays."""
    anchor = book().k("lower", 0.0)
    meter = demo_box().meters[0]
    assert (anchor.origin, anchor.mw_cm2_per_basic_count) == ("box.yaml", meter.mw_cm2_per_basic_count)
    assert anchor.ln_sigma > 4 * meter.calibration_uncertainty
    assert book().k("lower", 2000.0).ln_sigma > 1.1 * anchor.ln_sigma
    unsure = meter.model_copy(update={"calibration_uncertainty": 0.7})
    box = demo_box(meters=[unsure])
    assert CalibrationBook(box, StoredCalibrations()).k("lower", 0.0).ln_sigma == pytest.approx(0.7)


def test_other_lamps_make_the_number_in_the_file_doubtful() -> None:
    """It was found for the lamps before."""
    fitted = book(calibrations=[TABLET], lamp_sets={"lower": LampsFitted("lower", 1, "tubes", UTC)})
    anchor = fitted.k("lower", 0.0)
    assert (anchor.origin, anchor.ln_sigma) == ("box.yaml", OTHER_LAMPS_SIGMA)


def test_a_calibration_grows_less_certain_with_lamp_hours_until_a_check_is_asked_for() -> None:
    """Never sooner than after 100 h; and the ratio falls as lamps age (figures: the drift model's own tests)."""
    of = book(calibrations=[TABLET])
    sigmas = [of.k("lower", hours).ln_sigma for hours in (100, 200, 400, 800)]
    assert sigmas == sorted(sigmas)
    assert ln_k(of, 200.0) < ln_k(of) == pytest.approx(-0.7, abs=0.001)
    due = [of.check_due("lower", hours, 0.05).due for hours in (100, 199, 201)]
    assert due == [False, False, True]
    assert not of.check_due("lower", 201.0, 0.2).due


def test_a_shift_moves_the_ratio_and_an_unapplied_one_does_not() -> None:
    """12 % in ln, over either origin."""
    for records in ([], [TABLET]):
        plain, moved = book(calibrations=records), book(calibrations=records, shifts=[SHIFT])
        assert ln_k(moved) - ln_k(plain) == pytest.approx(0.12, abs=0.001)
        noted = book(calibrations=records, shifts=[replace(SHIFT, applied=False)])
        assert ln_k(noted) == ln_k(plain)


def test_a_gain_learned_later_moves_a_calibration_made_with_it() -> None:
    """Code 4 found 1 % too strong against code 5: its counts were worth 1 % less, so the ratio for true ones rises."""
    of = book(calibrations=[TABLET])
    before = ln_k(of)
    of.learn_gain(GainStepRecord("below", 4, -0.01, 1e-5, UTC))
    assert of.gains["below"].ln_error(4)[0] == pytest.approx(0.01, abs=1e-5)
    assert ln_k(of) - before == pytest.approx(0.01, abs=1e-4)


def test_a_taught_ratio_gives_way_to_an_anchored_one() -> None:
    """Taught ones have no absolute scale."""
    taught = replace(TABLET, origin="teach", ln_ratio=0.0)
    assert book(calibrations=[taught]).k("lower", 100.0).relative
    both = book(calibrations=[taught, TABLET])
    assert not both.k("lower", 100.0).relative
    assert ln_k(both) == pytest.approx(-0.7, abs=0.01)


def test_tubes_that_had_burned_elsewhere_do_not_settle_once_more() -> None:
    """What their first hours do to the ratio lies behind them; hours that were recorded count alike in both."""
    box = demo_box()
    used = box.model_copy(update={"banks": [box.banks[0].model_copy(update={"lamp_hours": 600.0})]})
    kept = StoredCalibrations(calibrations=[replace(TABLET, lamp_hours=2.0)], shifts=[replace(SHIFT, lamp_hours=3.0)])
    fell = {name: ln_k(CalibrationBook(of, kept), 60.0) for name, of in (("new", box), ("used", used))}
    assert fell["used"] - fell["new"] > 0.01
    swapped = replace(kept, calibrations=[], lamp_sets={"lower": LampsFitted("lower", 1, "tubes", UTC)})
    new, old = (CalibrationBook(of, swapped).k("lower", 60.0) for of in (box, used))
    assert new.ln_sigma == old.ln_sigma


NOMINAL_S = 0.05004


def test_a_chip_whose_clock_slows_after_the_calibration_is_reckoned_with() -> None:
    """3 % longer conversions collect 3 % more counts, each worth less; what is calibrated so keeps its ratio."""
    of = book(calibrations=[TABLET])
    nominal = ln_k(of)
    of.reckon_with_window("below", NOMINAL_S * 1.03, NOMINAL_S)
    assert ln_k(of) - nominal == pytest.approx(-math.log(1.03), abs=1e-9)
    made_so = book(calibrations=[replace(TABLET, ln_window=math.log(1.03))])
    made_so.reckon_with_window("below", NOMINAL_S * 1.03, NOMINAL_S)
    assert ln_k(made_so) == pytest.approx(nominal, abs=1e-5)
    unchecked = book()
    without = ln_k(unchecked)
    unchecked.reckon_with_window("below", NOMINAL_S * 0.97, NOMINAL_S)
    assert ln_k(unchecked) - without == pytest.approx(-math.log(0.97), abs=1e-9)


@pytest.mark.parametrize("measured_s", [None, NOMINAL_S * 1.003, NOMINAL_S * 0.997, NOMINAL_S * 1.08])
def test_a_window_that_is_as_it_should_be_or_a_fault_changes_nothing(measured_s: float | None) -> None:
    """What ticks leave unsure is no clock error, and beyond five per cent the meter is at fault."""
    of = book(calibrations=[TABLET])
    nominal = ln_k(of)
    of.reckon_with_window("below", measured_s, NOMINAL_S)
    assert ln_k(of) == nominal


def moved_to(position: str, **kept: object) -> CalibrationBook:
    """The demo box with its meter at a named place."""
    box = demo_box()
    meter = box.meters[0].model_copy(update={"position": position})
    return CalibrationBook(box.model_copy(update={"meters": [meter]}), replace(StoredCalibrations(), **kept))  # type: ignore[arg-type]


def test_a_calibration_holds_only_where_the_meter_sat() -> None:
    """Elsewhere the doubtful number of the file has to do, and it is said why; back in its place the old one holds."""
    here = replace(TABLET, position="front edge")
    for place, found_at in (("front edge", here), ("", TABLET)):
        of = moved_to(place, calibrations=[found_at])
        assert (of.k("lower", 100.0).origin, of.moved("lower")) == ("tablet", False)
        assert of.k("lower", 100.0).position == place
    moved = moved_to("rear edge", calibrations=[here])
    anchor, due = moved.k("lower", 100.0), moved.check_due("lower", 100.0, 0.9)
    assert (anchor.origin, anchor.ln_sigma) == ("box.yaml", pytest.approx(OTHER_LAMPS_SIGMA, rel=0.01))
    assert moved.age_hours("lower", 100.0) is None
    assert due.due
    assert "sits elsewhere" in due.sentence


def test_a_calibration_at_the_new_place_is_not_mixed_with_the_old_one() -> None:
    """Each place has its own ratio."""
    old, new = replace(TABLET, position="front edge"), replace(TABLET, position="rear edge", ln_ratio=-0.2)
    of = moved_to("rear edge", calibrations=[old, new])
    assert ln_k(of) == pytest.approx(-0.2, abs=0.001)
    assert not of.moved("lower")


LED = (10.0, 100.0, 100.0, 100.0, 100.0, 5.0)
REFERENCE = SelfCheckRecord("below", "lower", UTC, 10.0, LED, None, "reference", True)


def dirty(of_led: float, at_h: float) -> SelfCheckRecord:
    """A later check that saw so much of the LED."""
    return SelfCheckRecord("below", "lower", UTC, at_h, tuple(of_led * v for v in LED), None, "diffuser_dirty", False)


def test_a_window_share_is_over_that_at_the_last_calibration() -> None:
    """The LED's part that goes through does so twice: 1 − s + s·t² with s = 0.5 and t = 0.8 is 0.82 (by definition)."""
    checks = [REFERENCE, dirty(0.82, 20.0)]
    seen = book(self_checks=checks)
    assert seen.window_share("lower", 20.2) == pytest.approx(0.8, abs=1e-6)
    assert seen.window_share("lower", 21.2) is None
    corrected = replace(SHIFT, lamp_hours=20.1, ln_shift=-math.log(0.8))
    held = book(self_checks=checks, shifts=[corrected])
    assert held.window_share("lower", 20.2) == pytest.approx(0.8, abs=1e-6)
    assert (seen.corrected_by("lower"), held.corrected_by("lower")) == (1.0, pytest.approx(1.25))
    absorbed = book(self_checks=checks, shifts=[replace(corrected, applied=False)])
    assert absorbed.window_share("lower", 20.2) == pytest.approx(1.0)
    assert absorbed.corrected_by("lower") == 1.0
    assert book().window_share("lower", 20.2) is None


def test_a_calibration_through_a_dirty_window_knows_of_it() -> None:
    """Told as 1 for a lamp hour; a correction made before it is in it, too."""
    checks, corrected = [REFERENCE, dirty(0.82, 20.0)], replace(SHIFT, lamp_hours=20.1, ln_shift=-math.log(0.8))
    tablet = replace(TABLET, lamp_hours=50.0, made_utc=UTC.replace("2026", "2027"))
    calibrated = book(self_checks=checks, calibrations=[tablet], shifts=[corrected])
    assert calibrated.corrected_by("lower") == 1.0
    assert calibrated.window_share("lower", 50.3) == 1.0
    assert calibrated.window_share("lower", 52.0) is None


def test_a_sensor_that_has_changed_tells_nothing_of_its_window() -> None:
    """Its channels moved apart."""
    odd = replace(dirty(1.0, 20.0), led=(10.0, 100.0, 60.0, 100.0, 100.0, 5.0))
    assert book(self_checks=[REFERENCE, odd]).window_share("lower", 20.1) is None


def test_a_sensor_that_has_changed_is_said_and_nothing_is_corrected() -> None:
    """Its channels moved apart: no share of the window follows, and what was corrected before is not taken back."""
    odd = (10.0, 100.0, 60.0, 100.0, 100.0, 5.0)
    corrected = replace(SHIFT, lamp_hours=15.0)
    found = book(self_checks=[REFERENCE], shifts=[corrected]).judge_window("lower", odd, None)
    assert found.verdict == "sensor_changed"
    assert (found.ln_shift, found.may_apply) == (0.0, False)
    assert "The sensor changed" in found.sentence


def test_a_calibration_older_than_what_is_known_surprises_nobody() -> None:
    """What was expected then is not known any more; one at later hours is compared."""
    of = book(calibrations=[TABLET], shifts=[replace(SHIFT, lamp_hours=150.0)])
    far_off = replace(TABLET, ln_ratio=-0.1)
    assert of.surprise(replace(far_off, lamp_hours=120.0)) is None
    surprise = of.surprise(replace(far_off, lamp_hours=160.0))
    assert surprise is not None
    assert surprise > 3


def test_checks_that_disagree_are_told_with_the_wider_interval() -> None:
    """In the sentence that explains the ±; checks that agree are not spoken of."""
    steady = [replace(TABLET, lamp_hours=100.0 * (n + 1), ln_ratio=-0.7 - 0.01 * n) for n in range(5)]
    wild = [replace(record, ln_ratio=record.ln_ratio + (-0.12 if n % 2 else 0.12)) for n, record in enumerate(steady)]
    assert "disagreed" not in book(calibrations=steady).check_due("lower", 501.0, 0.5).sentence
    told = book(calibrations=wild)
    found = told.check_due("lower", 501.0, 0.5).sentence
    share = f"{2 * told.k('lower', 501.0).whole_ln_sigma:.0%}"
    assert f"The last 4 checks disagreed more than expected; ± is now {share}." in found
    assert "The last 4 checks" in told.check_due("lower", 700.0, 0.01).sentence


def test_the_scatter_of_panels_is_learned_from_tablets_and_not_from_radiometers() -> None:
    """Five wild tablets widen what is stated more than five radiometer readings that say the same."""
    wild = [replace(TABLET, lamp_hours=100.0 * (n + 1), ln_ratio=-0.7 + (-0.12 if n % 2 else 0.12)) for n in range(5)]
    metered = [replace(record, origin="radiometer") for record in wild]
    steady = [replace(TABLET, lamp_hours=100.0 * (n + 1)) for n in range(5)]
    of = {
        name: book(calibrations=c).k("lower", 510.0).ln_sigma
        for name, c in (("t", wild), ("m", metered), ("s", steady))
    }
    assert of["t"] > of["m"]
    assert of["t"] > 1.5 * of["s"]


def test_a_tablet_and_a_radiometer_that_contradict_each_other_are_told_and_doubted() -> None:
    """By what they lie apart beyond both their uncertainties; where they agree, nothing is wider for it."""
    first = replace(TABLET, origin="radiometer", ln_ratio=-0.7, ln_sigma=0.01, common_ln_sigma=0.02, lamp_hours=99.0)
    near = book(calibrations=[first, TABLET])
    assert near.k("lower", 100.0).common_ln_sigma == 0.0
    assert "apart" not in near.check_due("lower", 100.0).sentence
    assert near.compared(replace(TABLET, ln_ratio=-0.68)).startswith("Tablet and radiometer lie 2% apart; by what both")
    far = book(calibrations=[first, replace(TABLET, ln_ratio=-0.4)])
    assert far.k("lower", 100.0).common_ln_sigma == pytest.approx(0.3 / math.sqrt(3), rel=0.01)
    assert "35% apart" in far.check_due("lower", 100.0).sentence
    far.add(replace(TABLET, ln_ratio=-0.7, lamp_hours=100.5))
    assert far.k("lower", 101.0).common_ln_sigma == 0.0
