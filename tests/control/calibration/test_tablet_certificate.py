"""A step tablet with a certificate: what it says of the box, and what it is worth."""

import math
from typing import Any

import pytest

from sumlight.checkedfile import parse
from sumlight.control.calibration import step_tablets
from sumlight.craft.tablet import TabletReading
from sumlight.light.calibration import UNSTATED_REFERENCE, reference_ln_sigma
from sumlight.protocol.commands import TabletPlan, TabletReadings
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.calibrations import CalibrationRecord
from sumlight.store.recipe import Recipe
from tests.control.bench_box import recipe_text
from tests.control.calibration.test_registry import book

OWN = tuple(0.13 + 0.158 * step for step in range(21))
"""Of an invented tablet, denser than the usual one."""
ANCHOR = {
    "mw_cm2_per_basic_count": 1.0,
    "ln_sigma": 0.3,
    "common_ln_sigma": 0.0,
    "origin": "box.yaml",
    "relative": True,
    "lamp_hours": 100.0,
    "lamp_set": 0,
    "meter": "below",
    "position": "",
}
TRUE, THRESHOLD = 1.2, 60.0 * 10**-1.10
"""The light is a fifth stronger than counted; a resist whose sheet says that 60 mJ/cm² just hold step 8 (D = 1.10)."""


def exposure(doses: list[float]) -> dict[str, Any]:
    """A run with the tablet on zones of these counted doses."""
    budget = {"anchor": ANCHOR, "gain_ln_error": 0.0, "gain_code": 5, "fingerprint": None}
    sides = [
        {"side": str(zone), "bank": "lower", "state": "done", "dose_mj_cm2": dose, "lit_s": 9.0, "budget": budget}
        for zone, dose in enumerate(doses, start=1)
    ]
    return {
        "exposure_id": 7,
        "recipe_name": "quick",
        "recipe_text": recipe_text(dose_mj_cm2=60),
        "recipe_sha256": "0" * 64,
        "sides": sides,
    }


def readings(doses: list[float], **more: Any) -> TabletReadings:
    """What such a resist shows on this tablet: the last step behind which it still gets its threshold."""
    held = [sum(density <= math.log10(TRUE * dose / THRESHOLD) for density in OWN) for dose in doses]
    read = [{"zone": str(zone), "step": step} for zone, step in enumerate(held, start=1)]
    asked = {"exposure_id": 7, "convention": "last_held", "readings": read, "target_step": 8}
    return TabletReadings.model_validate(asked | {"reference_mj_cm2": 60.0} | more)


DOSES = [50.0, 55.0, 60.0, 65.0, 70.0, 75.0]


def factor(found: step_tablets.TabletRun) -> float:
    """True over counted dose."""
    assert found.calibration is not None
    return math.exp(found.calibration.ln_ratio)


def test_the_box_is_set_by_the_tablets_own_densities() -> None:
    """Within the few per cent that six zones leave; read as a usual tablet it would be a fourth off."""
    own = step_tablets.read(readings(DOSES, densities=OWN, density_uncertainty=0.01), exposure(DOSES), "")
    assert factor(own) == pytest.approx(TRUE, rel=0.03)
    assert abs(factor(step_tablets.read(readings(DOSES), exposure(DOSES), "")) / TRUE - 1) > 0.2
    assert {(record.densities, record.density_sigma) for record in own.readings} == {(OWN, 0.01)}


def test_what_a_certificate_leaves_unsure_is_common_to_all_doses() -> None:
    """For T = 10^-D a doubt of D is one of ln T, ln 10 times as large (JCGM 100, 5.1.2); unstated, it is ±20 %."""
    stated = {"reference_uncertainty": 0.03, "densities": OWN}
    by = step_tablets.read(readings(DOSES, **stated, density_uncertainty=0.02), exposure(DOSES), "")
    assert by.calibration is not None
    moved = math.log(10**-1.08 / 10**-1.10)
    assert by.calibration.common_ln_sigma == pytest.approx(math.hypot(0.03, moved), rel=1e-9)
    assert by.densities_stated
    unstated = step_tablets.read(readings(DOSES, **stated), exposure(DOSES), "")
    assert unstated.calibration is not None
    assert unstated.calibration.common_ln_sigma == pytest.approx(math.hypot(0.03, 0.1))
    assert not unstated.densities_stated


def test_a_usual_tablet_is_worth_what_its_reference_is() -> None:
    """Nothing is added to what is stated of the dose that it holds."""
    assert reference_ln_sigma(0.03) == 0.03
    assert reference_ln_sigma(None) == UNSTATED_REFERENCE
    assert reference_ln_sigma(0.0, densities=True, density_sigma=0.0) == pytest.approx(math.sqrt(2) * 0.1)


