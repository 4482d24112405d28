"""The simulated box as a whole: stepped lazily by its clock, from the outside only seen through pins and bus.

Whoever reads a pin or the bus first calls `advance`; nothing else moves the world on. Any thread may do so.
"""

import heapq
import threading
from collections import deque
from collections.abc import Callable
from functools import partial
from random import Random
from typing import NamedTuple

from sumlight.box.description import BoxDescription, Meter
from sumlight.box.description import Sight as DeclaredSight
from sumlight.twin import events, optics
from sumlight.twin.bus import Device, TwinBus
from sumlight.twin.chip import Chip, Light
from sumlight.twin.clock import TwinClock
from sumlight.twin.contacts import Contacts
from sumlight.twin.field import Field, Geometry
from sumlight.twin.lamps import Lamp
from sumlight.twin.lid import Lid
from sumlight.twin.pins import BEATS_KEPT, CHANGES_KEPT, TwinFactory, TwinPin
from sumlight.twin.relays import Switchgear
from sumlight.twin.scenario import Scenario
from sumlight.twin.sight import Quirks, Sight, gain_factors
from sumlight.twin.thermometer import ThermometerChip
from sumlight.twin.uv_chip import UvChip

Action = Callable[[float], None]

LOG_LINES = 5_000


def _geometry(sight: DeclaredSight | None) -> Geometry:
    """As box.yaml describes the bank, as far as it does."""
    if sight is None:
        return Geometry()
    return Geometry(tubes=sight.tubes, pitch_mm=sight.pitch_mm, height_mm=sight.height_mm)


class _Due(NamedTuple):
    at_s: float
    order: int
    action: Action


