"""The simulated GPIO chip from outside: levels now, contacts pulled, and the kernel's own record of what programs set.

The record comes from the kernel's trace points, so that no level is missed, however short, and its times are those of
`time.monotonic`.
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path

RELAY, SHUT_CONTACT, OPEN_CONTACT, ENABLE = 17, 23, 24, 25
K1_MIRROR, STOP_CONTACT, HEAT_CONTACT = 22, 27, 5
"""As in box.yaml. A contact to ground that is closed reads low."""

LIGHTS = os.environ.get("SUMLIGHT_LIGHTS_WHEN", "low") == "high"
"""The level at which the relay closes: the checks are run for both."""

RESTS = not LIGHTS

TRACING = Path("/sys/kernel/tracing")
CHIP_LABEL = "pinctrl-bcm2711"
SET = re.compile(r" (\d+\.\d+): gpio_value: (\d+) set (\d)")
DIRECTION = re.compile(r" (\d+\.\d+): gpio_direction: (\d+) +(in|out)")


@dataclass(frozen=True)
class Event:
    """A program did something to a line at `at_s`: `level` it set, or None if it made it an input."""

    at_s: float
    line: int
    level: bool | None


class Lines:
    """All lines of the chip."""

    def __init__(self) -> None:
        self._sim = Path(os.environ["SUMLIGHT_GPIO"])
        self._values: dict[int, int] = {}
        self._before: dict[int, bool] = {}
        chips = [path.parent for path in Path("/sys/class/gpio").glob("gpiochip*/label") if _text(path) == CHIP_LABEL]
        self._base = int(_text(chips[0] / "base"))
        # Reading a line is traced too; only setting it is of interest.
        (TRACING / "events/gpio/gpio_value/filter").write_text("get == 0")

    def level(self, line: int) -> bool:
        """The level of a line now, whoever drives it."""
        if line not in self._values:
            self._values[line] = os.open(self._sim / f"sim_gpio{line}" / "value", os.O_RDONLY)
        return os.pread(self._values[line], 4, 0)[:1] == b"1"

    def pull(self, line: int, *, high: bool) -> None:
        """What hangs on a line pulls it up or down; seen by whoever reads it, unless a program drives it."""
        (self._sim / f"sim_gpio{line}" / "pull").write_text("pull-up" if high else "pull-down")

    def forget(self) -> None:
        """Begin a new record."""
        self._before = {line: self.level(line) for line in (RELAY, ENABLE)}
        (TRACING / "trace").write_text("")

    def record(self) -> list[Event]:
        """What programs did since `forget`, oldest first."""
        events = []
        for row in (TRACING / "trace").read_text().splitlines():
            if found := SET.search(row):
                events.append(Event(float(found[1]), int(found[2]) - self._base, found[3] == "1"))
            elif (found := DIRECTION.search(row)) and found[3] == "in":
                events.append(Event(float(found[1]), int(found[2]) - self._base, None))
        return events

    def set_levels(self, line: int) -> list[tuple[float, bool]]:
        """The levels that programs set on one line since `forget`."""
        return [(event.at_s, event.level) for event in self.record() if event.line == line and event.level is not None]

    def moves(self, line: int) -> list[tuple[float, bool]]:
        """The same without those that changed nothing: off is written again and again while a line rests."""
        found, now = [], self._before.get(line)
        for at_s, level in self.set_levels(line):
            if level != now:
                found.append((at_s, level))
                now = level
        return found


def _text(path: Path) -> str:
    return path.read_text().strip()
