"""Control on the twin in a process of its own, whose enable line and relay can be watched from outside.

Argument 1 is a file of 16 bytes that both processes map: how many edges the enable line has had, then the relay pin
(0 at rest, 1 lights, 2 floating). What is written there stays when this process is killed, as a wire would. The other
arguments are those of `sumlight`.
"""

import mmap
import struct
import sys
import time

from sumlight.cli import main
from sumlight.twin.clock import START_S, TwinClock
from sumlight.twin.pins import TwinPin

ENABLE, RELAY = 25, 17
LIGHTS_WHEN = False

with open(sys.argv[1], "r+b") as file:
    wires = mmap.mmap(file.fileno(), 16)

drive, settle = TwinPin._drive, TwinPin._settle


def driven(self: TwinPin, level: bool) -> None:
    """A level was put on a line."""
    if self.number_bcm == ENABLE:
        struct.pack_into("q", wires, 0, struct.unpack_from("q", wires, 0)[0] + 1)
    elif self.number_bcm == RELAY:
        wires[8] = 1 if level is LIGHTS_WHEN else 0
    drive(self, level)


def settled(self: TwinPin, at_s: float) -> None:
    """A line was let go."""
    if getattr(self, "number_bcm", None) == RELAY:
        wires[8] = 2
    settle(self, at_s)


wait = TwinClock.wait_until
LATE_S = 0.1


def waited(self: TwinClock, mono_s: float) -> None:
    """Time goes on while this process stands still, as a machine's own clock does; the twin's would catch up."""
    wait(self, mono_s)
    real_s = START_S + time.monotonic() - self._began_real_s
    if real_s - self.now_s > LATE_S:
        self.now_s = real_s


TwinClock.wait_until = waited  # type: ignore[method-assign]
TwinPin._drive = driven  # type: ignore[method-assign]
TwinPin._settle = settled  # type: ignore[method-assign]
sys.exit(main(sys.argv[2:]))