def test_the_readings_are_compared_with_a_radiometer_before_anything_is_kept() -> None:
    """A fifth more light than counted, where a radiometer has said that what was counted is right."""
    radiometer = CalibrationRecord("radiometer", "below", "lower", 0, 0.0, 0.01, 0.02, 99.0, "2026-05-03T08:00:00Z")
    run = step_tablets.read(readings(DOSES, densities=OWN, density_uncertainty=0.01), exposure(DOSES), "")
    assert "Tablet and radiometer lie" in run.result(book(calibrations=[radiometer]))["sentence"]
    assert "radiometer" not in run.result(book())["sentence"]


def test_densities_that_cannot_be_are_refused_by_their_field() -> None:
    """Nothing is worked out from them."""
    with pytest.raises(BadRequestError, match="21 densities, not 3") as caught:
        step_tablets.read(readings(DOSES, densities=[0.1, 0.2, 0.3]), exposure(DOSES), "")
    assert caught.value.field == "densities"


def test_readings_that_contradict_what_was_known_stand_for_themselves() -> None:
    """Half steps that turn about, a fifth off what a sure box expects: taking out what was known gave twenty times the
    light."""
    doses = [56.2, 58.7, 61.3, 64.0]
    sure = {**ANCHOR, "origin": "tablet", "relative": False, "ln_sigma": 0.02}
    panel = exposure(doses)
    for side in panel["sides"]:
        side["budget"] = {**side["budget"], "anchor": sure}
    held = [(7, False), (8, True), (8, False), (8, True)]
    read = [{"zone": str(zone), "step": step, "half": half} for zone, (step, half) in enumerate(held, start=1)]
    found = step_tablets.read(readings(doses, readings=read), panel, "")
    assert found.calibration is not None
    assert found.without_prior is not None
    assert abs(found.calibration.ln_ratio - found.without_prior.ln_ratio) <= found.without_prior.ln_sigma
    assert abs(found.calibration.ln_ratio) < 0.3


MARKER = [
    TabletReading(60.0 * 10 ** (0.075 * zone), 8 + zone, "last_held", zone == 0, panel=str(panel))
    for panel in range(9)
    for zone in (0, 1)
]
"""Panels with one zone half a step above the other: half of step 9 is there, then all of it and little of 10."""
NEVER = [TabletReading(60.0, 8, "last_held", panel=str(panel)) for panel in range(9) for _ in range(2)]


def test_a_step_without_a_mark_is_read_as_this_bench_marks() -> None:
    """One tablet, step 8 without a mark at 60: whoever marks half steps says that the resist needed more than the
    middle of the step, so the light was less; a quarter step by the definition of density (ISO 5-2), 0.086.
    """
    one = readings([60.0], readings=[{"zone": "1", "step": 8}])
    marker, never = (step_tablets.read(one, exposure([60.0]), "", earlier) for earlier in (MARKER, NEVER))
    assert math.log(factor(never) / factor(marker)) == pytest.approx(0.15 / 4 * math.log(10), rel=0.15)


def test_zones_lie_closer_for_whoever_marks_half_steps() -> None:
    """As soon as the bench has shown it."""
    asked = TabletPlan.model_validate({"recipe": "quick", "target_step": 8, "reference_mj_cm2": 60.0})
    anchor = book().k("lower", 0.0)
    recipe = parse(recipe_text(dose_mj_cm2=60), Recipe, "quick")
    wide = {
        name: doses[-1] / doses[0]
        for name, earlier in (("marker", MARKER), ("nobody", []), ("never", NEVER))
        if (doses := step_tablets.plan(asked, recipe, anchor, earlier)["doses_mj_cm2"])
    }
    assert wide["marker"] < wide["nobody"] < wide["never"]


def test_the_colour_of_a_tablet_is_that_of_all_its_zones() -> None:
    """Lamps grow warm from zone to zone."""
    panel = exposure(DOSES)
    for number, side in enumerate(panel["sides"]):
        shares = (0.5 - 0.01 * number, 0.2, 0.1, 0.1, 0.05 + 0.01 * number, 0.05)
        side["budget"] = {**side["budget"], "fingerprint": {"shares": shares, "sigmas": (0.001,) * 6}}
    found = step_tablets.read(readings(DOSES, densities=OWN, density_uncertainty=0.01), panel, "").calibration
    assert found is not None
    assert found.print_ is not None
    assert found.print_.shares == pytest.approx((0.475, 0.2, 0.1, 0.1, 0.075, 0.05))
