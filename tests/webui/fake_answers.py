"""What the fake control answers to questions about light, in the shapes that control itself gives; numbers invented."""

from typing import Any

from sumlight.protocol.commands import COMMANDS
from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import NOTHING, Message, say
from tests.webui.fake_jobs import JOB_ANSWERS

UNIT = unit_of_dose(relative=False)

OPTIONAL: dict[str, set[str]] = {
    "simulate": {"bank", "meter"},
    "commission_next": {"at", "leak_mw_cm2", "answer", "at_the_box"},
    "series": {"doses_mj_cm2", "seconds", "legs", "note", "parameters"},
    "radiometer": {"bank"},
    "tablet_plan": {"zones", "reference_mj_cm2"},
    "tablet_readings": {
        *("lot", "reference_mj_cm2", "reference_uncertainty", "apply", "sure", "densities", "density_uncertainty"),
    },
    "self_check": {"bank", "apply"},
    "new_lamps": {"bank"},
    "tubes_fitted": {"positions", "tubes", "strikes"},
    "transmission": {"covered"},
    "field": {"sensor", "panel"},
    "strip_plan": {"factor", "zones"},
    "recipe_scales": {"recipe"},
    "keep_dose": {"before_mj_cm2"},
    "dose_window": {"clear_standard", "opaque_standard", "target_step"},
}
"""Fields that a command does not insist on."""


def calibration(**changed: Any) -> dict[str, Any]:
    """A bank's block: a box that was never calibrated."""
    return {
        "origin": "box.yaml",
        "mw_cm2_per_basic_count": 0.5,
        "ln_sigma": 0.3,
        "common_ln_sigma": 0.0,
        "expanded_relative": 0.6,
        "relative": False,
        "age_hours": None,
        "lamp_hours": 312.4,
        "lamp_set": 0,
        "check_due": True,
        "self_check_due": True,
        "sentence": say("file_number_wants_tablet", worth=say("worth_absolute", share=0.6), tolerance=0.1),
    } | changed


def tablet(**changed: Any) -> dict[str, Any]:
    """Readings that gave a number."""
    return {
        "threshold_mj_cm2": 4.1,
        "low_mj_cm2": 3.8,
        "high_mj_cm2": 4.4,
        "panels": 1,
        "note": NOTHING,
        "factor": 0.74,
        "factor_sigma": 0.04,
        "textbook_factor": 1.41,
        "recipe_dose_mj_cm2": 48.6,
        "reference_mj_cm2": 60.0,
        "surprise": None,
        "retry_factor": None,
        "applied": False,
        "calibration": None,
        "sentence": say("step_just_held", step=8, dose_mj_cm2=48.6, unit=UNIT, reference_mj_cm2=60.0),
    } | changed


def all_alike(retry_factor: float) -> dict[str, Any]:
    """Readings that gave none."""
    blank = dict.fromkeys(
        (
            *("threshold_mj_cm2", "low_mj_cm2", "high_mj_cm2", "panels", "factor", "factor_sigma"),
            *("textbook_factor", "recipe_dose_mj_cm2"),
        )
    )
    return tablet(**blank | {"retry_factor": retry_factor, "sentence": say("no_step_held")})


def _other(verdict: str, value: float) -> Message:
    return say("sheet_blocks_uv") if verdict == "blocks_uv" else say("sheet_dim", share=value)


def transmission(verdict: str = "passes", value: float = 0.81) -> dict[str, Any]:
    """One sheet; only one that passes has a value for the recipe."""
    told = say("sheet_passes", share=value) if verdict == "passes" else _other(verdict, value)
    sheet = {"leg": "2", "transmission": value, "standard": 0.004, "density": 0.09, "density_standard": 0.002}
    return {
        "sheets": [sheet | {"opaque": False, "verdict": verdict, "sentence": told}],
        "stack": {"value": value, "standard": 0.004, "density": 0.09, "density_standard": 0.002, "opaque": False},
        "recipe_value": value if verdict == "passes" else None,
        "sentence": say("stack_passes", share=value, doubt=0.008)
        if verdict == "passes"
        else say("stack_not_for_recipe"),
    }


