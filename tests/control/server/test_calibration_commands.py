"""A newcomer's way from an uncalibrated box to doses that can be believed, by commands only.

Truth is the twin's own bookkeeping of actinic dose, which control never sees; the tablet is developed by the twin's
resist, with panels that scatter by 3 % and zones by 1 % (project's figures).
"""

import math
from contextlib import closing
from dataclasses import replace
from typing import Any

import pytest

from sumlight.box.description import BoxDescription
from sumlight.light.lampheat import SETTLES_S
from tests.control.bench_box import BenchBox, demo_box, recipe_text
from tests.control.conftest import MakeBench
from tests.control.tablet_person import REFERENCE_MJ_CM2, TARGET_STEP, develop, expose_zones, tablet_run


def uncalibrated(factor: float = 1.35) -> dict[str, Any]:
    """The demo box with a number in box.yaml that is off by `factor`, and says itself that it is doubtful."""
    box = demo_box()
    meter = box.meters[0]
    wrong = meter.model_copy(
        update={"mw_cm2_per_basic_count": factor * meter.mw_cm2_per_basic_count, "calibration_uncertainty": 0.3}
    )
    return {"box": box.model_copy(update={"meters": [wrong]})}


@pytest.fixture
def newcomer(make_bench: MakeBench) -> BenchBox:
    """A box out of the workshop."""
    return make_bench(ageing="apart", lamp_hours=120.0, **uncalibrated())


def block(bench: BenchBox) -> dict[str, Any]:
    """The calibration block of the one bank."""
    found: dict[str, Any] = bench.snapshot()["calibration"]["lower"]
    return found


def side_error(bench: BenchBox) -> float:
    """ln of true over counted dose of the panel just exposed."""
    return math.log(bench.true_dose() / bench.side().dose_mj_cm2)


@pytest.mark.long
def test_a_newcomer_gets_from_nothing_to_a_calibrated_box(newcomer: BenchBox) -> None:
    """One panel with four zones: the true dose is then what the box says, within what the box says it is worth."""
    newcomer.start().until_state("done")
    assert abs(side_error(newcomer)) > 0.25
    before = block(newcomer)
    assert (before["origin"], before["check_due"]) == ("box.yaml", True)
    assert any("step tablet" in text for text in newcomer.snapshot()["warnings"])

    reply = tablet_run(newcomer, panel=3)
    assert reply["applied"] is True
    assert reply["factor"] == pytest.approx(1 / 1.35, rel=0.12)

    assert "found before the calibration" in str(newcomer.ready().refused("start", recipe="quick", panel="P2").message)
    newcomer.ask("keep_dose", recipe="quick", recipe_sha256=newcomer.daemon.shelf.load("quick").sha256)
    newcomer.start().until_state("done")
    side = newcomer.snapshot()["exposure"]["sides"][0]
    assert abs(newcomer.true_dose() - side["dose_mj_cm2"]) < side["expanded_absolute_mj_cm2"]
    assert side["expanded_absolute_mj_cm2"] < 0.1 * side["dose_mj_cm2"]
    assert side["expanded_repeat_mj_cm2"] < 0.5 * side["expanded_absolute_mj_cm2"]
    assert side["largest_component"] == "calibration"
    after = block(newcomer)
    assert (after["origin"], after["check_due"], after["relative"]) == ("tablet", False, False)


@pytest.mark.long
def test_the_calibration_outlives_the_run_of_control(newcomer: BenchBox, make_bench: MakeBench) -> None:
    """Everything it rests on is in the logbook."""
    tablet_run(newcomer, panel=3)
    before = block(newcomer)
    newcomer.close()
    again = make_bench(ageing="apart", lamp_hours=120.0, **uncalibrated())
    assert block(again) == pytest.approx(before)


