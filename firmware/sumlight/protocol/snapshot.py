"""What control says of the box: the types of a snapshot, as it crosses the socket. Pure.

Times `…_utc` are ISO 8601 text; `mono_s` counts on control's monotonic clock. Nothing is checked when a snapshot is
made or read; the tests check every one that they see against these types.
"""

from enum import StrEnum
from typing import Literal, NotRequired, get_args

from pydantic import ConfigDict, with_config
from typing_extensions import TypedDict

from sumlight.text.message import Message

State = Literal["idle", "vacuum", "dark_check", "light", "paused", "turn", "faulted", "done"]
UNDER_LIGHT: tuple[State, ...] = ("vacuum", "dark_check", "light")
"""Lamps burn, or go on by themselves in a moment."""
STATES: tuple[State, ...] = get_args(State)
Lid = Literal["shut", "open", "disagree"]
Sign = Literal["fault", "needs_you", "lit", "done", "ready", "rest"]
"""What buzzer and light at the box tell."""
Act = Literal["start", "go", "dark", "abandon", "acknowledge"]

WITHOUT_PANEL = ("compare", "field", "steady", "commission")
"""Kinds of exposure in which the sensor alone lies in the light: nothing to take out, to rest or to develop."""


class FaultName(StrEnum):
    """What may be wrong with the box; the values stand in records, box files and snapshots."""

    LID_MISMATCH = "lid_mismatch"
    LID_BOUNCES = "lid_bounces"
    INPUTS_UNPOWERED = "inputs_unpowered"
    EMERGENCY_STOP = "emergency_stop"
    TOO_HOT = "too_hot"
    K1_WELDED = "k1_welded"
    K1_SILENT = "k1_silent"
    METER_LOST = "meter_lost"
    METER_STUCK = "meter_stuck"
    METER_SATURATED = "meter_saturated"
    NO_LIGHT = "no_light"
    LIGHT_LOST = "light_lost"
    TUBE_OUT = "tube_out"
    FOREIGN_LIGHT = "foreign_light"
    WRONG_LAMP = "wrong_lamp"
    LIGHT_UNLIKELY = "light_unlikely"
    LIGHT_WHILE_DARK = "light_while_dark"
    TIME_GUARD = "time_guard"
    LOOP_LATE = "loop_late"
    TOO_SLOW = "too_slow"
    DISK_FULL = "disk_full"
    LOGBOOK_DAMAGED = "logbook_damaged"
    LOGBOOK_FAILED = "logbook_failed"
    INTERNAL = "internal"
    LOGBOOK_UNSOUND = "logbook_unsound"
    CLOCK_STEPPED = "clock_stepped"
    SUPPLY_LOW = "supply_low"
    PAGE_GONE = "page_gone"


ONLY_TOLD = (FaultName.LOGBOOK_UNSOUND, FaultName.CLOCK_STEPPED, FaultName.SUPPLY_LOW, FaultName.PAGE_GONE)
"""Faults that leave the light alone; any other one darkens and has to be acknowledged."""

OF_LIGHT = frozenset(
    {
        FaultName.NO_LIGHT,
        FaultName.LIGHT_LOST,
        FaultName.TUBE_OUT,
        FaultName.WRONG_LAMP,
        FaultName.LIGHT_UNLIKELY,
        FaultName.TIME_GUARD,
    }
)
"""Faults of the lamps: acknowledged is not mended, and the next panel may get uneven light."""


STRICT = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


@with_config(STRICT)
class SelfCheckResult(TypedDict):
    """What the sensor's look at its own LED said; `ln_shift` may be applied if `may_apply`.

    `diffuser` is what it passes over what it passed at the reference; `ln_shift`, with standard uncertainty
    `ln_sigma`, is the logarithm of the factor that the calibration lacks.
    """

    verdict: str
    sentence: Message
    diffuser: float
    ln_shift: float
    ln_sigma: float
    may_apply: bool


@with_config(STRICT)
class SelfCheck(TypedDict):
    """Where a self-check stands."""

    phase: str
    result: SelfCheckResult | None


@with_config(STRICT)
class Spectrum(TypedDict):
    """How the colour of the light compares with that of the calibrated lamps."""

    verdict: str
    sentence: Message


@with_config(STRICT)
class Bank(TypedDict):
    """Lamps switched together: what was asked of them and what the meter sees."""

    name: str
    side: str
    commanded: bool
    meter: str
    irradiance_mw_cm2: float | None
    reading_age_s: float | None
    meter_ok: bool
    meter_message: Message | None
    lamp_hours: float
    strikes: int
    spectrum: Spectrum | None
    self_check: SelfCheck | None


@with_config(STRICT)
class Side(TypedDict):
    """One face of the panel on its way to its dose.

    `expanded_repeat_mj_cm2` and `expanded_absolute_mj_cm2` are half-widths with coverage factor `k`; a `relative` dose
    has no absolute scale. `dof_eff` are effective degrees of freedom (Welch and Satterthwaite); null: no limit.
    """

    side: str
    bank: str
    state: str
    target_mj_cm2: float | None
    lit_for_s: float | None
    dose_mj_cm2: float
    expanded_uncertainty_mj_cm2: float | None
    expanded_repeat_mj_cm2: float
    expanded_absolute_mj_cm2: float | None
    largest_component: str
    dof_eff: float | None
    k: float
    relative: bool
    irradiance_at_resist_mw_cm2: float
    lit_s: float
    left_s: float | None
    pauses: int
    duration_s: float


