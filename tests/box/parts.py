"""Parts of a box on the simulated world, for the tests of the devices themselves."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from sumlight.box.colour_meter import ColourMeter
from sumlight.box.description import Bank, BoxDescription, load_box
from sumlight.box.meter import LightMeter
from sumlight.light.sample import Sample
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from sumlight.twin.events import EVENTS
from sumlight.twin.pins import TwinPin
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World

TICK_S = 0.005


def demo_text(two_banks: bool = False) -> str:
    """The demo box's file as it is on disk."""
    return (demo.TWO_BANK_BOX if two_banks else demo.BOX).read_text()


def changed(text: str, *changes: tuple[str, str]) -> str:
    """`text` with each (old, new) done once; fails if an old one is not there."""
    for old, new in changes:
        assert text.count(old) >= 1, f"{old!r} does not stand in the file"
        text = text.replace(old, new, 1)
    return text


def write(folder: Path, text: str) -> Path:
    """A box.yaml with this text."""
    path = folder / "box.yaml"
    path.write_text(text)
    return path


class Bench:
    """A simulated world without control: devices are made by the test."""

    def __init__(self, two_banks: bool = False, box_file: Path = demo.BOX, **scenario: Any) -> None:
        self.box: BoxDescription = load_box(demo.TWO_BANK_BOX if two_banks else box_file)
        self.clock = TwinClock()
        self.start_s = self.clock.now_s
        self.world = World(self.clock, self.box, Scenario.model_validate({"release_jitter_s": 0.0, **scenario}))
        self.pins = self.world.pin_factory
        self.leave = True

    def bank(self, **changes: Any) -> Bank:
        """The description of the first bank, with some fields changed."""
        return self.box.banks[0].model_copy(update=changes)

    def may_light(self) -> bool:
        """The leave that banks ask for."""
        return self.leave

    def pin(self, number: int) -> TwinPin:
        """A pin as the world sees it."""
        pin: TwinPin = self.pins.pin(number)
        return pin

    def levels(self, number: int) -> list[bool | None]:
        """The full history of a pin: its levels from the beginning, None while it floats."""
        return [level for _, level in self.pin(number).history]

    def happen(self, do: str, **extra: Any) -> None:
        """Let an event happen now."""
        self.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do, **extra}))

    def run(self, seconds: float, each: Callable[[], None] | None = None, tick_s: float = TICK_S) -> None:
        """Let time pass in ticks, calling `each` at every one."""
        end_s = self.clock.now_s + seconds
        while self.clock.now_s < end_s - 1e-9:
            self.clock.wait_until(min(end_s, self.clock.now_s + tick_s))
            self.world.advance()
            if each is not None:
                each()


class MeterBench(Bench):
    """A world with its light meter connected, and lamps that the test switches past control."""

    def __init__(self, **scenario: Any) -> None:
        super().__init__(**scenario)
        self.meter: LightMeter = ColourMeter(self.box.meters[0], self.world.bus(1))
        self.chip = self.world._chips["below"]
        self.samples: list[Sample] = []
        self.lit = False
        self._enable = self.pin(25)
        self._relay = self.pin(17)
        self._enable.output_with_state(False)
        self._relay.output_with_state(True)
        self.beat = True

    def poll(self) -> Sample | None:
        """One look, kept if it gave a sample."""
        sample = self.meter.poll(self.clock.now_s, lit=self.lit)
        if sample is not None:
            self.samples.append(sample)
        return sample

    def watch(self, seconds: float, tick_s: float = TICK_S) -> list[Sample]:
        """Poll at every tick; returns the samples of this stretch."""
        before = len(self.samples)

        def each() -> None:
            if self.beat:
                self._enable.state = not self._enable.state
            self.poll()

        self.run(seconds, each, tick_s)
        return self.samples[before:]

    def light(self) -> None:
        """Lamps on; returns when they have burnt for two seconds."""
        self._relay.state = False
        while not self.world.is_lit("lower"):
            self.watch(0.05)
        self.lit = True
        self.watch(2.0)

    def dark(self) -> None:
        """Lamps off."""
        self._relay.state = True
        self.lit = False