@pytest.mark.long
def test_the_wrong_convention_is_noticed_before_it_does_harm(newcomer: BenchBox) -> None:
    """The last held step entered as the first cleared one is a whole step, 0.345 in ln, off."""
    tablet_run(newcomer, panel=3)
    asked = {"recipe": "quick", "target_step": TARGET_STEP, "reference_mj_cm2": REFERENCE_MJ_CM2}
    true = expose_zones(newcomer, newcomer.ask("tablet_plan", **asked)["doses_mj_cm2"])
    exposure_id = newcomer.snapshot()["exposure"]["exposure_id"]
    read: dict[str, Any] = {
        "exposure_id": exposure_id,
        "readings": develop(true, 4),
        "target_step": TARGET_STEP,
        "reference_mj_cm2": REFERENCE_MJ_CM2,
        "apply": "calibration",
    }
    reply = newcomer.ask("tablet_readings", convention="first_cleared", **read)
    assert reply["applied"] is False
    assert abs(reply["surprise"]) > 3
    assert "which convention" in reply["sentence"]
    assert newcomer.ask("tablet_readings", convention="last_held", **read)["applied"] is True


@pytest.mark.parametrize(("step", "factor"), [("all_held", 0.25), ("all_gone", 4.0)])
def test_all_held_or_all_gone_gives_a_retry_and_no_number(bench: BenchBox, step: str, factor: float) -> None:
    """Common practice: two steps and two more, ×4 or ÷4."""
    expose_zones(bench, [20.0])
    reply = bench.ask(
        "tablet_readings",
        exposure_id=1,
        convention="last_held",
        readings=[{"zone": 1, "step": step}],
        target_step=8,
        apply="calibration",
    )
    assert (reply["retry_factor"], reply["factor"], reply["applied"]) == (factor, None, False)


def test_one_reading_gives_the_textbook_factor(bench: BenchBox) -> None:
    """10^(0.15 × steps): from step 6 to step 8 it takes 1.99526 times the dose (reference values §5)."""
    expose_zones(bench, [20.0])
    reply = bench.ask(
        "tablet_readings", exposure_id=1, convention="last_held", readings=[{"zone": "1", "step": 6}], target_step=8
    )
    assert reply["textbook_factor"] == pytest.approx(1.99526, rel=1e-5)
    assert block(bench)["origin"] == "box.yaml"


@pytest.mark.long
def test_a_later_reading_of_the_same_tablet_replaces_the_first(newcomer: BenchBox) -> None:
    """It is one panel, however often it is read."""
    first = tablet_run(newcomer, panel=3)
    again = newcomer.ask(
        "tablet_readings",
        exposure_id=newcomer.snapshot()["exposure"]["exposure_id"],
        convention="last_held",
        readings=develop(newcomer.truth.dose_mj_cm2(), 3),
        target_step=TARGET_STEP,
        reference_mj_cm2=REFERENCE_MJ_CM2,
        apply="calibration",
    )
    assert again["calibration"]["ln_sigma"] == pytest.approx(first["calibration"]["ln_sigma"])


def test_a_radiometer_is_read_while_lamps_burn_steadily(newcomer: BenchBox) -> None:
    """Its reading here is the twin's true irradiance at the glass."""
    error = newcomer.refused("radiometer", bank="lower", mw_cm2=5.0, relative_uncertainty=0.03)
    assert error.code == "refused"
    newcomer.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=20.0)
    newcomer.until(lambda: newcomer.world.is_lit("lower"))
    newcomer.run(6.0)
    began = newcomer.world.actinic_mj_cm2("lower")
    newcomer.run(0.05)
    true = (newcomer.world.actinic_mj_cm2("lower") - began) / 0.05
    newcomer.ask("radiometer", bank="lower", mw_cm2=true, relative_uncertainty=0.03)
    newcomer.until_state("done")
    newcomer.start().until_state("done")
    assert abs(side_error(newcomer)) < 0.01
    found = block(newcomer)
    assert (found["origin"], found["common_ln_sigma"]) == ("radiometer", 0.03)
    with newcomer.logbook() as book:
        (kept,) = book.calibrations.kept().calibrations
    assert kept.heat is not None  # as warm as when it was read, a moment after they had struck and burned for 6 s
    assert -math.expm1(-6.0 / SETTLES_S) < kept.heat < -math.expm1(-8.0 / SETTLES_S)


