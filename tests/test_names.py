"""Names that were given up stay given up: one thing has one name, that of the field.

Only identifiers are looked for, by the syntax tree: modules, classes, functions and parameters. Words in sentences are
free; so are the names of tables and fields in the logbook, of keys in hand-edited files and of old spellings.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

RETIRED = {
    "Anchor": "CalibrationFactor",
    "Appraiser": "UncertaintyEstimator",
    "Attendant": "SimulatedAttendant",
    "Attending": "SimulatedOperator",
    "BankWatch": "BankMonitor",
    "Care": "LogbookMaintenance",
    "Comfort": "AuxiliaryOutput",
    "Comforts": "AuxiliaryOutputs",
    "CommissionDesk": "CommissioningSession",
    "FaultDesk": "FaultRegistry",
    "FlickerLook": "FlickerMeter",
    "GainLesson": "GainCalibration",
    "Garbage": "GcPolicy",
    "HeldDose": "ThresholdDose",
    "HeldLight": "ThresholdLight",
    "LedLook": "SelfTest",
    "LightStretch": "LightInterval",
    "Looked": "IntegrityReport",
    "NightWatch": "NightlyCheck",
    "OfferDesk": "OfferKeeper",
    "OperatorDesk": "OperatorStore",
    "RecipeShelf": "RecipeStore",
    "RecipeShelfError": "RecipeStoreError",
    "RecordedStretch": "RecordedLightInterval",
    "Remarks": "Advisories",
    "Rescued": "Recovery",
    "StretchEnd": "LightIntervalEnd",
    "Tidying": "Pruning",
    "Witness": "LightMonitor",
    "Worth": "DoseUncertainty",
    "anchor_all": "set_calibration_factors",
    "attend": "simulated_operator",
    "bank_picture": "bank_snapshot",
    "begin_stretch": "begin_light_interval",
    "benches": "rigs",
    "desk": "services",
    "end_stretch": "end_light_interval",
    "exposure_picture": "exposure_snapshot",
    "fault_pictures": "fault_snapshots",
    "garbage": "gc_policy",
    "held_doses": "threshold_doses",
    "last_upkeep": "last_maintenance",
    "nightwatch": "nightly_check",
    "notify": "systemd",
    "note_upkeep": "note_maintenance",
    "person": "attendant",
    "remarks": "advisories",
    "rescue": "recovery",
    "sayings": "texts",
    "side_picture": "side_snapshot",
    "soundness": "integrity",
    "spoken": "texts",
    "spoken_light": "texts",
    "standing_remarks": "standing_advisories",
    "sure_number": "required_number",
    "sure_whole": "required_whole",
    "thin": "downsample",
    "thinned": "downsampled",
    "workings": "calculators",
}
"""Each with the name that took its place."""

WORDS_TOO = {"attend", "desk", "person", "remarks", "thin", "garbage", "notify", "rescue", "soundness", "benches"}
"""Common words: retired as the names of modules only."""


def names(source: str, stem: str) -> Iterator[tuple[str, bool]]:
    """Every name that a module gives to something, and whether it is the module's own."""
    yield stem, True
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name, False
        elif isinstance(node, ast.arg):
            yield node.arg, False


def retired_in(source: str, stem: str = "") -> set[str]:
    """Retired names that a module gives to something."""
    return {name for name, own in names(source, stem) if name in RETIRED and (own or name not in WORDS_TOO)}


@pytest.mark.parametrize("folder", ["firmware", "webui", "tests", "hardware"])
def test_no_retired_name_is_given(folder: str) -> None:
    """What took its place is in RETIRED."""
    modules = sorted((ROOT / folder).rglob("*.py"))
    found = {str(path): retired_in(path.read_text(encoding="utf-8"), path.stem) for path in modules}
    assert {path: {old: RETIRED[old] for old in olds} for path, olds in found.items() if olds} == {}


def test_a_retired_name_would_be_found() -> None:
    """In every place where a name is given; a word in a sentence is free."""
    assert retired_in("class FaultDesk:\n    pass") == {"FaultDesk"}
    assert retired_in("def thinned():\n    pass") == {"thinned"}
    assert retired_in("def f(stretch, *, spoken):\n    pass") == {"spoken"}
    assert retired_in("def f(person):\n    '''A FaultDesk.'''") == set()
    assert retired_in("", "workings") == {"workings"}
    assert retired_in("", "person") == {"person"}