def field(place: dict[str, float] | None = None) -> dict[str, Any]:
    """A small map, brightest in the middle."""
    return {
        "x_mm": [-60.0, 0.0, 60.0],
        "y_mm": [-40.0, 0.0, 40.0],
        "values": [[0.9, 0.95, 0.9], [0.96, 1.0, 0.97], [0.88, 0.94, 0.89]],
        "repeat": 0.004,
        "drift": 0.02,
        "uniformity": {"min_over_max": 0.88, "min_over_mean": 0.94, "contrast": 0.064, "steps": 0.37},
        "usable": {
            share: {"x_mm": [-30.0, 30.0], "y_mm": [-20.0, 20.0], "area_cm2": 24.0, "share": 0.25}
            for share in ("0.05", "0.1")
        },
        "heat_map": [[0.88 + 0.01 * ((x * y) % 12) for x in range(13)] for y in range(13)],
        "place": place,
        "sentence": say("weakest_place", share=0.88, steps=0.4),
    }


ANSWERS: dict[str, dict[str, Any]] = {
    "calibration": {"tolerance": 0.1, "banks": {"lower": calibration()}},
    "radiometer": {
        "factor": 0.9,
        "calibration": calibration(origin="radiometer"),
        "sentence": say("counts_in_radiometers_unit", factor=0.9),
    },
    "tablet_plan": {
        "doses_mj_cm2": [31.6, 34.5, 37.6, 41.0],
        "expected_sigma": 0.03,
        "reference_mj_cm2": 60.0,
        "sentence": say("tablet_plan", zones=4, doses_mj_cm2=[31.6, 34.5, 37.6, 41.0], unit=UNIT, share=0.06),
    },
    "tablet_readings": tablet(),
    "teach": {
        "recipe_dose_mj_cm2": 41.3,
        "relative": True,
        "calibration": calibration(origin="teach", relative=True),
        "sentence": say("light_gave_dose", seconds=8.0, dose=41.3, unit=say("unit_relative")),
    },
    "self_check": {"phase": "running", "result": None},
    "new_lamps": {
        "lamp_set": 1,
        "calibration": calibration(),
        "sentence": say("lamp_set_recorded", number=1, bank="lower"),
    },
    "transmission": transmission(),
    "field": field(),
    "strip_plan": {
        "zone_doses_mj_cm2": [10.0, 12.0, 14.4],
        "leg_doses_mj_cm2": [10.0, 2.0, 2.4],
        "steps": [say("whole_strip_open"), say("slide_mask_over", zone=1), say("slide_mask_over", zone=2)],
        "warnings": [say("shortest_part", seconds=1.4)],
    },
    "strip": {
        "zone_doses_mj_cm2": [10.0, 12.0],
        "low_mj_cm2": 10.0,
        "high_mj_cm2": 12.0,
        "sentence": say("begins_to_hold", low_mj_cm2=10.0, high_mj_cm2=12.0),
    },
    "dose_window": {
        "low_mj_cm2": 60.0,
        "high_mj_cm2": 240.0,
        "margin_steps": 4.0,
        "verdict": "safe",
        "sentence": say("steps_are_left", steps=4.0),
    },
}

ANSWERS |= JOB_ANSWERS
ANSWERS |= {command: {"state": "idle"} for command in ("start", "series", "go", "dark", "abandon")}
ANSWERS |= {
    "acknowledge": {"cleared": [], "standing": []},
    "lamps": {"banks": []},
    "tubes_fitted": {"bank": "lower", "positions": [1], "whole": False},
    "replacement_level": {"percent": 70.0},
    **{command: {"exposure_id": 5} for command in ("note", "judge", "findings", "confirm_cause")},
    "looked_at": {"fault_id": 1},
    "recipe_scales": {"recipes": []},
    "simulate": {"done": "moved"},
    "learn_gains": {"phase": "running"},
}

if not ANSWERS.keys() <= COMMANDS.keys():
    raise KeyError("an answer to no command")