def test_a_trusted_time_becomes_a_dose_for_a_box_without_calibration(newcomer: BenchBox) -> None:
    """Doses are then relative, and said to be."""
    newcomer.ready().ask("series", kind="teach", recipe="quick", panel="good one", seconds=8.0)
    newcomer.until_state("done")
    taught = newcomer.true_dose("1")
    reply = newcomer.ask("teach", exposure_id=newcomer.snapshot()["exposure"]["exposure_id"])
    assert reply["relative"] is True
    newcomer.start_new(dose_mj_cm2=round(reply["recipe_dose_mj_cm2"], 3)).until_state("done")
    assert newcomer.true_dose() == pytest.approx(taught, rel=0.005)
    with newcomer.logbook() as book:
        (kept,) = book.calibrations.kept().calibrations
        run = next(row for row in book.recent(2) if row["exposure_id"] == kept.exposure_id)
    assert kept.heat == run["sides"][0]["budget"]["heat"] > 0.0
    assert block(newcomer)["relative"] is True
    assert "relative" in block(newcomer)["sentence"]


@pytest.mark.long
def test_the_budget_stands_in_the_record(newcomer: BenchBox) -> None:
    """With its components, the ratio it rests on and the colour of the light."""
    tablet_run(newcomer, panel=3)
    newcomer.start().until_state("done")
    shown = newcomer.snapshot()["exposure"]["sides"][0]
    with newcomer.logbook() as book:
        kept = book.recent(1)[0]["sides"][0]["budget"]
    assert kept["expanded_absolute_mj_cm2"] == pytest.approx(shown["expanded_absolute_mj_cm2"])
    assert {part["name"] for part in kept["components"]} >= {"calibration", "gaps", "cut-off", "sensor temperature"}
    assert kept["anchor"]["origin"] == "tablet"
    assert sum(kept["fingerprint"]["shares"]) == pytest.approx(1.0)
    assert kept["spectrum"] == "same"


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"convention": "step"}, "convention"),
        ({"readings": []}, "readings"),
        ({"readings": [{"zone": "9", "step": 7}]}, "readings"),
        ({"readings": [{"zone": "1", "step": 40}]}, "readings"),
        ({"readings": [{"zone": "1", "step": "seven"}]}, "readings"),
        ({"target_step": 7.5}, "target_step"),
        ({"apply": "now"}, "apply"),
        ({"exposure_id": 77}, "exposure_id"),
    ],
)
def test_readings_that_make_no_sense_are_refused(bench: BenchBox, values: dict[str, Any], field: str) -> None:
    """With the field at fault, and nothing kept."""
    expose_zones(bench, [20.0])
    good = {"exposure_id": 1, "convention": "last_held", "readings": [{"zone": "1", "step": 7}], "target_step": 8}
    assert bench.refused("tablet_readings", **{**good, **values}).field == field


def test_a_series_keeps_what_it_was_run_for_in_its_record(bench: BenchBox) -> None:
    """Beside a note that is free to say anything."""
    known = {"target_step": 9, "reference_mj_cm2": 55}
    run = {"kind": "tablet", "recipe": "quick", "panel": "", "doses_mj_cm2": [5.0]}
    bench.ready().ask("series", **run, parameters=known, note="target step 3")
    bench.until_state("done")
    with bench.logbook() as book:
        row = book.recent()[0]
    assert (row["parameters"], row["note"]) == (known, "target step 3")


@pytest.mark.parametrize(
    ("kind", "parameters", "field"),
    [
        ("tablet", {"target_step": 21}, "parameters.target_step"),
        ("tablet", {"target_step": 9, "reference_mj_cm2": 0}, "parameters.reference_mj_cm2"),
        ("strip", {"target_step": 9}, "parameters.target_step"),
        ("tablet", "target step 9", "parameters"),
    ],
)
def test_odd_parameters_light_nothing(bench: BenchBox, kind: str, parameters: object, field: str) -> None:
    """They are refused with the field before a lamp is on."""
    run = {"kind": kind, "recipe": "quick", "panel": "", "doses_mj_cm2": [5.0]}
    assert bench.ready().refused("series", **run, parameters=parameters).field == field
    assert bench.state == "idle"


def test_places_of_a_field_are_as_many_as_its_legs(bench: BenchBox) -> None:
    """A place a leg, or the map is of something else."""
    run = {"kind": "field", "recipe": "quick", "panel": "", "seconds": 3.0, "legs": 2}
    refused = bench.ready().refused("series", **run, parameters={"places": [[0, 0]]})
    assert refused.field == "parameters.places"


