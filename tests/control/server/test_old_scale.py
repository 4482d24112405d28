"""A dose that was found in units of the box, and a calibration after it: what the same light is called then.

The judge is the simulation's own bookkeeping of the true dose, which control never sees.
"""

import re

import pytest

from sumlight.control.calibration.old_scale import refuse_own_reference
from sumlight.control.refused import RefusedError
from tests.control.bench_box import BenchBox, recipe_text
from tests.control.conftest import MakeBench
from tests.control.server.test_calibration_commands import uncalibrated
from tests.control.tablet_person import REFERENCE_MJ_CM2, expose_zones, tablet_run


@pytest.fixture
def newcomer(make_bench: MakeBench) -> BenchBox:
    """A box whose number is a third too large."""
    return make_bench(**uncalibrated())


@pytest.fixture
def used(make_bench: MakeBench) -> BenchBox:
    """A box whose number is a third too large, after a panel that came out well."""
    made = make_bench(ripple_depth=0.0, **uncalibrated())
    made.start_new(dose_mj_cm2=20).until_state("done")
    return made


def by_radiometer(bench: BenchBox, reads: float = 1.0) -> str:
    """The true irradiance, read under steady light, and what is said to it; `reads` is by how much it is off."""
    bench.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=20.0)
    bench.until(lambda: bench.world.is_lit("lower"))
    bench.run(8.0)
    true = bench.world.actinic_mw_cm2("lower")
    told = bench.ask("radiometer", bank="lower", mw_cm2=reads * true, relative_uncertainty=0.02)
    bench.ask("dark")
    bench.run(1.0)
    bench.ask("abandon")
    return str(told["sentence"])


def refused(bench: BenchBox) -> str:
    """What is said to whoever starts that recipe once more."""
    bench.ready()
    return str(bench.refused("start", recipe="special", panel="P2").in_full)


def test_doses_of_a_box_that_nobody_calibrated_are_its_own_units(used: BenchBox) -> None:
    """Whatever box.yaml says of its number; after a radiometer they are mJ/cm²."""
    assert used.snapshot()["exposure"]["sides"][0]["relative"] is True
    block = used.snapshot()["calibration"]["lower"]
    assert block["relative"] is True
    assert "Doses are relative: they repeat, but are not mJ/cm²." in block["sentence"]
    by_radiometer(used)
    assert used.snapshot()["calibration"]["lower"]["relative"] is False


def test_a_dose_found_before_the_calibration_is_shown_in_the_new_scale_and_not_lit(used: BenchBox) -> None:
    """With that dose in the recipe the panel gets the light that the first one got."""
    first = used.true_dose()
    assert "take them over under Recipes" in by_radiometer(used)
    said = refused(used)
    found = re.match(
        r"Side A: this dose was found before the calibration\. .* now called ([\d.]+) mJ/cm², not 20\.", said
    )
    assert found, said
    assert float(found[1]) == pytest.approx(first, rel=0.02)
    used.start_new(dose_mj_cm2=float(found[1])).until_state("done")
    assert used.true_dose() == pytest.approx(first, rel=0.02)
    used.start("special").until_state("done")


def test_a_dose_that_a_data_sheet_gives_is_kept_by_one_act(used: BenchBox) -> None:
    """It was mJ/cm² all along; asked again with each panel, or after a restart, it would be a nuisance."""
    by_radiometer(used)
    used.save("special", recipe_text().replace("hold_s: 60", "hold_s: 90"))
    assert "keep the old one" in refused(used).lower()
    sha256 = used.daemon.shelf.load("special").sha256
    stale = used.refused("keep_dose", recipe="special", recipe_sha256="f0" * 32)
    assert "was changed" in str(stale.in_full)
    kept = used.ask("keep_dose", recipe="special", recipe_sha256=sha256, who="Ada")
    assert (kept["moved"], kept["found"]["kind"], kept["found"]["origin"]) == (False, "taken", "radiometer")
    used.daemon.writer.drain(0)
    (again,) = used.ask("recipe_scales", recipe="special")["recipes"]
    assert again["moved"] is False
    used.start("special").until_state("done")
    assert used.true_dose() == pytest.approx(20.0, rel=0.02)


