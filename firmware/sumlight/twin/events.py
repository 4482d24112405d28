"""What may happen in the simulated box: the kinds of timed events that a scenario lists."""

from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, Field, ValidationError

from sumlight import checkedfile
from sumlight.box.description import Name
from sumlight.twin.sources import LampTypeName

TUBES_PER_BANK = 6

Contact = Literal["shut", "open"]
Wire = Literal["shut", "open", "k1_mirror", "emergency_stop", "over_temperature"]
Button = Literal["go", "stop"]
MainsFactor = Annotated[float, Field(ge=0.8, le=1.2)]
RoomC = Annotated[float, Field(ge=-20, le=60)]
LampHours = Annotated[float, Field(ge=0, le=20_000)]
Transmission = Annotated[float, Field(gt=0, le=1)]
PlaceMm = Annotated[float, Field(ge=-1000, le=1000)]


class Event(checkedfile.Checked):
    """Something that happens `at_s` after the start or after the first light of any lamp (`since`)."""

    at_s: Annotated[float, Field(ge=0, le=1_000_000)]
    since: Literal["start", "light"] = "start"


class LidOpens(Event):
    """The lid is opened."""

    do: Literal["lid_opens"]


class LidCloses(Event):
    """The lid is shut."""

    do: Literal["lid_closes"]


class ContactSticks(Event):
    """A lid contact stays as it is, whatever the lid does."""

    do: Literal["contact_sticks"]
    contact: Contact


class ContactFrees(Event):
    """A stuck lid contact follows the lid again."""

    do: Literal["contact_frees"]
    contact: Contact


class TubeFails(Event):
    """Some tubes of a bank go out for good."""

    do: Literal["tube_fails"]
    bank: Name | None = None
    tubes: Annotated[int, Field(ge=1, le=TUBES_PER_BANK)] = 1


class TubeFlickers(Event):
    """The light of one tube of a bank swings by `depth` of itself, `hz` times a second; a depth of 0 ends it."""

    do: Literal["tube_flickers"]
    bank: Name | None = None
    depth: Annotated[float, Field(ge=0, le=1)] = 0.5
    hz: Annotated[float, Field(ge=0.2, le=9.0)] = 4.0


class TubeTakenOut(Event):
    """The tube at a place of a bank, counted from 1, is taken out of its holders."""

    do: Literal["tube_taken_out"]
    bank: Name | None = None
    place: Annotated[int, Field(ge=1, le=24)] = 1


class TubePutIn(Event):
    """The tube at a place of a bank is back in its holders."""

    do: Literal["tube_put_in"]
    bank: Name | None = None
    place: Annotated[int, Field(ge=1, le=24)] = 1


class RelayWelds(Event):
    """The contact of a bank's relay does not open any more, from now or from its next closing on."""

    do: Literal["relay_welds"]
    bank: Name | None = None


class RelayFrees(Event):
    """A welded relay works again."""

    do: Literal["relay_frees"]
    bank: Name | None = None


class K1Welds(Event):
    """The contacts of contactor K1 do not open any more, from now or from its next closing on."""

    do: Literal["k1_welds"]


class K1Frees(Event):
    """A welded K1 works again."""

    do: Literal["k1_frees"]


class StopPressed(Event):
    """The emergency stop is pressed: its contact in K1's coil circuit opens, and so does the one to the Pi."""

    do: Literal["stop_pressed"]


class StopReleased(Event):
    """The emergency stop is unlatched."""

    do: Literal["stop_released"]


class CutOutOpens(Event):
    """The thermal cut-out F3 in K1's coil circuit opens: by heat, or by its test button."""

    do: Literal["cut_out_opens"]


class CutOutReset(Event):
    """The thermal cut-out is closed again by hand."""

    do: Literal["cut_out_reset"]


class Overheats(Event):
    """The over-temperature contact opens."""

    do: Literal["overheats"]


class Cools(Event):
    """The over-temperature contact closes again."""

    do: Literal["cools"]


class WireBreaks(Event):
    """The wire of one of the contacts to the Pi comes off."""

    do: Literal["wire_breaks"]
    wire: Wire


class WireMended(Event):
    """The wire is back on its terminal."""

    do: Literal["wire_mended"]
    wire: Wire


class SupplySags(Event):
    """The computer's supply falls below its limit."""

    do: Literal["supply_sags"]


class SupplyRecovers(Event):
    """The computer's supply is sound again."""

    do: Literal["supply_recovers"]


class FieldSupplyFails(Event):
    """The supply that all contacts switch into the input board is lost: every input reads open."""

    do: Literal["field_supply_fails"]


class FieldSupplyReturns(Event):
    """The supply of the inputs is back."""

    do: Literal["field_supply_returns"]


class MeterDisappears(Event):
    """A light meter no longer answers on the bus."""

    do: Literal["meter_disappears"]
    meter: Name | None = None


class MeterReturns(Event):
    """The meter answers again, freshly powered: all of its settings are lost."""

    do: Literal["meter_returns"]
    meter: Name | None = None


class MeterHangs(Event):
    """The meter answers but never has a new conversion."""

    do: Literal["meter_hangs"]
    meter: Name | None = None


class MeterFreezes(Event):
    """The meter says it has new conversions but repeats the same values."""

    do: Literal["meter_freezes"]
    meter: Name | None = None