def test_a_tablet_from_before_new_lamps_calibrates_nothing(bench: BenchBox) -> None:
    """Its light was that of other lamps."""
    expose_zones(bench, [20.0])
    bench.ask("new_lamps", bank="lower", lamp_type="invented tubes")
    read = {"exposure_id": 1, "convention": "last_held", "readings": [{"zone": "1", "step": 7}], "target_step": 8}
    assert bench.refused("tablet_readings", apply="calibration", **read).code == "refused"
    assert block(bench)["origin"] == "box.yaml"


def two_zones_read(newcomer: BenchBox) -> dict[str, Any]:
    """What is asked of a tablet in two zones, after its exposure."""
    true = expose_zones(newcomer, [15.0, 17.0])
    return {
        "exposure_id": newcomer.snapshot()["exposure"]["exposure_id"],
        "convention": "last_held",
        "target_step": TARGET_STEP,
        "reference_mj_cm2": REFERENCE_MJ_CM2,
        "readings": develop(true, 3),
    }


def test_looking_at_readings_leaves_no_record_until_they_are_used(newcomer: BenchBox) -> None:
    """However often they are worked out; a corrected reading takes the place of the first one."""
    ask = two_zones_read(newcomer)
    for _ in range(3):
        assert newcomer.ask("tablet_readings", **ask)["factor"] is not None
    newcomer.ask("tablet_plan", recipe="quick", target_step=TARGET_STEP)
    newcomer.run(0.5)
    assert recorded(newcomer) == []
    newcomer.ask("tablet_readings", **ask, apply="recipe")
    newcomer.run(0.5)
    assert [row["zone"] for row in recorded(newcomer)] == ["1", "2"]
    newcomer.ask("tablet_readings", **ask | {"readings": [{"zone": "1", "step": 7}]}, apply="recipe")
    newcomer.ask("tablet_readings", **ask, apply="calibration")
    newcomer.run(0.5)
    assert [row["zone"] for row in recorded(newcomer)] == ["1", "2"]


def recorded(bench: BenchBox) -> list[dict[str, Any]]:
    """The tablet readings in the logbook."""
    with closing(bench.logbook()) as book:
        return book.calibrations.tablet_readings()


def test_zones_are_planned_for_how_this_bench_marks_half_steps(newcomer: BenchBox) -> None:
    """Closer together once a half step was marked."""

    def wide() -> float:
        doses = newcomer.ask("tablet_plan", recipe="quick", target_step=TARGET_STEP)["doses_mj_cm2"]
        return float(doses[-1] / doses[0])

    before, ask = wide(), two_zones_read(newcomer)
    marked = [{"zone": "1", "step": 7, "half": True}, {"zone": "2", "step": 8}]
    newcomer.ask("tablet_readings", **ask | {"readings": marked}, apply="recipe")
    newcomer.run(0.5)
    assert wide() < 0.99 * before


def test_a_reference_without_stated_uncertainty_counts_as_twenty_per_cent_and_that_is_said_before(
    newcomer: BenchBox,
) -> None:
    """k = 2; a stated one counts as stated, and nothing is said of it."""
    ask = two_zones_read(newcomer)
    for unstated in ({}, {"reference_uncertainty": 0.0}):
        looked = newcomer.ask("tablet_readings", **ask, **unstated)
        assert not looked["applied"]
        assert "it counts as ±20%" in looked["sentence"]
    assert "counts as" not in newcomer.ask("tablet_readings", **ask, reference_uncertainty=0.03)["sentence"]
    newcomer.ask("tablet_readings", **ask, apply="calibration", sure=True)
    assert block(newcomer)["common_ln_sigma"] == pytest.approx(0.1)
    assert block(newcomer)["expanded_relative"] > 0.2


def test_a_radiometer_without_stated_uncertainty_counts_as_twenty_per_cent(newcomer: BenchBox) -> None:
    """And it is said."""
    newcomer.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=12.0)
    newcomer.until(lambda: newcomer.world.is_lit("lower"))
    newcomer.run(6.0)
    reply = newcomer.ask("radiometer", bank="lower", mw_cm2=5.0)
    assert "it counts as ±20%" in reply["sentence"]
    assert block(newcomer)["expanded_relative"] == pytest.approx(0.2, abs=0.005)


