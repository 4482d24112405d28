"""`box.yaml`: which pin does what. Read once at start; a mistake stops the start with every fault listed."""

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sumlight import checkedfile
from sumlight.light.sensors import BOTH, KINDS, KindName, SensorKind, record_name
from sumlight.light.tubesight import TubeSight, tube_sight

GPIO_PINS = range(2, 28)
"""BCM numbers on the 40-pin header that are free for use; 0 and 1 belong to the board's identity chip."""

BUS_PINS = {1: (2, 3)}
"""Pins that the header's I2C bus occupies, by bus number."""

UV_ADDRESSES = range(0x74, 0x78)
"""Addresses of an AS7331, by its two address pins (driver's notes after DS001047)."""

SHORTEST_KEPT_DAYS, LONGEST_KEPT_DAYS = 30, 36_500
"""How long traces may be kept at least and at most where they are not kept for good."""

Pin = Annotated[int, Field(ge=GPIO_PINS.start, le=GPIO_PINS.stop - 1)]
Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]{0,23}$")]
Seconds = Annotated[float, Field(gt=0, le=36_000)]


class Bank(checkedfile.Checked):
    """Lamps switched together by one relay.

    `side` is the face of the panel it lights: A is the only one on a box with one bank. `lights_when` is the level
    of the pin that closes the relay; the other level is its rest. `release_s` is the first guess of the time from
    switching off to darkness, which the box then learns by itself. `lamps` says what shines: UV tubes, or LEDs, for
    which the sensor must be calibrated before the first panel. `lamp_hours` is how long these lamps had burned
    before this box began to count. Both give way to what is recorded when other lamps are fitted. `leds_built_in` says
    that LEDs are soldered or screwed in, so that nobody changes them without recording it: a sensor of UV alone cannot
    tell LEDs apart, and without this word its ± covers other ones.
    """

    name: Name
    side: Literal["A", "B"]
    relay_pin: Pin
    lights_when: Literal["low", "high"]
    meter: Name
    release_s: Annotated[float, Field(ge=0, le=0.5)] = 0.01
    lamps: Literal["tubes", "led"] = "tubes"
    lamp_hours: Annotated[float, Field(ge=0, le=100_000)] = 0.0
    leds_built_in: bool = False


class Lid(checkedfile.Checked):
    """Two complementary contacts to ground with pull-ups, so that a broken wire never reads as a shut lid.

    `shut_pin` is low only while the lid is shut, `open_pin` only while it is open. If the two do not agree for
    longer than `disagreement_limit_s`, that is a fault.
    """

    shut_pin: Pin
    open_pin: Pin
    disagreement_limit_s: Annotated[float, Field(gt=0, le=3)]


class Sight(checkedfile.Checked):
    """How a light sensor looks at the tubes of its bank, so that the box can say which of them it does not see.

    `tubes` lie `pitch_mm` apart, their axes `height_mm` before the sensor, which sits `across_mm` from the middle and
    takes light up to `accepts_deg` from upright (63 for the head of hardware/drawings/sensor.svg).
    """

    tubes: Annotated[int, Field(ge=1, le=24)]
    pitch_mm: Annotated[float, Field(gt=0, le=500)]
    height_mm: Annotated[float, Field(gt=0, le=1000)]
    across_mm: Annotated[float, Field(ge=-1000, le=1000)] = 0.0
    accepts_deg: Annotated[float, Field(gt=0, lt=90)]

    def of_tubes(self) -> TubeSight:
        """Which tubes it sees."""
        return tube_sight(self.tubes, self.pitch_mm, self.height_mm, self.across_mm, self.accepts_deg)