def test_the_shelf_is_listed_with_the_scale_of_each_dose(used: BenchBox) -> None:
    """Before a calibration in box units; after it those that have to be taken over stand out, with their dose."""
    first = used.true_dose()
    (quick, special) = used.ask("recipe_scales")["recipes"]
    assert (special["relative"], special["found"]["relative"], special["moved"]) == (True, True, False)
    assert special["sentence"].startswith("In box units")
    assert quick["found"] is None
    by_radiometer(used)
    (quick, special) = used.ask("recipe_scales")["recipes"]
    assert (quick["moved"], quick["sentence"]) == (False, "This box has not lit this dose yet. It counts as mJ/cm².")
    assert special["moved"] is True
    assert special["same_light_mj_cm2"] == pytest.approx(first, rel=0.02)
    used.save("special", recipe_text(dose_mj_cm2=round(special["same_light_mj_cm2"], 2)))
    sha256 = used.daemon.shelf.load("special").sha256
    taken = used.ask("keep_dose", recipe="special", recipe_sha256=sha256, before_mj_cm2=20.0)
    assert taken["sentence"] == "In mJ/cm², found under a calibration (radiometer)."
    assert taken["found"]["calibrated_utc"] is not None


def test_the_time_of_a_draft_became_a_dose_in_box_units(make_bench: MakeBench) -> None:
    """That the recipe's file was changed by it does not make it mJ/cm²."""
    newcomer = make_bench(ripple_depth=0.0, **uncalibrated())
    newcomer.save("special", recipe_text().replace("dose_mj_cm2: 20", "draft_lit_s: 8"))
    newcomer.start("special").until_state("done")
    dose, first = newcomer.side().dose_mj_cm2, newcomer.true_dose()
    newcomer.save("special", recipe_text(dose_mj_cm2=round(dose, 1)))
    by_radiometer(newcomer)
    (found,) = newcomer.ask("recipe_scales", recipe="special")["recipes"]
    assert found["found"]["kind"] == "draft"
    assert found["same_light_mj_cm2"] == pytest.approx(first, rel=0.02)
    assert "now called" in refused(newcomer)


def test_under_other_lamps_nobody_knows_what_the_old_dose_was(used: BenchBox) -> None:
    """No number is made up."""
    used.ready().ask("new_lamps", bank="lower", lamp_type="tubes (invented)")
    by_radiometer(used)
    said = refused(used)
    assert "What it is in mJ/cm², nobody knows." in said
    (told,) = used.ask("recipe_scales", recipe="special")["recipes"]
    assert (told["moved"], told["same_light_mj_cm2"]) == (True, None)
    assert "now called" not in said


def test_a_calibration_that_rests_on_the_recipes_dose_asks_nothing(make_bench: MakeBench) -> None:
    """Whoever says that this dose just holds the target step has said what it is."""
    made = make_bench(**uncalibrated())
    made.save("quick", recipe_text(dose_mj_cm2=REFERENCE_MJ_CM2))
    made.start("quick").until_state("done")
    assert tablet_run(made, panel=3)["applied"] is True
    made.start("quick").until_state("done")
    assert made.true_dose() == pytest.approx(REFERENCE_MJ_CM2, rel=0.1)
    assert "One of them is wrong" in by_radiometer(made, 2.0)


def test_another_recipe_and_a_box_without_calibration_are_asked_nothing(used: BenchBox) -> None:
    """There is nothing to take over."""
    used.start("special").until_state("done")
    by_radiometer(used)
    used.start("quick").until_state("done")


def test_two_references_that_disagree_move_no_recipe_unseen(make_bench: MakeBench) -> None:
    """Within a tenth a calibration is a correction; 40 % more or less means that one of the two was wrong."""
    made = make_bench(ripple_depth=0.0)
    by_radiometer(made)
    made.start_new(dose_mj_cm2=20).until_state("done")
    by_radiometer(made, 1.04)
    made.start("special").until_state("done")
    by_radiometer(made, 1.4)
    assert "now called" in refused(made)


