"""What the fake control answers to questions about light, in the shapes that control itself gives; numbers invented."""

from typing import Any

from sumlight.protocol.commands import COMMANDS

OPTIONAL: dict[str, set[str]] = {
    "simulate": {"bank", "meter"},
    "commission_next": {"at", "leak_mw_cm2", "answer", "at_the_box"},
    "series": {"doses_mj_cm2", "seconds", "legs", "note", "parameters"},
    "radiometer": {"bank"},
    "tablet_plan": {"zones", "reference_mj_cm2"},
    "tablet_readings": {"lot", "reference_mj_cm2", "reference_uncertainty", "apply", "sure"},
    "self_check": {"bank", "apply"},
    "new_lamps": {"bank"},
    "tubes_fitted": {"positions", "tubes", "strikes"},
    "transmission": {"covered"},
    "field": {"sensor", "panel"},
    "strip_plan": {"factor", "zones"},
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
        "sentence": "The calibration is the number in box.yaml, worth ±60% absolute (k = 2); "
        "the recipe allows ±10%: a step tablet makes it better.",
    } | changed


def tablet(**changed: Any) -> dict[str, Any]:
    """Readings that gave a number."""
    return {
        "threshold_mj_cm2": 4.1,
        "low_mj_cm2": 3.8,
        "high_mj_cm2": 4.4,
        "panels": 1,
        "note": "",
        "factor": 0.74,
        "factor_sigma": 0.04,
        "textbook_factor": 1.41,
        "recipe_dose_mj_cm2": 48.6,
        "reference_mj_cm2": 60.0,
        "surprise": None,
        "retry_factor": None,
        "applied": False,
        "calibration": None,
        "sentence": "Step 8 is just held at 48.6 mJ/cm² as counted now; 60 is known to do it.",
    } | changed


def all_alike(retry_factor: float) -> dict[str, Any]:
    """Readings that gave none."""
    blank = dict.fromkeys(tablet())
    return tablet(
        **blank | {"retry_factor": retry_factor, "applied": False, "sentence": "That gives no number."},
    )


def transmission(verdict: str = "passes", value: float = 0.81) -> dict[str, Any]:
    """One sheet; only one that passes has a value for the recipe."""
    words = {"passes": "This sheet passes UV.", "blocks_uv": "This sheet blocks UV: it looks clear."}
    sheet = {"leg": "2", "transmission": value, "standard": 0.004, "density": 0.09, "density_standard": 0.002}
    return {
        "sheets": [sheet | {"opaque": False, "verdict": verdict, "sentence": words.get(verdict, "No.")}],
        "stack": {"value": value, "standard": 0.004, "density": 0.09, "density_standard": 0.002, "opaque": False},
        "recipe_value": value if verdict == "passes" else None,
        "sentence": "Put it into the recipe." if verdict == "passes" else "Do not put this into a recipe.",
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
        "sentence": "The weakest place gets 88% of the strongest, 0.4 tablet steps less.",
    }


ANSWERS: dict[str, dict[str, Any]] = {
    "calibration": {"tolerance": 0.1, "banks": {"lower": calibration()}},
    "radiometer": {"factor": 0.9, "calibration": calibration(origin="radiometer"), "sentence": "It counts anew."},
    "tablet_plan": {
        "doses_mj_cm2": [31.6, 34.5, 37.6, 41.0],
        "expected_sigma": 0.03,
        "reference_mj_cm2": 60.0,
        "sentence": "Expose 4 zones of one panel.",
    },
    "tablet_readings": tablet(),
    "teach": {
        "recipe_dose_mj_cm2": 41.3,
        "relative": True,
        "calibration": calibration(origin="teach", relative=True),
        "sentence": "8.0 s of light gave 41.3 (relative).",
    },
    "self_check": {"phase": "running", "result": None},
    "new_lamps": {"lamp_set": 1, "calibration": calibration(), "sentence": "Lamp set 1 of bank lower is recorded."},
    "transmission": transmission(),
    "field": field(),
    "strip_plan": {
        "zone_doses_mj_cm2": [10.0, 12.0, 14.4],
        "leg_doses_mj_cm2": [10.0, 2.0, 2.4],
        "steps": ["Cover nothing.", "Cover zone 1.", "Cover zones 1 and 2."],
        "warnings": ["The shortest part takes less than two seconds."],
    },
    "strip": {"zone_doses_mj_cm2": [10.0, 12.0], "low_mj_cm2": 10.0, "high_mj_cm2": 12.0, "sentence": "Between."},
    "dose_window": {
        "low_mj_cm2": 60.0,
        "high_mj_cm2": 240.0,
        "margin_steps": 4.0,
        "verdict": "safe",
        "sentence": "4.0 steps are left before black areas leave resist.",
    },
}

if not ANSWERS.keys() <= COMMANDS.keys():
    raise KeyError("an answer to no command")