class Meter(checkedfile.Checked):
    """One light sensor and what a count of it is worth.

    `kind` names the chip: an `as7341` sees colours and takes violet for UV; an `as7331` measures UV-A itself, sees no
    colour and has no LED for the self-check. `colour_i2c_address` is that of an AS7341 beside an AS7331, on the same
    head, behind the same diffuser and on the same bus, which watches colour and window while the other measures.
    `mw_cm2_per_basic_count` turns basic counts of the 415 nm or the UV-A channel into mW/cm² at the glass;
    `calibration_uncertainty` is its relative standard uncertainty (0.08 means 8 %). `position` says in words where the
    sensor sits; a calibration holds only where it was made, so whoever moves the sensor changes these words.
    `i2c_sda_pin` and `i2c_scl_pin` are the pins of a bus other than 1, whose pins the header fixes. Without `sight`
    nothing is said about single tubes.
    """

    name: Name
    kind: KindName
    i2c_bus: Annotated[int, Field(ge=0, le=20)]
    i2c_address: Annotated[int, Field(ge=0x08, le=0x77)]
    mw_cm2_per_basic_count: Annotated[float, Field(gt=0, le=1000)]
    calibration_uncertainty: Annotated[float, Field(gt=0, lt=1)]
    position: Annotated[str, Field(max_length=60)] = ""
    i2c_sda_pin: Pin | None = None
    i2c_scl_pin: Pin | None = None
    sight: Sight | None = None
    colour_i2c_address: Annotated[int, Field(ge=0x08, le=0x77)] | None = None

    @property
    def sensor(self) -> SensorKind:
        """What it can and cannot do."""
        return KINDS[self.kind] if self.colour_i2c_address is None else BOTH

    @property
    def beside(self) -> Self | None:
        """The colour sensor on the same head, as a meter of its own; None without one."""
        if self.colour_i2c_address is None:
            return None
        own = {"name": f"{self.name}-colour", "kind": "as7341", "i2c_address": self.colour_i2c_address}
        return self.model_copy(update={**own, "colour_i2c_address": None})

    @property
    def chips(self) -> list[Self]:
        """Each chip of the head as a meter of its own, the one that measures first."""
        return [self] if self.beside is None else [self, self.beside]

    @property
    def record_name(self) -> str:
        """What records call it. The kind belongs to it: what was learned with one says nothing of another."""
        return record_name(self.name, self.kind)

    @property
    def bus_pins(self) -> tuple[int, ...]:
        """Data and clock pin of its bus; empty where nobody has named them."""
        fixed = BUS_PINS.get(self.i2c_bus)
        if fixed is not None:
            return fixed
        return tuple(pin for pin in (self.i2c_sda_pin, self.i2c_scl_pin) if pin is not None)


SignalPin = Pin | Literal["left_out"]
"""A pin, or the plain word that this box does without the signal, which is then shown at all times."""


class Signals(checkedfile.Checked):
    """Safety signals beside the lid: contacts to ground with pull-ups, so that a broken wire reads as trouble.

    `k1_mirror_pin` is low while contactor K1 has dropped (its normally closed mirror contact),
    `emergency_stop_pin` while the stop is not pressed, `over_temperature_pin` while the box is cool enough.
    """

    k1_mirror_pin: SignalPin
    emergency_stop_pin: SignalPin
    over_temperature_pin: SignalPin


class AuxiliaryOutputs(checkedfile.Checked):
    """Outputs that nothing depends on for safety, all high when on.

    `fan_pin` runs while lamps burn or the box is too hot, and `fan_run_on_s` longer; `pump_pin` pulls the contact
    frame's vacuum from `pump_lead_s` before light until dark; `beacon_pin` shows that lamps are told to burn or
    that there is light, also under an open lid.
    """

    fan_pin: Pin | None = None
    fan_run_on_s: Annotated[float, Field(ge=0, le=3600)] = 120.0
    pump_pin: Pin | None = None
    pump_lead_s: Annotated[float, Field(ge=0, le=600)] = 60.0
    beacon_pin: Pin | None = None

    @property
    def lead_s(self) -> float:
        """How long the pump runs before light; 0 without a pump."""
        return 0.0 if self.pump_pin is None else self.pump_lead_s


class FrontPanel(checkedfile.Checked):
    """Buttons, buzzer and light at the box itself, for work without a phone. Nothing depends on them for safety.

    `go_pin` is low while its button is pressed, `stop_pin` while its button is not: a broken wire lights nothing, and
    one at the stop button ends light and is told. `buzzer_pin` and `light_pin` are high when on. `display_sda_pin` and
    `display_scl_pin` are the bus of a text display, which Linux's driver has and control never touches. `go_recipe` is
    what go begins when nothing waits; without it go only goes on. `press_to_light` asks for a press of go at the box
    within 30 s of every command from elsewhere that would light.
    """

    go_pin: Pin | None = None
    stop_pin: Pin | None = None
    buzzer_pin: Pin | None = None
    light_pin: Pin | None = None
    display_sda_pin: Pin | None = None
    display_scl_pin: Pin | None = None
    go_recipe: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    press_to_light: bool = False


class Thermometer(checkedfile.Checked):
    """An MCP9808 thermometer near tubes and light sensor, on the bus of a light sensor."""

    i2c_bus: Annotated[int, Field(ge=0, le=20)]
    i2c_address: Annotated[int, Field(ge=0x18, le=0x1F)] = 0x18


