"""The records that control hands to the logbook and gets back from it. Plain data, no behaviour."""

from dataclasses import dataclass, field
from datetime import datetime

from sumlight.light.sample import Sample
from sumlight.text.message import Message


@dataclass(frozen=True)
class NewSide:
    """A side as planned: `side` A or B, lit by `bank` to `target_mj_cm2` behind a stack of `transmission`.

    In a series, `side` is the number of a leg; a leg without a target is lit for a set time.
    """

    side: str
    bank: str
    target_mj_cm2: float | None
    transmission: float


@dataclass(frozen=True)
class NewExposure:
    """An exposure about to begin. `recipe_text` is the exact text that is run, `recipe_sha256` its hash.

    `kind` is panel, or what a series is for; `started_by` who gave the word. `parameters` is what a series was run for
    beside its legs, as JSON text; None where nothing was told.
    """

    panel: str
    note: str
    recipe_name: str
    recipe_text: str
    recipe_sha256: str
    sides: tuple[NewSide, ...]
    started_utc: datetime
    box_name: str
    simulated: bool
    kind: str = "panel"
    started_by: str = ""
    parameters: str | None = None


@dataclass(frozen=True)
class BegunExposure:
    """Row numbers of an exposure whose beginning is on disk; `side_ids` by side name."""

    exposure_id: int
    panel_id: int
    side_ids: dict[str, int]


@dataclass(frozen=True)
class SideState:
    """Where a side stands.

    `state` is waiting, lit, cut (switched off, afterglow being measured), done or abandoned;
    `doubt_mj_cm2` is the dose that lost samples or a restart leave unsure. `budget` is the uncertainty of the dose as
    JSON text; None leaves the one on record as it is.
    """

    side_id: int
    state: str
    dose_mj_cm2: float
    doubt_mj_cm2: float
    lit_s: float
    pauses: int
    longest_gap_s: float
    budget: str | None = None


@dataclass(frozen=True)
class TraceChunk:
    """Some seconds of samples of one side, in order, as the meter gave them; they belong to its latest stretch."""

    side_id: int
    samples: tuple[Sample, ...]


@dataclass(frozen=True)
class Pause:
    """Darkness within an exposure: its cause (lid, dark_command, fault, restart), its length once over."""

    exposure_id: int
    cause: str
    began_utc: datetime
    gap_s: float | None


@dataclass(frozen=True)
class FaultRecord:
    """A latched fault: `name` from the table of faults, `detail` with value and limit."""

    name: str
    detail: Message
    exposure_id: int | None
    raised_utc: datetime


@dataclass(frozen=True)
class LampReading:
    """What a side told about its lamps: irradiance at the meter at its end and how long light took to settle.

    `strike_s` is the time from switching on to first light, `burned_s` from there to the reading. `self_check` is the
    share of the light that the sensor's window passes, over that at the last calibration, where a check was just made;
    `settled_mw_cm2` is not corrected for it. `air_c` is the air at the tubes before that light, where the box has a
    thermometer; `led` says that the light was not of tubes, whose law of temperature then does not hold. `flicker` is
    the relative rms swing of the steady light, None for too short a light. The logbook notes beside it the bank's
    `lit_s` and `strikes` at that time.
    """

    bank: str
    side_id: int
    read_utc: datetime
    settled_mw_cm2: float
    warm_up_s: float | None
    strike_s: float | None = None
    burned_s: float | None = None
    air_c: float | None = None
    self_check: float | None = None
    flicker: float | None = None
    led: bool = False


@dataclass(frozen=True)
class BankState:
    """What a bank has been through and what control has learned of it.

    `lit_s` and `strikes` since this set of lamps was fitted; `release_s` the learned time from switching off
    to dark; `gain_code` the meter gain that suited last.
    """

    bank: str
    lit_s: float
    strikes: int
    release_s: float | None
    gain_code: int | None


@dataclass(frozen=True)
class InterruptedExposure:
    """An exposure that the last run of control left unfinished, with every side's last known state.

    `settled_mw_cm2` is what each bank last gave at the meter, `growth_mw_cm2` how fast each side's dose grew between
    its last two records under light, `between_records_s` the longest light between two records of its last minute, each
    where that is known. `gap_unknown`: an earlier restart could not tell how
    long it was dark. `damage` tells in words what could not be read.
    """

    exposure_id: int
    kind: str
    panel_id: int
    panel: str
    recipe_name: str
    recipe_text: str
    recipe_sha256: str
    sides: tuple[tuple[NewSide, SideState], ...]
    pauses: int
    longest_gap_s: float
    last_known_utc: datetime
    settled_mw_cm2: dict[str, float] = field(default_factory=dict)
    growth_mw_cm2: dict[str, float] = field(default_factory=dict)
    between_records_s: dict[str, float] = field(default_factory=dict)
    gap_unknown: bool = False
    damage: tuple[Message, ...] = ()


@dataclass(frozen=True)
class CommissioningRecord:
    """A run of commissioning as far as it has come; `outcome` None while it is under way.

    `wiring_sha256` is the fingerprint of the wiring it was done for, `results` what each step found, as JSON text,
    `step_index` the step at hand, or the one before while the lamps of a step have still to burn.
    """

    began_utc: datetime
    wiring_sha256: str
    box_name: str
    simulated: bool
    who: str
    step_index: int
    results: str
    ended_utc: datetime | None = None
    outcome: str | None = None


@dataclass(frozen=True)
class OverrideRecord:
    """Somebody unlocked exposures of a box that was not commissioned for its present wiring, and said why."""

    wiring_sha256: str
    who: str
    reason: str
    given_utc: datetime


@dataclass(frozen=True)
class Commissioned:
    """What the logbook knows of one wiring: the last run that passed, one cut off, and an override since the last."""

    passed: CommissioningRecord | None = None
    cut_off: CommissioningRecord | None = None
    override: OverrideRecord | None = None