@pytest.mark.long
def test_a_chip_clock_that_slows_after_the_calibration_leaves_the_dose_true(newcomer: BenchBox) -> None:
    """3 % slower: each conversion collects 3 % more, in what its registers call the same time."""
    newcomer.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=12.0)
    newcomer.until(lambda: newcomer.world.is_lit("lower"))
    newcomer.run(6.0)
    newcomer.ask("radiometer", bank="lower", mw_cm2=newcomer.world.actinic_mw_cm2("lower"), relative_uncertainty=0.01)
    newcomer.until_state("done")
    doses = []
    for error in (0.0, 0.03, -0.03):
        chip = newcomer.world._chips["below"]
        chip.quirks = replace(chip.quirks, clock_error=error)
        newcomer.ready()
        newcomer.loop.banks["lower"].meter.connect(newcomer.clock.now_s)
        newcomer.run(30.0)
        newcomer.start_new(dose_mj_cm2=40).until_state("done")
        doses.append(newcomer.true_dose())
    assert doses[1:] == pytest.approx([doses[0]] * 2, rel=0.004)


def at_place(position: str) -> dict[str, Any]:
    """The uncalibrated box with its meter at a named place."""
    box: BoxDescription = uncalibrated()["box"]
    return {"box": box.model_copy(update={"meters": [box.meters[0].model_copy(update={"position": position})]})}


def test_taught_and_radiometer_hold_at_the_named_place(make_bench: MakeBench) -> None:
    """Each is kept with the place that it was made at; a tablet below."""
    bench = make_bench(ageing="apart", **at_place("front edge"))
    bench.ready().ask("series", kind="teach", recipe="quick", panel="", seconds=3.0)
    bench.until_state("done")
    assert bench.ask("teach", exposure_id=1)["calibration"]["origin"] == "teach"
    bench.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=12.0)
    bench.until(lambda: bench.world.is_lit("lower"))
    bench.run(6.0)
    reply = bench.ask("radiometer", bank="lower", mw_cm2=5.0, relative_uncertainty=0.03)
    assert reply["calibration"]["origin"] == "radiometer"


def test_what_was_taught_before_the_meter_moved_is_relative_and_calibrates_nothing(make_bench: MakeBench) -> None:
    """Its number was the box's own, whatever has changed since."""
    before = make_bench(ageing="apart", **at_place("front edge"))
    before.ready().ask("series", kind="teach", recipe="quick", panel="", seconds=3.0)
    before.until_state("done")
    before.close()
    reply = make_bench(ageing="apart", **at_place("rear edge")).ask("teach", exposure_id=1)
    assert (reply["relative"], reply["calibration"]["origin"]) == (True, "box.yaml")


@pytest.mark.long
def test_a_calibration_is_not_used_once_the_meter_sits_elsewhere(make_bench: MakeBench) -> None:
    """Nor is a tablet that was exposed before the move; at the old place it holds again."""
    before = make_bench(ageing="apart", **at_place("front edge"))
    tablet_run(before, panel=3)
    exposure_id = before.snapshot()["exposure"]["exposure_id"]
    before.close()
    moved = make_bench(ageing="apart", **at_place("rear edge"))
    found = block(moved)
    assert (found["origin"], found["check_due"]) == ("box.yaml", True)
    assert "sits elsewhere" in found["sentence"]
    moved.save("quick", recipe_text())
    moved.ready().ask("start", recipe="quick", panel="P")
    moved.until_state("done")
    assert any("sits elsewhere" in text for text in moved.snapshot()["warnings"])
    read = {"convention": "last_held", "readings": [{"zone": "1", "step": 8}], "target_step": TARGET_STEP}
    error = moved.refused("tablet_readings", exposure_id=exposure_id, **read, apply="calibration")
    assert error.message == "The sensor was moved since this tablet was exposed."
    moved.close()
    assert block(make_bench(ageing="apart", **at_place("front edge")))["origin"] == "tablet"
