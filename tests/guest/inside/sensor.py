"""A program of its own in the guest: lamps and light sensor of the box, behind the kernel's I2C bus.

The sensor is the twin's register-level chip. The lamps are simple: full light as long as the relay line is at the level
that lights and contactor K1 is closed, which follows the twin's circuit of the charge pump, edge by edge. K1's mirror
contact follows K1.
Words on standard input: present, absent, hung, tell (answers with the seconds of light so far).
"""

import errno
import os
import select
import struct
import sys
import time
from random import Random

from sumlight.twin.chip import Chip, Light
from sumlight.twin.pump import PumpCircuit, parts_of
from tests.guest.inside.lines import ENABLE, K1_MIRROR, LIGHTS, RELAY, Lines

DEVICE = "/dev/user-i2c"
ADDRESS = 0x39
REQUEST = struct.Struct("=II")
MESSAGE = struct.Struct("=HHH")
ANSWER = struct.Struct("=Ii")
READS = 1
K1_S = 0.02
"""K1 follows K2 so much later, as in the twin."""

LOOK_MS = 2


class Lamps:
    """One bank: follows its lines, and adds up the seconds of full light."""

    def __init__(self, lines: Lines, now_s: float) -> None:
        self._lines = lines
        self._enable = False
        self._pump = PumpCircuit(*parts_of("nominal"), now_s)
        self._k1 = False
        self._k2_moved_s = now_s
        self._seen_s = now_s
        self._lit = False
        self.lit_s = 0.0

    def look(self, now_s: float) -> None:
        """Bring light up to now."""
        if self._lit:
            self.lit_s += now_s - self._seen_s
        self._seen_s = now_s
        self._let_k2_move(now_s)
        enable = self._lines.level(ENABLE)
        if enable != self._enable:
            self._enable = enable
            self._pump.edge(enable, now_s)
        if self._k1 != self._pump.closed and now_s - self._k2_moved_s >= K1_S:
            self._k1 = self._pump.closed
        if self._lines.level(K1_MIRROR) != self._k1:  # closed to ground only while K1 has dropped
            self._lines.pull(K1_MIRROR, high=self._k1)
        self._lit = self._lines.level(RELAY) == LIGHTS and self._k1

    def _let_k2_move(self, now_s: float) -> None:
        pump = self._pump
        while (at_s := pump.look_next_s()) <= now_s:
            was = pump.closed
            pump.look(at_s)
            if pump.closed != was:
                self._k2_moved_s = at_s

    def light_at(self, at_s: float) -> Light:
        """Light so far at a moment near the last look, as the chip asks for it."""
        light_s = self.lit_s + (at_s - self._seen_s if self._lit else 0.0)
        return light_s, light_s, 0.0


class Server:
    """Answers the kernel's requests for the bus."""

    def __init__(self) -> None:
        now_s = time.monotonic()
        self.lamps = Lamps(Lines(), now_s)
        self.chip = Chip(self.lamps.light_at, Random(7))
        self.hung = False
        self._pointer = 0
        self._bus = os.open(DEVICE, os.O_RDWR)

    def run(self) -> None:
        """Until standard input ends."""
        poll = select.poll()
        poll.register(self._bus, select.POLLIN)
        poll.register(sys.stdin, select.POLLIN)
        while True:
            ready = dict(poll.poll(LOOK_MS))
            now_s = time.monotonic()
            self.lamps.look(now_s)
            self.chip.catch_up(now_s)
            if self._bus in ready:
                self._serve(os.read(self._bus, 65536), now_s)
            if sys.stdin.fileno() in ready and not self._told(sys.stdin.readline().strip()):
                return

    def _told(self, word: str) -> bool:
        if word == "tell":
            print(self.lamps.lit_s, flush=True)
        elif word == "present" and not self.chip.present:
            self.chip.power_up()
        elif word == "absent":
            self.chip.present = False
        self.hung = word == "hung" or (self.hung and word == "tell")
        return bool(word)

    def _serve(self, request: bytes, now_s: float) -> None:
        if self.hung:
            return
        number, messages = REQUEST.unpack_from(request)
        at, out, status = REQUEST.size, b"", 0
        for _ in range(messages):
            address, flags, size = MESSAGE.unpack_from(request, at)
            at += MESSAGE.size
            if address != ADDRESS or not self.chip.present:
                status = -errno.ENXIO
                break
            if flags & READS:
                out += self.chip.read(now_s, self._pointer, size)
            elif size:
                data = request[at : at + size]
                self._pointer = data[0]
                if size > 1:
                    self.chip.write(now_s, data[0], data[1:])
                at += size
        try:
            os.write(self._bus, ANSWER.pack(number, status) + (b"" if status else out))
        except OSError as error:
            if error.errno != errno.ESTALE:  # the kernel has given up waiting for this answer
                raise


if __name__ == "__main__":
    Server().run()
