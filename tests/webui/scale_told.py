"""What control says of the scales of recipes' doses, invented."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from sumlight.store.recipes import RecipeStore
from sumlight.text.message import say


def always(answer: dict[str, Any]) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """The same answer to every question."""
    return lambda _asked: answer


def scale(data: Path, name: str = "blue-38", **changed: Any) -> dict[str, Any]:
    """A dose of 60 that was found in box units; the same light is called 44.4 after the calibration."""
    stored = RecipeStore(data / "recipes").load(name)
    return {
        "name": name,
        "sha256": stored.sha256,
        "dose_mj_cm2": stored.recipe.dose_mj_cm2,
        "relative": False,
        "found": {
            "kind": "panel",
            "exposure_id": 4,
            "utc": "2026-05-03T10:00:00+00:00",
            "origin": "box.yaml",
            "relative": True,
            "calibrated_utc": None,
        },
        "moved": True,
        "same_light_mj_cm2": 44.4444,
        "sentence": say("dose_found_before", side="A", dose_mj_cm2=44.4444, before=60.0),
    } | changed
