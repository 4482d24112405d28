"""What control answers to a command, as a type for each. Pure.

The tests judge every answer that control gives by these: a field that is not declared here, or in the modules about
series, jobs, baths and the shelf, turns them red.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NotRequired

from pydantic import with_config
from typing_extensions import TypedDict

from sumlight.protocol import bath_answers, job_answers, scale_commands, series_answers, stock_answers
from sumlight.protocol.snapshot import (
    STRICT,
    Calibration,
    Commissioning,
    FaultName,
    SelfCheckResult,
    Snapshot,
    State,
)
from sumlight.text.message import Message


@with_config(STRICT)
class ExposureState(TypedDict):
    """What the exposure does now."""

    state: State


@with_config(STRICT)
class Acknowledged(TypedDict):
    """Faults that are cleared by it, and those whose cause is still there."""

    cleared: list[FaultName]
    standing: list[FaultName]


@with_config(STRICT)
class LampUse(TypedDict):
    """Hours of light and starts of a bank's present lamps; `side` is None where a bank lights both."""

    name: str
    side: str | None
    lamp_hours: float
    strikes: int


@with_config(STRICT)
class LampUses(TypedDict):
    """Every bank's."""

    banks: list[LampUse]


@with_config(STRICT)
class NewLampSet(TypedDict):
    """The number of the set that begins, and what its calibration is worth."""

    lamp_set: int
    calibration: Calibration
    sentence: Message


@with_config(STRICT)
class TubesRecorded(TypedDict):
    """Places of a bank whose tubes were recorded; where all of them were changed a new set begins."""

    bank: str
    positions: list[int]
    whole: bool
    lamp_set: NotRequired[int]
    calibration: NotRequired[Calibration]
    sentence: NotRequired[Message]


@with_config(STRICT)
class Level(TypedDict):
    """The share of their seasoned light below which lamps are changed, in %."""

    percent: float


@with_config(STRICT)
class OfExposure(TypedDict):
    """The number of the exposure that something was noted of."""

    exposure_id: int


@with_config(STRICT)
class OfFault(TypedDict):
    """The number of the fault that something was noted of."""

    fault_id: int


@with_config(STRICT)
class Calibrations(TypedDict):
    """Every bank's calibration, judged by a tolerance, a share of the dose."""

    tolerance: float
    banks: dict[str, Calibration]


@with_config(STRICT)
class RadiometerRead(TypedDict):
    """How much more a count is worth by the radiometer than it was before."""

    factor: float
    calibration: Calibration
    sentence: Message


@with_config(STRICT)
class Taught(TypedDict):
    """The dose that a proven time gave, for the recipe; `relative` where nothing outside ever checked the box."""

    recipe_dose_mj_cm2: float | None
    relative: bool
    calibration: Calibration
    sentence: Message


@with_config(STRICT)
class SelfChecked(TypedDict):
    """Where a self-check stands; the calibration as it is once its correction was applied."""

    phase: str
    result: SelfCheckResult | None
    calibration: NotRequired[Calibration]


@with_config(STRICT)
class GainsPhase(TypedDict):
    """Where the learning of the sensor's gain steps stands."""

    phase: str


@with_config(STRICT)
class CommissioningNow(TypedDict):
    """The walk as it stands after a command of it."""

    commissioning: Commissioning


@with_config(STRICT)
class Moved(TypedDict):
    """What the hands at a simulated box did."""

    done: str


ANSWERS: Final[Mapping[str, type]] = MappingProxyType(
    {
        "state": Snapshot,
        "watch": Snapshot,
        **dict.fromkeys(("start", "series", "go", "dark", "abandon"), ExposureState),
        "acknowledge": Acknowledged,
        "lamps": LampUses,
        "tubes_fitted": TubesRecorded,
        "replacement_level": Level,
        **dict.fromkeys(("note", "judge", "findings", "confirm_cause"), OfExposure),
        "looked_at": OfFault,
        **dict.fromkeys(
            ("commission_begin", "commission_next", "commission_abort", "commission_override"), CommissioningNow
        ),
        "simulate": Moved,
        "calibration": Calibrations,
        "radiometer": RadiometerRead,
        "teach": Taught,
        "self_check": SelfChecked,
        "new_lamps": NewLampSet,
        "learn_gains": GainsPhase,
        **scale_commands.ANSWERS,
        **series_answers.ANSWERS,
        **job_answers.ANSWERS,
        **bath_answers.ANSWERS,
        **stock_answers.ANSWERS,
    }
)
"""The type of each answer by the name of its command."""
