"""The commands that control carries out: a model each, whose fields state their types and bounds once. Pure.

A field that is null counts as left out. `control.server` says what each command does and answers.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Any, Final, Literal

from annotated_types import Ge, Le, MaxLen, MinLen
from pydantic import Field, JsonValue, Strict, ValidationError
from pydantic_core import ErrorDetails

from sumlight.craft.strip import FEWEST_ZONES, LARGEST_FACTOR, MOST_ZONES, SMALLEST_FACTOR
from sumlight.protocol import bath_commands, finding_commands, job_commands, scale_commands, stock_commands
from sumlight.protocol.command import TERMINAL as TERMINAL
from sumlight.protocol.command import Command as Command
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.fields import (
    MOST_NUMBERS,
    Dose,
    Flag,
    Hours,
    Identity,
    Irradiance,
    LongText,
    Note,
    Number,
    Numbers,
    Reason,
    RecipeName,
    Share,
    StripSpace,
    TargetStep,
    Text,
    Whole,
    WholeNumber,
    Word,
    words,
)
from sumlight.text.message import say

MOST_READINGS = 100


class Press(Command):
    """A press that lights carries what was seen: it is refused when the box no longer stands so.

    `state_number` is the snapshot's; `side` names what is lit first, as `due` of the snapshot's exposure does.
    """

    state_number: Annotated[int, Strict()]
    recipe_sha256: LongText
    side: Word
    panel: Text


class State(Command):
    """Ask for a snapshot."""


class Watch(Command):
    """Ask for a snapshot now and at every change."""


class Trace(Command):
    """Ask for the next piece of the curve after a moment of control's monotonic clock."""

    since_s: Number = 0.0


class Start(Press):
    """Begin a panel."""

    recipe: RecipeName
    note: Note = ""
    who: Text = TERMINAL


class Series(Start):
    """Begin a series of legs on one panel, each ended by a dose or after `seconds`.

    `parameters` are those of `protocol.run_parameters`.
    """

    kind: Word
    doses_mj_cm2: Numbers = ()
    seconds: Number | None = None
    legs: WholeNumber = 1
    parameters: dict[str, JsonValue] | None = None


class Go(Press):
    """Go on with the panel at hand: after a pause, or to its next side."""


class Dark(Command):
    """Switch all lamps off; obeyed before anything is validated.

    `sender` is who asked over a network, as its signature says; it goes into the logbook.
    """

    sender: Text = ""


class Abandon(Command):
    """Give up the panel at hand."""


class Acknowledge(Command):
    """Acknowledge the faults whose cause is gone."""

    who: Text = TERMINAL


class Lamps(Command):
    """Ask for hours and strikes of every bank."""


class TubesFitted(Command):
    """Record new tubes: at `positions`, or `tubes` of them when all of a bank's were changed."""

    bank: Text
    positions: Numbers = ()
    tubes: Number = 0
    lamp_type: Text
    wavelength_class: Text
    label: Text = ""
    hours: Hours = 0.0
    strikes: Annotated[int, Whole, Strict(), Ge(0), Le(10_000_000)] = 0
    expected_life_h: Hours = 0.0


class ReplacementLevel(Command):
    """Keep the percentage of their seasoned light below which lamps are to be changed; its bounds are the store's."""

    percent: Number


class NoteExposure(Command):
    """Keep a note and a result with a recorded exposure."""

    exposure_id: Identity
    note: Note = ""
    result: Note = ""
    who: Text = TERMINAL


class Judge(Command):
    """Keep whether the panel of a draft came out well. What follows from it for the recipe is the page's."""

    exposure_id: Identity
    verdict: Literal["good", "too_little", "too_much", "unknown"]
    who: Text = TERMINAL


class OfCommissioning(Command):
    """A command of commissioning."""


class CommissionBegin(OfCommissioning):
    """Begin commissioning."""

    who: Text


class CommissionNext(OfCommissioning):
    """Go on in commissioning. `at` is the moment a press is meant for, as the run's picture names it.

    `at_the_box` says that the person stands there: only then K1 is held for a step.
    """

    at: LongText
    leak_mw_cm2: Number | None = None
    answer: Annotated[str, Strict(), MaxLen(10), StripSpace] | None = None
    at_the_box: Flag = False