class Limits(checkedfile.Checked):
    """Limits that guard people and work. None has a default: whoever builds the box decides them."""

    strike_limit_s: Seconds
    """Longest wait for light after the lamps were switched on."""
    lit_limit_s: Seconds
    """Longest time with light for one side, whatever the recipe says."""
    bridge_limit_s: Annotated[float, Field(ge=0.1, le=2)]
    """Longest time without a reading of the light before the lamps go dark."""
    dark_limit_mw_cm2: Annotated[float, Field(gt=0, le=10)]
    """Light above this with lamps off means a stuck relay, a leak or an open lid."""
    drop_limit: Annotated[float, Field(gt=0.02, lt=0.9)]
    """A sudden change of light by more than this share means a tube went out or stray light came in."""


class LogbookRules(checkedfile.Checked):
    """What may leave the logbook by itself: nothing, unless `keep_traces_days` is set.

    Then the samples of exposures that ended longer ago go, at night and told; doses, journals and all else stay.
    """

    keep_traces_days: Annotated[int, Field(ge=SHORTEST_KEPT_DAYS, le=LONGEST_KEPT_DAYS)] | None = None


LOCAL_BROKERS = ("127.0.0.1", "::1", "localhost")


class FleetLink(checkedfile.Checked):
    """Where a box of several tells its records and its state: a broker (MQTT 5). Control reads nothing of this.

    `box_id` is the box's user name there. Without `ca_file`, the authority that signed the broker's certificate, only
    a broker on this computer is asked. `discovery_prefix` names the box's sensors to home automation, `metrics_port`
    opens figures for monitoring on this computer. With `dark_key_file` a *dark* that was signed with the key in it
    ends light; without it none that comes over the network does.
    """

    box_id: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,31}$")]
    broker: Annotated[str, Field(min_length=1, max_length=253)]
    port: Annotated[int, Field(ge=1, le=65_535)] = 8883
    ca_file: Annotated[str, Field(min_length=1, max_length=500)] | None = None
    password_file: Annotated[str, Field(min_length=1, max_length=500)] | None = None
    discovery_prefix: Annotated[str, Field(pattern=r"^[a-zA-Z0-9_-]{1,40}$")] | None = None
    metrics_port: Annotated[int, Field(ge=1024, le=65_535)] | None = None
    dark_key_file: Annotated[str, Field(min_length=1, max_length=500)] | None = None

    @model_validator(mode="after")
    def _safe(self) -> Self:
        found: list[tuple[checkedfile.Location, str]] = []
        if self.box_id == "collector":
            found.append((("box_id",), "is the collector's name; give the box another"))
        if self.ca_file is None and self.broker not in LOCAL_BROKERS:
            text = "is missing: the password would go over the network for all to read; give the broker's authority"
            found.append((("ca_file",), text))
        if found:
            raise checkedfile.MistakesError(found)
        return self