class DaylightEnters(Event):
    """Daylight reaches panel and meters; `level_mw_cm2` is its part from 400 to 700 nm at the meter."""

    do: Literal["daylight_enters"]
    level_mw_cm2: Annotated[float, Field(gt=0, le=100)]


class DaylightEnds(Event):
    """It is dark outside again."""

    do: Literal["daylight_ends"]


class MainsChanges(Event):
    """Mains voltage changes to `value` × nominal."""

    do: Literal["mains_factor"]
    value: MainsFactor


class RoomChanges(Event):
    """The air around the box changes to `value` °C."""

    do: Literal["room_c"]
    value: RoomC


class LampsSwapped(Event):
    """All lamps of a bank are swapped for others of a type; the bank loses power for a moment if it has any."""

    do: Literal["lamps_swapped"]
    bank: Name | None = None
    lamp_type: LampTypeName = "fluorescent"
    hours: LampHours = 0.0


class DiffuserFouls(Event):
    """Dirt settles on a meter's diffuser and lets through this share of the light."""

    do: Literal["diffuser_fouls"]
    meter: Name | None = None
    transmission: Transmission


class DiffuserCleaned(Event):
    """The diffuser is as new."""

    do: Literal["diffuser_cleaned"]
    meter: Name | None = None


class FilterRemoved(Event):
    """The glass filter before a meter's sensor is missing."""

    do: Literal["filter_removed"]
    meter: Name | None = None


class FilterFitted(Event):
    """The glass filter is back in its place."""

    do: Literal["filter_fitted"]
    meter: Name | None = None


class SheetLaid(Event):
    """A sheet lies on the meter, in place of any other: `transmission` in the visible, with or without its UV."""

    do: Literal["sheet_laid"]
    meter: Name | None = None
    transmission: Transmission
    blocks_uv: bool = False


class SheetLifted(Event):
    """Nothing lies on the meter."""

    do: Literal["sheet_lifted"]
    meter: Name | None = None


class SensorMoved(Event):
    """A meter is put at a place of the glass, counted in mm from its middle; x runs across the tubes."""

    do: Literal["sensor_moved"]
    meter: Name | None = None
    x_mm: PlaceMm
    y_mm: PlaceMm


class GoTapped(Event):
    """Somebody presses go at the front panel and lets it go again."""

    do: Literal["go_tapped"]


class StopTapped(Event):
    """Somebody presses stop at the front panel, which is not the emergency stop, and lets it go again."""

    do: Literal["stop_tapped"]


class ButtonSticks(Event):
    """A button of the front panel stays pressed."""

    do: Literal["button_sticks"]
    button: Button = "go"


class ButtonFrees(Event):
    """A stuck button comes back."""

    do: Literal["button_frees"]
    button: Button = "go"


class Press(Event):
    """Somebody presses a button."""

    do: Literal["press"]
    button: Literal["go", "dark", "abandon"]


AnyEvent = Annotated[
    LidOpens
    | LidCloses
    | ContactSticks
    | ContactFrees
    | TubeFails
    | TubeFlickers
    | TubeTakenOut
    | TubePutIn
    | RelayWelds
    | RelayFrees
    | K1Welds
    | K1Frees
    | StopPressed
    | StopReleased
    | CutOutOpens
    | CutOutReset
    | Overheats
    | Cools
    | WireBreaks
    | WireMended
    | FieldSupplyFails
    | FieldSupplyReturns
    | SupplySags
    | SupplyRecovers
    | MeterDisappears
    | MeterReturns
    | MeterHangs
    | MeterFreezes
    | DaylightEnters
    | DaylightEnds
    | MainsChanges
    | RoomChanges
    | LampsSwapped
    | DiffuserFouls
    | DiffuserCleaned
    | FilterRemoved
    | FilterFitted
    | SheetLaid
    | SheetLifted
    | SensorMoved
    | GoTapped
    | StopTapped
    | ButtonSticks
    | ButtonFrees
    | Press,
    Field(discriminator="do"),
]

EVENTS: dict[str, type[Event]] = {
    get_args(kind.model_fields["do"].annotation)[0]: kind for kind in get_args(get_args(AnyEvent)[0])
}
"""Every kind of event by its `do`."""


def event_of(index: int, given: Any, found: list[tuple[checkedfile.Location, str]]) -> Event | None:
    """One event of a file's list; None if it is unusable, and then `found` has every mistake in it."""
    if not isinstance(given, dict):
        found.append(((index,), f"must hold `key: value` lines (given: {given!r})"))
        return None
    name = given.get("do")
    kind = EVENTS.get(name) if isinstance(name, str) else None
    if kind is None:
        told = "is missing" if name is None else f"'{name}' is no event"
        found.append(((index, "do"), f"{told}; known events: {', '.join(EVENTS)}"))
        return None
    try:
        return kind.model_validate(given)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            found.append(((index, *detail["loc"]), _told(kind, detail)))
    return None


def _told(kind: type[BaseModel], detail: Any) -> str:
    """One mistake within an event, worded like those of other files."""
    match detail["type"]:
        case "extra_forbidden":
            return f"unknown key; known here: {', '.join(kind.model_fields)}"
        case "missing":
            return "is missing and has no default"
        case _:
            message = str(detail["msg"])
            return f"{message[0].lower()}{message[1:]} (given: {detail['input']!r})"