class CommissionAbort(OfCommissioning):
    """Give commissioning up."""


class CommissionOverride(OfCommissioning):
    """Unlock exposures without commissioning, on record."""

    who: Text
    reason: Reason


class Simulate(Command):
    """Move the twin's lid and parts; a real box refuses it.

    Its `do` as_asked does there what the step of commissioning at hand asks of a person.
    """

    do: Annotated[str, Strict(), MaxLen(40), StripSpace]
    bank: LongText | None = None
    meter: LongText | None = None


class Calibration(Command):
    """Ask for the calibration of every bank, judged by a tolerance (share, k = 2)."""

    tolerance: Annotated[float, Strict(), Ge(0.02), Le(1)] | None = None


class OfBank(Command):
    """A command about one bank, the first if none is named."""

    bank: Text | None = None


class Radiometer(OfBank):
    """Set the calibration by a radiometer's reading at the glass; its uncertainty is a standard one, as a share.

    One that is left out counts as 0.1 (±20 %, k = 2).
    """

    mw_cm2: Irradiance
    relative_uncertainty: Annotated[float, Strict(), Ge(0.001), Le(0.5)] | None = None


class TabletPlan(Command):
    """Ask for the doses of a run with a step tablet; the reference is the recipe's dose if none is given."""

    recipe: RecipeName
    zones: Annotated[int, Whole, Strict(), Ge(1), Le(12)] = 4
    target_step: TargetStep
    reference_mj_cm2: Dose | None = None


class Reading(Command):
    """What was read off one zone's tablet; `half` says that the step was half gone."""

    zone: Annotated[str, Strict(), MaxLen(20)] | Annotated[int, Strict()] = "1"
    step: Annotated[int, Strict(), Ge(1), Le(21)] | Literal["all_held", "all_gone"]
    half: Flag = False


class TabletReadings(Command):
    """Work out a run with a step tablet, and set a calibration or record a recipe's dose by it.

    The uncertainty of the reference is a standard one, as a share; left out, or 0, it counts as 0.1 (±20 %, k = 2).
    `densities` are those of the tablet's own certificate, steps 1 to 21; their uncertainty is a standard one, in
    density; left out, or 0, it counts as ±20 % of the light.
    """

    exposure_id: Identity
    convention: Literal["last_held", "first_cleared"]
    readings: Annotated[
        tuple[Reading, ...],
        MinLen(1),
        MaxLen(MOST_READINGS),
        Field(description=say("list_of_readings", most=MOST_READINGS)),
    ]
    lot: Text = ""
    reference_mj_cm2: Dose | None = None
    reference_uncertainty: Share | None = None
    target_step: TargetStep
    densities: Numbers = ()
    density_uncertainty: Annotated[float, Strict(), Ge(0), Le(0.5)] | None = None
    apply: Literal["", "calibration", "recipe"] = ""
    sure: Flag = False


class Teach(Command):
    """Take the dose of a finished teach exposure."""

    exposure_id: Identity


class SelfCheck(OfBank):
    """Let the sensor look at its own LED, or apply what it found."""

    apply: Flag = False


class NewLamps(OfBank):
    """Record that all lamps of a bank were changed, nothing told of single tubes."""

    lamp_type: Annotated[str, Strict(), MaxLen(80), StripSpace]


class LearnGains(OfBank):
    """Learn the steps between the sensor's gains while a steady series holds the lamps."""


class SheetTransmission(Command):
    """Work out what sheets let through: `covered` names the legs with a sheet, every second one if none is named."""

    exposure_id: Identity
    covered: Numbers = ()


class FieldMap(Command):
    """Work out the map of a walk through the field.

    `places` are [x, y] of each leg, `sensor` [x, y], `panel` [x0, x1, y0, y1], all in mm.
    """

    exposure_id: Identity
    places: Annotated[
        tuple[tuple[Number, Number], ...],
        MinLen(1),
        MaxLen(MOST_NUMBERS),
        Field(description=say("list_of_places", most=MOST_NUMBERS)),
    ]
    sensor: Numbers = ()
    panel: Numbers = ()