class BoxDescription(checkedfile.Checked):
    """The whole of `box.yaml`.

    `pin_library` names the library that drives the pins; it is never guessed. `enable_pin` carries the square wave
    that keeps contactor K1 closed; null says that the box has none, which the page then shows. `signals` has no
    default: whoever builds the box states each one, or says that it is left out.
    """

    name: Annotated[str, Field(min_length=1, max_length=60)]
    pin_library: Literal["lgpio", "twin"]
    banks: Annotated[list[Bank], Field(min_length=1, max_length=2)]
    lid: Lid
    enable_pin: Pin | None
    signals: Signals
    comforts: AuxiliaryOutputs | None = None
    meters: Annotated[list[Meter], Field(min_length=1, max_length=2)]
    thermometer: Thermometer | None = None
    front_panel: FrontPanel | None = None
    limits: Limits
    logbook: LogbookRules = LogbookRules()
    fleet: FleetLink | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        found = [*self._pin_clashes(), *self._bank_mistakes(), *self._thermometer_mistakes(), *self._panel_mistakes()]
        if found:
            raise checkedfile.MistakesError(found)
        return self

    def pins(self) -> list[tuple[checkedfile.Location, int]]:
        """Every pin in use as (place in the file, BCM number)."""
        used: list[tuple[checkedfile.Location, int]] = [
            (("banks", index, "relay_pin"), bank.relay_pin) for index, bank in enumerate(self.banks)
        ]
        used += [(("lid", "shut_pin"), self.lid.shut_pin), (("lid", "open_pin"), self.lid.open_pin)]
        if self.enable_pin is not None:
            used.append((("enable_pin",), self.enable_pin))
        for block in ("signals", "comforts", "front_panel"):
            for field, pin in getattr(self, block) or ():
                if field.endswith("_pin") and isinstance(pin, int):
                    used.append(((block, field), pin))
        return used

    def bank_for(self, side: str) -> Bank | None:
        """The bank that lights `side` without turning the panel."""
        return next((bank for bank in self.banks if bank.side == side), None)

    def meter_of(self, bank: Bank) -> Meter:
        """The meter that watches `bank`."""
        return next(meter for meter in self.meters if meter.name == bank.meter)

    def _pin_clashes(self) -> list[tuple[checkedfile.Location, str]]:
        taken: dict[int, str] = {}
        for meter in self.meters:
            for pin in meter.bus_pins:
                taken[pin] = f"I2C bus {meter.i2c_bus}"
        found = []
        for field, pin in self.pins():
            if pin in taken:
                found.append((field, f"GPIO {pin} already serves {taken[pin]}; every pin may serve once"))
            taken.setdefault(pin, checkedfile.dotted(field))
        return found

    def _panel_mistakes(self) -> list[tuple[checkedfile.Location, str]]:
        panel = self.front_panel
        if panel is None:
            return []
        found: list[tuple[checkedfile.Location, str]] = []
        asked = {"go_recipe": panel.go_recipe is not None, "press_to_light": panel.press_to_light}
        text = "needs a go button; give front_panel.go_pin, or leave this out"
        if panel.go_pin is None:
            found += [(("front_panel", field), text) for field, given in asked.items() if given]
        display = {"display_sda_pin": panel.display_sda_pin, "display_scl_pin": panel.display_scl_pin}
        if len([pin for pin in display.values() if pin is not None]) == 1:
            (given,) = (field for field, pin in display.items() if pin is not None)
            (missing,) = display.keys() - {given}
            text = (
                f"is one pin of the display's bus, which needs two; give front_panel.{missing} too, or leave this out"
            )
            found.append((("front_panel", given), text))
        return found

    def _thermometer_mistakes(self) -> list[tuple[checkedfile.Location, str]]:
        buses = sorted({meter.i2c_bus for meter in self.meters})
        if self.thermometer is None or self.thermometer.i2c_bus in buses:
            return []
        text = f"there is no light sensor on bus {self.thermometer.i2c_bus}; the thermometer shares the bus of one: "
        return [(("thermometer", "i2c_bus"), text + " or ".join(map(str, buses)))]

    def _kind_mistakes(self) -> list[tuple[checkedfile.Location, str]]:
        found: list[tuple[checkedfile.Location, str]] = []
        if len({meter.kind for meter in self.meters}) > 1:
            text = f"is {self.meters[1].kind} beside {self.meters[0].kind}; both meters of a box must be of one kind"
            found.append((("meters", 1, "kind"), text))
        for index, meter in enumerate(self.meters):
            if meter.kind == "as7331" and meter.i2c_address not in UV_ADDRESSES:
                text = f"an AS7331 answers at 0x74 to 0x77 only, not at 0x{meter.i2c_address:02x}; look at its pins"
                found.append((("meters", index, "i2c_address"), text))
            if meter.kind == "as7341" and meter.colour_i2c_address is not None:
                text = "is for an AS7341 beside an as7331; this meter sees colours itself, so leave it out"
                found.append((("meters", index, "colour_i2c_address"), text))
        return found

    def _bank_mistakes(self) -> list[tuple[checkedfile.Location, str]]:
        found: list[tuple[checkedfile.Location, str]] = []
        meters = [meter.name for meter in self.meters]
        places = [(chip.i2c_bus, chip.i2c_address) for meter in self.meters for chip in meter.chips]
        if len(set(meters)) < len(meters):
            found.append((("meters", 1, "name"), f"both meters are called '{meters[0]}'; give each its own name"))
        if len(set(places)) < len(places):
            fixed = "an AS7341 has one fixed address, so use two buses"
            chosen = "give one AS7331 another address by its address pins, or use two buses"
            main = {(meter.i2c_bus, meter.i2c_address) for meter in self.meters}
            remedy = chosen if self.meters[0].kind == "as7331" and len(main) < len(self.meters) else fixed
            found.append(
                (("meters", len(self.meters) - 1, "i2c_bus"), f"both meters sit at the same bus and address; {remedy}")
            )
        found += self._kind_mistakes()
        for what in ("name", "side", "meter"):
            values = [getattr(bank, what) for bank in self.banks]
            if len(set(values)) < len(values):
                found.append((("banks", 1, what), f"both banks have '{values[0]}'; each bank needs its own"))
        for index, bank in enumerate(self.banks):
            if bank.meter not in meters:
                text = f"no meter is called '{bank.meter}'; there is {', '.join(meters)}"
                found.append((("banks", index, "meter"), text))
        if self.bank_for("A") is None:
            found.append((("banks",), "none lights side A; a single bank is always side A"))
        return found


def load_box(path: Path) -> BoxDescription:
    """Read and check a `box.yaml`.

    Raises checkedfile.FileProblemsError with file, line, field and what is allowed.
    """
    return checkedfile.load(path, BoxDescription)