def test_another_number_in_the_box_file_moves_no_recipe_unseen(make_bench: MakeBench) -> None:
    """The units of the box are another's then; a restart alone changes nothing."""
    first = make_bench(ripple_depth=0.0, **uncalibrated(1.0))
    first.start_new(dose_mj_cm2=20).until_state("done")
    first.close()
    same = make_bench(ripple_depth=0.0, **uncalibrated(1.0))
    same.start_new(dose_mj_cm2=20).until_state("done")
    same.close()
    edited = make_bench(ripple_depth=0.0, **uncalibrated(1.3))
    edited.save("special", recipe_text(dose_mj_cm2=20))
    said = refused(edited)
    assert said.startswith("Side A: the number in box.yaml was changed since this dose was found.")
    assert "now called 26, not 20." in said


def test_a_correction_for_a_dirty_window_is_no_other_scale(make_bench: MakeBench) -> None:
    """It is there so that the same dose stays the same light."""
    made = make_bench(ripple_depth=0.0)
    made.self_check()
    made.start_new(dose_mj_cm2=20).until_state("done")
    made.ready()
    made.happen("diffuser_fouls", transmission=0.8)
    made.self_check()
    made.ask("self_check", bank="lower", apply=True)
    made.start("special").until_state("done")
    assert made.faults == []


def test_a_dose_found_on_this_box_makes_no_absolute_scale(newcomer: BenchBox) -> None:
    """However it is typed in: as it was, or rounded and with an uncertainty that nobody certified."""
    newcomer.ready().ask("series", kind="teach", recipe="quick", panel="good one", seconds=8.0)
    newcomer.until_state("done")
    taught = newcomer.ask("teach", exposure_id=newcomer.snapshot()["exposure"]["exposure_id"])["recipe_dose_mj_cm2"]
    expose_zones(newcomer, [taught])
    read = {"convention": "last_held", "readings": [{"zone": "1", "step": 6}], "target_step": 6, "exposure_id": 2}
    for reference in ({}, {"reference_mj_cm2": round(taught, 1), "reference_uncertainty": 0.05}):
        typed = {"reference_mj_cm2": taught, **reference}
        said = str(newcomer.refused("tablet_readings", **read, **typed, apply="calibration").in_full)
        assert "was found on this box, in its own units" in said
    sheet = {"reference_mj_cm2": 1.3 * taught, "reference_uncertainty": 0.05}
    assert newcomer.ask("tablet_readings", **read, **sheet, apply="calibration", sure=True)["applied"] is True


def test_a_strip_tells_a_dose_of_this_box_unless_the_reference_has_a_certificate() -> None:
    """A data sheet may name the round dose that a zone was given."""
    found = [("strip", 40.05)]
    with pytest.raises(RefusedError, match="40 was found on this box"):
        refuse_own_reference(40.0, found, stated=False)
    refuse_own_reference(40.0, found, stated=True)
    refuse_own_reference(42.0, found, stated=False)


def test_a_small_dose_of_this_box_is_known_when_it_was_written_with_one_decimal() -> None:
    """3.04 in the logbook is 3.0 in a recipe: one dose, as it is when the recipe is lit."""
    with pytest.raises(RefusedError):
        refuse_own_reference(3.0, [("teach", 3.04)], stated=True)
    refuse_own_reference(3.0, [("teach", 3.1)], stated=True)


def test_what_a_strip_found_is_known_by_its_recipe(newcomer: BenchBox) -> None:
    """The dose at which the resist began to hold, and nothing of zones that were only tried."""
    newcomer.ready().ask("series", kind="strip", recipe="quick", panel="strip", doses_mj_cm2=[10.0, 7.0])
    newcomer.until_state("turn")
    newcomer.turn_panel()
    newcomer.ask("go")
    newcomer.until_state("done")
    newcomer.run(1.0)
    newcomer.ask("strip", exposure_id=1, first_held_zone=2)
    newcomer.daemon.writer.drain(0)
    with newcomer.logbook() as book:
        found = book.calibrations.found_in_box_units("quick")
        assert book.calibrations.found_in_box_units("special") == []
    assert {kind for kind, _ in found} == {"strip"}
    assert all(dose == pytest.approx(17.0, rel=0.01) for _, dose in found)