class StripPlan(Command):
    """Ask for the doses of a test strip by geometric increments."""

    first_mj_cm2: Dose
    factor: Annotated[float, Strict(), Ge(SMALLEST_FACTOR), Le(LARGEST_FACTOR)] = 1.19
    zones: Annotated[int, Whole, Strict(), Ge(FEWEST_ZONES), Le(MOST_ZONES)] = 8


class Strip(Command):
    """Work out a test strip; no zone held if none is named."""

    exposure_id: Identity
    first_held_zone: WholeNumber | None = None


class DoseWindow(Command):
    """Ask between which doses an artwork works on a resist.

    Transmissions of clear and opaque film with their standard uncertainties, as shares of 1; steps of a tablet.
    """

    clear: Annotated[float, Strict(), Ge(1e-6), Le(1)]
    clear_standard: Share = 0.0
    opaque: Share
    opaque_standard: Share = 0.0
    dose_mj_cm2: Dose
    held_step: Annotated[int, Whole, Strict(), Ge(1), Le(20)]
    clean_step: Annotated[int, Whole, Strict(), Ge(1), Le(21)]
    target_step: Annotated[int, Whole, Strict(), Ge(1), Le(21)] | None = None


COMMANDS: Final[Mapping[str, type[Command]]] = MappingProxyType(
    {
        "state": State,
        "watch": Watch,
        "trace": Trace,
        "start": Start,
        "series": Series,
        "go": Go,
        "dark": Dark,
        "abandon": Abandon,
        "acknowledge": Acknowledge,
        "lamps": Lamps,
        "tubes_fitted": TubesFitted,
        "replacement_level": ReplacementLevel,
        "note": NoteExposure,
        "judge": Judge,
        "commission_begin": CommissionBegin,
        "commission_next": CommissionNext,
        "commission_abort": CommissionAbort,
        "commission_override": CommissionOverride,
        "simulate": Simulate,
        "calibration": Calibration,
        "radiometer": Radiometer,
        "tablet_plan": TabletPlan,
        "tablet_readings": TabletReadings,
        "teach": Teach,
        "self_check": SelfCheck,
        "new_lamps": NewLamps,
        "learn_gains": LearnGains,
        "transmission": SheetTransmission,
        "field": FieldMap,
        "strip_plan": StripPlan,
        "strip": Strip,
        "dose_window": DoseWindow,
        **scale_commands.COMMANDS,
        **finding_commands.COMMANDS,
        **job_commands.COMMANDS,
        **bath_commands.COMMANDS,
        **stock_commands.COMMANDS,
    }
)
"""Every command by its name on the socket."""

SEEN: Final = ("state_number", "recipe_sha256", "side", "panel", "at")
"""Fields that say what a press was meant for."""


def made(name: str, values: Mapping[str, Any]) -> Command:
    """The command `name` with its fields as they came in.

    Raises BadRequestError for a command that does not exist, a field it does not take, or a value out of bounds; the
    first one that is wrong.
    """
    if name not in COMMANDS:
        raise BadRequestError("unknown_command", say("no_such_command", commands=list(COMMANDS)), field="command")
    model = COMMANDS[name]
    try:
        return model.model_validate({key: value for key, value in values.items() if value is not None})
    except ValidationError as error:
        raise _told(name, model, error.errors(include_url=False)) from error


def unseen(field: str) -> BadRequestError:
    """The refusal of a press without `field`, which would say what it was meant for."""
    return BadRequestError("bad_value", say("press_unseen"), field=field, remedy=say("load_again_then_press"))


def _told(command: str, model: type[Command], errors: list[ErrorDetails]) -> BadRequestError:
    strange = next((error for error in errors if error["type"] == "extra_forbidden" and len(error["loc"]) == 1), None)
    if strange is not None:
        fields = list(model.model_fields)
        told = say("command_takes", command=command, fields=fields)
        none = say("command_takes_nothing", command=command)
        return BadRequestError("bad_request", told if fields else none, field=str(strange["loc"][0])[:40])
    first = errors[0]
    name = str(first["loc"][0])
    if first["type"] == "missing" and name in SEEN and len(first["loc"]) == 1:
        return unseen(name)
    return BadRequestError("bad_value", words(model, first), field=name)