class World:
    """One simulated box and what happens to it.

    `pin_factory` is for gpiozero devices, `log` tells what happened last as (mono_s, words), newest last. Raises
    ScenarioMismatchError if the scenario names a part the box does not have.
    """

    def __init__(self, clock: TwinClock, box: BoxDescription, scenario: Scenario) -> None:
        scenario.check_against(box)
        self.clock = clock
        self.log: deque[tuple[float, str]] = deque(maxlen=LOG_LINES)
        self.next_s = float("inf")
        self._box = box
        self._scenario = scenario
        self.lock = threading.RLock()
        self._due: list[_Due] = []
        self._order = 0
        self._pins: dict[int, TwinPin] = {}
        self._pressed: list[str] = []
        self._daylight_mw_cm2 = 0.0
        self._daylight_mj_cm2 = 0.0
        self._daylight_since_s = clock.now_s
        self._light_seen = False
        self._lid = Lid(self.rng("lid"))
        self._gear = Switchgear(box, scenario, self)
        self._contacts = Contacts(box, self._lid, self._gear, self.later)
        self.supply_low = False
        self._lamps = {bank.name: Lamp(scenario, self.rng(f"lamp {bank.name}"), clock.now_s) for bank in box.banks}
        self._fields = {
            bank.name: Field(_geometry(box.meter_of(bank).sight), self.rng(f"tubes {bank.name}")) for bank in box.banks
        }
        self._described = {chip.name: chip for meter in box.meters for chip in meter.chips}
        self._head = {chip.name: [one.name for one in meter.chips] for meter in box.meters for chip in meter.chips[:1]}
        self._bank_of = {chip.name: bank.name for bank in reversed(box.banks) for chip in box.meter_of(bank).chips}
        self._sights = {name: Sight(diffuser=scenario.diffuser_transmission) for name in self._described}
        for bank in box.banks:
            meter = box.meter_of(bank)
            for chip in meter.chips:
                if meter.sight is not None:
                    self._sights[chip.name].sit(self._fields[bank.name], meter.sight.across_mm, meter.sight.accepts_deg)
        self._chips: dict[str, Chip] = {}
        self._in_order = False
        self._chips |= {name: self._chip(chip) for name, chip in self._described.items()}
        self.thermometer = ThermometerChip(self._air_c) if box.thermometer is not None else None
        self._buses = {
            number: TwinBus(
                clock,
                self.advance,
                self.lock,
                self._devices(number),
            )
            for number in {meter.i2c_bus for meter in box.meters}
        }
        self.pin_factory = TwinFactory(self)
        self._plan("start", clock.now_s)

    # What the simulation shows of itself

    @property
    def lid_shut(self) -> bool:
        """Where the lid really is."""
        self.advance()
        return self._lid.shut

    def bus(self, number: int) -> TwinBus:
        """Return the I2C bus with this number. Raises ValueError if the box has no meter on it."""
        try:
            return self._buses[number]
        except KeyError:
            known = ", ".join(str(bus) for bus in sorted(self._buses))
            raise ValueError(f"there is nothing on I2C bus {number} of the simulated box; it has {known}") from None

    def actinic_mj_cm2(self, bank: str, x_mm: float = 0.0, y_mm: float = 0.0) -> float:
        """True dose at the glass above `bank` so far, before the stack, daylight included.

        Asked for in the middle of the glass unless a place is given (`field` tells how lamp light differs there).
        """
        with self.lock:
            self.advance()
            now_s = self.clock.now_s
            lamp = self._lamps[bank]
            self._settle(now_s)
            lamp.integrate_to(now_s)
            share = self._fields[bank].relative(x_mm, y_mm) if x_mm or y_mm else 1.0
            return share * lamp.actinic_mj_cm2 + optics.actinic().daylight * self._daylight_until(now_s)

    def actinic_mw_cm2(self, bank: str) -> float:
        """True irradiance at the middle of the glass above `bank` at this instant, ripple and daylight included."""
        with self.lock:
            self.advance()
            lamp = self._lamps[bank]
            light_mw_cm2 = lamp.kind.nominal_mw_cm2 * lamp.output(self.clock.now_s)
            return light_mw_cm2 + optics.actinic().daylight * self._daylight_mw_cm2

    def is_lit(self, bank: str) -> bool:
        """Whether light really comes out of `bank`, its afterglow included."""
        with self.lock:
            self.advance()
            return self._lamps[bank].is_lit(self.clock.now_s)

    def lamp(self, bank: str) -> Lamp:
        """The lamps of `bank`, to look at."""
        return self._lamps[bank]

    def field(self, bank: str) -> Field:
        """Lamp light of `bank` over the glass."""
        return self._fields[bank]

    def quirks(self, meter: str) -> Quirks:
        """How the chip of `meter` differs from its datasheet."""
        return self._chips[meter].quirks

    def burn_in(self, bank: str, hours: float) -> None:
        """Let the lamps of `bank` age by so many hours of burning without simulating them."""
        with self.lock:
            self.advance()
            self._settle(self.clock.now_s)
            self._lamps[bank].add_hours(self.clock.now_s, hours)

    def pressed(self) -> list[str]:
        """Buttons pressed since last asked."""
        if self.clock.now_s >= self.next_s:
            self.advance()
        if not self._pressed:
            return []
        with self.lock:
            pressed, self._pressed = self._pressed, []
        return pressed

    def happen(self, event: events.Event) -> None:
        """Let an event happen now, whatever its `at_s`. Raises ScenarioMismatchError for an unknown part."""
        Scenario.model_construct(events=[event]).check_against(self._box)
        with self.lock:
            self.advance()
            self._happen(event, self.clock.now_s)

    def true_calibration(self, meter: str) -> float:
        """mW/cm² in the middle of the glass per basic count of F1 (or UV-A) at gain 16; KeyError for an unknown meter.

        Right for lamps of the present type and age, and for all that lies before the sensor now, its place and
        temperature included.
        """
        with self.lock:
            self.advance()
            chip, sight, lamp = self._chips[meter], self._sights[meter], self._lamp_at(meter)
            kind, (band, lines) = (lamp.kind.name, lamp.left()) if lamp else (self._scenario.lamp_type, (1.0, 1.0))
            channel = "UVA" if isinstance(chip, UvChip) else "F1"
            dose, seen = optics.actinic(kind), sight.response(channel, kind)
            counts = (seen.phosphor * band + seen.lines * lines) * chip.sensitivity(self.clock.now_s)
            basic_counts = counts * (1 + chip.quirks.clock_error) / 1000.0
            return (dose.phosphor * band + dose.lines * lines) / basic_counts

    def true_transmission(self, bank: str, sheet: optics.Sheet) -> float:
        """What `sheet` really lets through of the actinic light of the present lamps of `bank`."""
        with self.lock:
            self.advance()
            lamp = self._lamps[bank]
            return optics.sheet_transmission(sheet, lamp.kind.name, *lamp.left())

    # Time

    def advance(self) -> None:
        """Let everything happen that was due by now, in order of time."""
        now_s = self.clock.now_s
        if now_s < self.next_s:
            return
        with self.lock:
            while self._due and self._due[0].at_s <= now_s:
                due = heapq.heappop(self._due)
                due.action(due.at_s)
            self.next_s = self._due[0].at_s if self._due else float("inf")

    def later(self, at_s: float, action: Action) -> None:
        """Let something happen at `at_s`."""
        self._order += 1
        heapq.heappush(self._due, _Due(at_s, self._order, action))
        self.next_s = min(self.next_s, at_s)

    def _settle(self, now_s: float) -> None:
        """Finish conversions that ended before `now_s`, while lamps and daylight are still what they were."""
        for chip in self._chips.values():
            chip.catch_up(now_s)

    def _finish_before(self, chips: list[str], at_s: float) -> None:
        """Finish conversions of `chips` that ended before `at_s`.

        Chips of one head share a lamp whose light only adds up: looked at later, an earlier end would get light of the
        time after it.
        """
        if self._in_order:
            return
        self._in_order = True
        for name in chips:
            if (chip := self._chips.get(name)) is not None and chip.end_s < at_s:
                chip.catch_up(at_s)
        self._in_order = False

    def note(self, at_s: float, words: str) -> None:
        """Write the log."""
        self.log.append((at_s, words))

    def rng(self, part: str) -> Random:
        """A source of chance of its own for each part, so that parts do not disturb each other's luck."""
        return Random(f"{self._scenario.seed} {part}")  # noqa: S311 - a simulation, no secret

    # Pins

    def changes_kept(self, pin: int) -> int:
        """How many changes of its level a pin remembers."""
        return BEATS_KEPT if pin == self._box.enable_pin else CHANGES_KEPT

    def consumer_of(self, pin: int) -> Callable[[bool | None], None] | None:
        """What to tell about the level of an output pin (None: floating)."""
        if pin == self._box.enable_pin:
            return self._gear.enable_level
        for bank in self._box.banks:
            if pin == bank.relay_pin:
                name = bank.name
                return lambda level: self._gear.relay_level(name, level)
        return None

    def add_pin(self, pin: TwinPin) -> None:
        """Called by each pin when it is made: connects it to its contact, if it has one."""
        self._pins[pin.number_bcm] = pin
        self._contacts.connect(pin, self.clock.now_s)

    def control_dies(self) -> None:
        """The process that drove the pins is gone: every pin floats, and the next process finds them all free."""
        with self.lock:
            self.advance()
            for pin in self.pin_factory.pins.values():
                pin.abandon()
            self.pin_factory = TwinFactory(self)

    # Lamps and light

    def supply(self, at_s: float) -> None:
        """Give each bank power or take it away, as its relay and K1 have it."""
        self._contacts.follow(at_s)
        for name, lamp in self._lamps.items():
            powered = self._gear.gives_power and self._gear.relays[name].closed
            if powered != lamp.powered:
                self._settle(at_s)
                if powered:
                    self._strike_later(name, lamp, lamp.power_on(at_s))
                else:
                    lamp.power_off(at_s)
                    self.note(at_s, f"{name} loses power")

    def _strike_later(self, name: str, lamp: Lamp, strike_s: float) -> None:
        began_s = lamp.powered_since_s

        def strike(at_s: float) -> None:
            if lamp.striking and lamp.powered_since_s == began_s:
                self._settle(at_s)
                lamp.strike(at_s)
                self.note(at_s, f"{name} lights")
                if lamp.tubes and not self._light_seen:
                    self._light_seen = True
                    self._plan("light", at_s)

        self.later(strike_s, strike)

    def _lamp_at(self, meter: str) -> Lamp | None:
        """The lamps that a meter watches."""
        bank = self._bank_of.get(meter)
        return self._lamps[bank] if bank is not None else None

    def _chip(self, meter: Meter) -> Chip:
        """The chip of a meter behind its window, under the light of the bank it watches and of the day."""
        script, lamp, sight = self._scenario, self._lamp_at(meter.name), self._sights[meter.name]
        beside = [name for head in self._head.values() if meter.name in head for name in head if name != meter.name]

        def light_at(at_s: float) -> Light:
            if beside:
                self._finish_before(beside, at_s)
            if lamp is None:
                return (0.0, 0.0, self._daylight_until(at_s))
            lamp.integrate_to(at_s)
            return (lamp.phosphor_s, lamp.lines_s, self._daylight_until(at_s))

        def response(channel: str) -> optics.Response:
            return sight.response(channel, lamp.kind.name if lamp is not None else script.lamp_type)

        quirks = Quirks(
            clock_error=script.chip_clock_error,
            drift_per_k=script.sensor_drift_per_k,
            **({"gain_factors": gain_factors(self.rng(f"gains {meter.name}"))} if script.gain_errors else {}),
        )
        return (UvChip if meter.kind == "as7331" else Chip)(
            light_at,
            self.rng(f"meter {meter.name}"),
            response,
            quirks,
            lamp.air_c if lamp is not None else None,
        )

    def _devices(self, bus: int) -> dict[int, Device]:
        found: dict[int, Device] = {
            chip.i2c_address: self._chips[name] for name, chip in self._described.items() if chip.i2c_bus == bus
        }
        place = self._box.thermometer
        if self.thermometer is not None and place is not None and place.i2c_bus == bus:
            found[place.i2c_address] = self.thermometer
        return found

    def _air_c(self, at_s: float) -> float:
        """The air at the tubes of the first bank."""
        return self._lamps[self._box.banks[0].name].air_c(at_s)

    def _daylight_until(self, at_s: float) -> float:
        return self._daylight_mj_cm2 + self._daylight_mw_cm2 * (at_s - self._daylight_since_s)

    def _set_daylight(self, at_s: float, level_mw_cm2: float) -> None:
        self._settle(at_s)
        self._daylight_mj_cm2 = self._daylight_until(at_s)
        self._daylight_since_s = at_s
        self._daylight_mw_cm2 = level_mw_cm2

    # Events

    def _plan(self, since: str, start_s: float) -> None:
        for event in self._scenario.events:
            if event.since == since:
                self.later(start_s + event.at_s, partial(self._happen, event))

    def _happen(self, event: events.Event, at_s: float) -> None:
        what = ", ".join(str(value) for key, value in event if key not in ("at_s", "since") and value is not None)
        self.note(at_s, what)
        match event:
            case events.LidOpens() | events.LidCloses():
                self._move_lid(at_s, isinstance(event, events.LidCloses))
            case events.ContactSticks():
                self._lid.contacts[event.contact].stick()
            case events.ContactFrees():
                changes = self._lid.contacts[event.contact].free()
                self._contacts.bounce(at_s, [(delay_s, event.contact, closed) for delay_s, closed in changes])
            case events.DaylightEnters():
                self._set_daylight(at_s, event.level_mw_cm2)
            case events.DaylightEnds():
                self._set_daylight(at_s, 0.0)
            case events.MainsChanges():
                self._settle(at_s)
                for lamp in self._lamps.values():
                    lamp.set_mains_factor(at_s, event.value)
            case events.RoomChanges():
                self._settle(at_s)
                for lamp in self._lamps.values():
                    lamp.set_room(at_s, event.value)
            case events.Press():
                self._pressed.append(event.button)
            case events.K1Welds() | events.K1Frees():
                self._gear.weld_k1(at_s, isinstance(event, events.K1Welds))
            case events.StopPressed() | events.StopReleased():
                self._gear.wired_acts(at_s, "S2", isinstance(event, events.StopPressed))
                self._contacts.follow(at_s)
            case events.CutOutOpens() | events.CutOutReset():
                self._gear.wired_acts(at_s, "F3", isinstance(event, events.CutOutOpens))
            case events.Overheats() | events.Cools():
                self._contacts.too_hot = isinstance(event, events.Overheats)
                self._contacts.follow(at_s)
            case events.FieldSupplyFails() | events.FieldSupplyReturns():
                self._contacts.field_supply(isinstance(event, events.FieldSupplyReturns), at_s)
            case events.WireBreaks() | events.WireMended():
                self._contacts.wire(event.wire, isinstance(event, events.WireBreaks), at_s)
            case events.GoTapped() | events.StopTapped():
                self._contacts.tap("go" if isinstance(event, events.GoTapped) else "stop", at_s)
            case events.ButtonSticks() | events.ButtonFrees():
                self._contacts.stick(event.button, isinstance(event, events.ButtonSticks), at_s)
            case events.SupplySags() | events.SupplyRecovers():
                self.supply_low = isinstance(event, events.SupplySags)
            case _ if "bank" in type(event).model_fields:
                self._bank_event(at_s, event, getattr(event, "bank", None) or self._box.banks[0].name)
            case _:
                self._meter_event(at_s, event)

    def _bank_event(self, at_s: float, event: events.Event, bank: str) -> None:
        relay = self._gear.relays[bank]
        match event:
            case events.TubeFails():
                self._settle(at_s)
                self._lamps[bank].fail_tubes(at_s, event.tubes)
            case events.TubeFlickers():
                self._settle(at_s)
                self._lamps[bank].flicker(at_s, event.depth, event.hz)
            case events.TubeTakenOut() | events.TubePutIn():
                self._settle(at_s)
                self._fields[bank].move(event.place, out=isinstance(event, events.TubeTakenOut))
                self._tubes_moved(at_s, bank)
            case events.RelayWelds():
                relay.welded = True
            case events.RelayFrees():
                relay.welded = False
                if relay.follow():
                    self.supply(at_s)
            case events.LampsSwapped():
                self._swap_lamps(at_s, event, bank)

    def _tubes_moved(self, at_s: float, bank: str) -> None:
        lamp_field = self._fields[bank]
        self._lamps[bank].tubes_out(at_s, lamp_field.left)
        for name, watched in self._bank_of.items():
            if watched == bank:
                self._sights[name].look(lamp_field)
                self._chips[name].optics_changed(at_s)

    def _swap_lamps(self, at_s: float, event: events.LampsSwapped, bank: str) -> None:
        lamp = self._lamps[bank]
        self._settle(at_s)
        if lamp.powered:
            lamp.power_off(at_s)
        lamp.swap(at_s, event.lamp_type, event.hours)
        self._fields[bank].fill()
        self._tubes_moved(at_s, bank)
        for chip in self._chips.values():
            chip.optics_changed(at_s)
        self.supply(at_s)

    def _meter_event(self, at_s: float, event: events.Event) -> None:
        name = getattr(event, "meter", None) or self._box.meters[0].name
        chip = self._chips[name]
        chip.catch_up(at_s)
        match event:
            case events.MeterDisappears():
                chip.present = False
            case events.MeterReturns():
                chip.power_up()
            case events.MeterHangs():
                chip.hung = True
            case events.MeterFreezes():
                chip.frozen = True
            case _:
                bank = self._bank_of.get(name)
                for one in self._head.get(name, [name]):  # what stands before a head stands before all its chips
                    self._chips[one].catch_up(at_s)
                    self._sights[one].change(event, self._fields[bank] if bank is not None else None)
                    self._chips[one].optics_changed(at_s)

    def _move_lid(self, at_s: float, shut: bool) -> None:
        self._contacts.bounce(at_s, self._lid.move(shut))
        self._gear.wired_acts(at_s, "S3", not shut)