@with_config(STRICT)
class Exposure(TypedDict):
    """The exposure that runs, waits, or was the last to finish; without a number until its beginning is on disk.

    `forgiven_left_s`: how much longer a panel whose light was interrupted may lie dark by its recipe. Null where
    nothing lies dark half lit, where the panel is doubtful already, and where nobody knows since when.
    """

    exposure_id: int | None
    panel: str
    recipe: str
    recipe_sha256: str
    due: str
    resist: str
    kind: str
    sides_mode: str
    started_utc: str | None
    pause_cause: str | None
    doubtful: bool
    doubtful_why: Message | None
    forgiven_left_s: float | None
    hold_s: float
    hold_state: str | None
    hold_left_s: float | None
    hold_ends_utc: str | None
    outcome: str | None
    sides: list[Side]


@with_config(STRICT)
class Fault(TypedDict):
    """A latched fault with what to do about it."""

    name: FaultName
    title: Message
    detail: Message
    remedy: Message
    stops: bool
    since_utc: str
    cause_gone: bool


@with_config(STRICT)
class LogbookState(TypedDict):
    """Whether records reach the disk."""

    ok: bool
    message: Message | None
    lag_s: float
    keep_traces_days: int | None


@with_config(STRICT)
class Ticks(TypedDict):
    """How often control ticks, and the longest gap between two; None where its time does not run with real time."""

    measured_hz: float | None
    needed_hz: float | None
    longest_gap_s: float | None


@with_config(STRICT)
class Calibration(TypedDict):
    """What a count is worth, how well that is known, and whether a check is due."""

    origin: str
    mw_cm2_per_basic_count: float
    ln_sigma: float
    common_ln_sigma: float
    expanded_relative: float
    relative: bool
    age_hours: float | None
    lamp_hours: float
    lamp_set: int
    check_due: bool
    self_check_due: bool
    sentence: Message


@with_config(STRICT)
class Override(TypedDict):
    """Who unlocked exposures without commissioning, and why."""

    who: str
    reason: str
    given_utc: str


@with_config(STRICT)
class Measure(TypedDict):
    """A measured value beside the limit it must keep."""

    what: Message
    value: float
    unit: str
    limit: float
    kept: bool


@with_config(STRICT)
class StepResult(TypedDict):
    """How a step of commissioning ended; one that is not `proved` is left to the electrician.

    `unseen` are the places of tubes that the sensor was shown not to see, counted from 1.
    """

    step: str
    title: Message
    passed: bool
    found: Message
    measures: list[Measure]
    proved: bool
    unseen: NotRequired[list[int]]


@with_config(STRICT)
class TubesOut(TypedDict):
    """Which tube of a bank is to be put `back` and which to be taken `out` before the next light; 0 for none."""

    bank: str
    back: int
    out: int


@with_config(STRICT)
class LeftOut(TypedDict):
    """A step that this box has no part for."""

    title: Message
    why: Message


@with_config(STRICT)
class CommissioningRun(TypedDict):
    """A walk under way or just ended; `at` names its moment, for a press that is meant for it.

    `tubes` says which tubes a step is about to move.
    """

    who: str
    outcome: str | None
    number: int
    of: int
    step: str
    kind: str
    title: Message
    phase: str
    at: str
    do: Message
    waits_for_next: bool
    asks: str | None
    results: list[StepResult]
    left_out: list[LeftOut]
    not_proved: list[Message]
    tubes: NotRequired[TubesOut]


@with_config(STRICT)
class Commissioning(TypedDict):
    """Whether this box has been proved for its present wiring."""

    needed: bool
    locked: bool
    passed_utc: str | None
    passed_by: str | None
    overridden: bool
    override: Override | None
    not_proved: list[Message]
    older_walk: list[Message]
    wiring_sha256: str
    run: CommissioningRun | None
    report: str | None


@with_config(STRICT)
class CardTimer(TypedDict):
    """A timer that runs; `rings` says why it calls, None while it does not. `unsure`: the clock was set meanwhile."""

    timer_id: int
    panel_id: int | None
    step_id: int | None
    title: Message
    elapsed_s: float
    next_s: float | None
    rings: Message | None
    unsure: bool


@with_config(STRICT)
class Timer(CardTimer):
    """A timer with the label of its panel; None for one that was started by hand."""

    panel: str | None


@with_config(STRICT)
class Due(TypedDict):
    """The panel whose turn is next, the step that is due on it, and in how many seconds."""

    panel_id: int
    panel: str
    title: Message | None
    left_s: float


@with_config(STRICT)
class Jobs(TypedDict):
    """How many panels are on their way, what is due next of all, and the timers."""

    panels: int
    due: Due | None
    timers: list[Timer]


@with_config(STRICT)
class Air(TypedDict):
    """What the thermometer at the tubes says; `trouble` why it says nothing that could be believed."""

    air_c: float | None
    trouble: Message | None


@with_config(STRICT)
class FrontPanel(TypedDict):
    """Buttons, buzzer and light at the box: which it `has`, and what is heard and seen of them now.

    `waits_s`: how long a command will still wait for its press there; `said`: why the last press did nothing.
    """

    has: list[str]
    sign: Sign
    buzzer: bool
    light: bool
    waits_s: float | None
    said: Message | None


@with_config(STRICT)
class Snapshot(TypedDict):
    """All that control says about the box at one moment.

    `true_dose_mj_cm2` by side comes from a twin only, `front_panel` from a box that has one.
    """

    seq: int
    box: str
    simulated: bool
    mono_s: float
    utc: str
    state: State
    state_number: int
    sentence: Message
    may: list[Act]
    lid: Lid
    banks: list[Bank]
    exposure: Exposure | None
    faults: list[Fault]
    logbook: LogbookState
    ticks: Ticks
    calibration: dict[str, Calibration]
    warnings: list[Message]
    commissioning: Commissioning
    jobs: Jobs
    air: Air | None
    front_panel: NotRequired[FrontPanel]
    true_dose_mj_cm2: NotRequired[dict[str, float]]
