"""What happens in the simulated box: the state it starts in and timed events, read from a YAML file."""

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator

from sumlight import checkedfile
from sumlight.box.description import BoxDescription
from sumlight.twin.events import (
    TUBES_PER_BANK,
    AnyEvent,
    Event,
    LampHours,
    MainsFactor,
    RoomC,
    Transmission,
    TubePutIn,
    TubeTakenOut,
    event_of,
)
from sumlight.twin.pump import PumpParts
from sumlight.twin.sources import Ageing, LampTypeName

MirrorBridge = Literal["says_dropped", "says_closed"]
Delay = Annotated[float, Field(ge=0, le=0.2)]


class ScenarioMismatchError(ValueError):
    """A scenario names a part that the box does not have."""


class Scenario(checkedfile.Checked):
    """The whole of a scenario file; every key may be left out.

    `lamp_type`, `lamp_hours` and `strikes` are those of every bank at the start. With `ageing: apart` phosphor and
    mercury lines fade each by its own law, as they do; with `alike` both by one, so that a calibration is right for
    life. `room_c` is the air around the lamps,
    `mains_factor` the mains voltage over nominal. `gain_errors` lets the sensor's gains be up to 3 % a step off,
    `sensor_drift_per_k` changes its sensitivity by that share for each kelvin from 25 °C, `chip_clock_error` is the
    share by which its conversions are too long, `diffuser_transmission` the dirt on its diffuser at the start.
    `hardwired_lid_switch`, `hardwired_stop` and `hardwired_cut_out`, each `false`, leave that contact out of K1's coil
    circuit, to show what the software alone does. `k1_mirror_bridged` lets K1's mirror say the same whatever K1 does
    (`says_dropped`, `says_closed`), and `cut_out_button: false` is a cut-out that nobody can open by hand.
    `attendant_go_after_s` is how long somebody takes to press go when the box waits for it; null means that nobody is
    there. Same file and same `seed`: same run.
    """

    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = 1
    lamp_hours: LampHours = 100.0
    strikes: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    lamp_type: LampTypeName = "fluorescent"
    ageing: Ageing = "apart"
    room_c: RoomC = 25.0
    mains_factor: MainsFactor = 1.0
    ripple_hz: Literal[100, 120] = 100
    ripple_depth: Annotated[float, Field(ge=0, le=1)] = 0.35
    hardwired_lid_switch: bool = True
    hardwired_stop: bool = True
    hardwired_cut_out: bool = True
    k1_mirror_bridged: MirrorBridge | None = None
    cut_out_button: bool = True
    attendant_go_after_s: Annotated[float, Field(ge=0, le=86_400)] | None = 2.0
    relay_release_s: Delay = 0.008
    relay_pull_in_s: Delay = 0.010
    release_jitter_s: Annotated[float, Field(ge=0, le=0.05)] = 0.0005
    pump_parts: PumpParts = "nominal"
    gain_errors: bool = False
    sensor_drift_per_k: Annotated[float, Field(ge=-0.01, le=0.01)] = 0.0
    chip_clock_error: Annotated[float, Field(ge=-0.05, le=0.05)] = 0.0
    diffuser_transmission: Transmission = 1.0
    note: Annotated[str, Field(max_length=2000)] = ""
    events: list[AnyEvent] = Field(default_factory=list)

    @field_validator("events", mode="before")
    @classmethod
    def _each_by_its_kind(cls, given: Any) -> Any:
        """Check each event against the model of its own kind, to tell a mistake by its exact place."""
        if not isinstance(given, list):
            return given
        found: list[tuple[checkedfile.Location, str]] = []
        events = [item if isinstance(item, Event) else event_of(index, item, found) for index, item in enumerate(given)]
        if found:
            raise checkedfile.MistakesError(found)
        return events

    def check_against(self, box: BoxDescription) -> None:
        """Raise ScenarioMismatchError for every bank, meter or tube that `box` does not have."""
        known = {
            "bank": [bank.name for bank in box.banks],
            "meter": [chip.name for meter in box.meters for chip in meter.chips],
        }
        wrong = []
        for index, event in enumerate(self.events):
            for what, names in known.items():
                name = getattr(event, what, None)
                if name is not None and name not in names:
                    wrong.append(
                        f"events[{index}].{what}: '{name}' is not a {what} of {box.name}; "
                        f"use {' or '.join(names)}, or leave the key out for {names[0]}"
                    )
            wrong += _no_tube(f"events[{index}].place", event, box)
        if wrong:
            raise ScenarioMismatchError("\n".join(wrong))


def _no_tube(field: str, event: Event, box: BoxDescription) -> list[str]:
    """What is wrong with an event at a place that its bank does not have."""
    if not isinstance(event, TubeTakenOut | TubePutIn):
        return []
    bank = next((bank for bank in box.banks if bank.name == event.bank), box.banks[0])
    sight = box.meter_of(bank).sight
    tubes = TUBES_PER_BANK if sight is None else sight.tubes
    if event.place <= tubes:
        return []
    return [f"{field}: bank '{bank.name}' of {box.name} has {tubes} tubes; use 1 to {tubes}, not {event.place}"]


def load_scenario(path: Path) -> Scenario:
    """Read and check a scenario file.

    Raises checkedfile.FileProblemsError with file, line, field and what is allowed.
    """
    return checkedfile.load(path, Scenario)
