"""A simulated box with its devices, for the tests of the twin."""

from typing import Any

from adafruit_as7341 import AS7341
from gpiozero import InputDevice, OutputDevice

from sumlight.box.description import BoxDescription, load_box
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World

TICK_S = 0.005


def demo_box(**changes: Any) -> BoxDescription:
    """The demo box with some fields changed."""
    return load_box(demo.BOX).model_copy(update=changes)


def scenario(*events: dict[str, Any], **keys: Any) -> Scenario:
    """A scenario with these events; no jitter in the relays unless asked for."""
    return Scenario.model_validate({"release_jitter_s": 0.0, **keys, "events": list(events)})


class Rig:
    """The demo box with its relay, lid inputs and heartbeat; `beat` says whether `run` keeps K1 closed."""

    def __init__(self, script: Scenario | None = None, box: BoxDescription | None = None) -> None:
        self.box = box if box is not None else demo_box()
        self.clock = TwinClock()
        self.start_s = self.clock.now_s
        self.world = World(self.clock, self.box, script if script is not None else scenario())
        self.bank = self.box.banks[0].name
        factory = self.world.pin_factory
        self.relay = OutputDevice(self.box.banks[0].relay_pin, active_high=False, pin_factory=factory)
        self.shut = InputDevice(self.box.lid.shut_pin, pull_up=True, pin_factory=factory)
        self.open = InputDevice(self.box.lid.open_pin, pull_up=True, pin_factory=factory)
        self.enable = None if self.box.enable_pin is None else OutputDevice(self.box.enable_pin, pin_factory=factory)
        self.beat = True

    def run(self, seconds: float) -> None:
        """Let time pass in ticks, with the heartbeat if `beat`."""
        end_s = self.clock.now_s + seconds
        while self.clock.now_s < end_s - 1e-9:
            self.clock.wait_until(min(end_s, self.clock.now_s + TICK_S))
            if self.beat and self.enable is not None:
                self.enable.toggle()
            self.world.advance()

    def light(self) -> None:
        """Switch the bank on and wait until it burns."""
        self.run(0.2)
        self.relay.on()
        for _ in range(400):
            self.run(TICK_S)
            if self.world.is_lit(self.bank):
                return
        raise RuntimeError("the bank did not light within two seconds")

    def when(self, words: str) -> list[float]:
        """The moments at which this stands in the world's log."""
        return [at_s for at_s, told in self.world.log if told == words]

    def meter(self, gain_code: int = 5, atime: int = 29, astep: int = 599) -> AS7341:
        """The driver, set up as the light meter does it: F1 to F4, Clear and NIR, converting."""
        driver = AS7341(self.world.bus(1))
        driver.atime = atime
        driver.astep = astep
        driver.gain = gain_code
        driver._color_meas_enabled = False
        driver._smux_command = 2
        driver._f1f4_clear_nir()
        driver._smux_enabled = True
        driver._color_meas_enabled = True
        return driver

    def samples(self, driver: AS7341, seconds: float) -> list[tuple[int, ...]]:
        """Every new conversion of the next seconds as (status, six counts)."""
        found = []
        end_s = self.clock.now_s + seconds
        while self.clock.now_s < end_s - 1e-9:
            self.run(TICK_S)
            if driver._data_ready_bit:
                found.append(driver._all_channels)
        return found
