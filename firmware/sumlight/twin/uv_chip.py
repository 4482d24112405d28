"""A register-level AS7331 UV sensor, as far as the driver and the light meter use it.

Register addresses, status bits, gains, times and the responsivity are those that the driver states (after datasheet
DS001047). From memory, and so to be doubted: that the configuration is out of reach while the chip measures and the
results are while it does not, the contents after power-up, when the new-data bit clears, that a window of 2^n steps
counts to 2^n at most, and that a break lasts three steps of the clock at least.
"""

import struct
from math import sqrt

from sumlight.twin.chip import SHOT_NOISE, Chip

OSR, TEMP, RESULTS = 0x00, 0x01, 0x02
AGEN, CREG1, CREG2, CREG3, BREAK = 0x02, 0x06, 0x07, 0x08, 0x09
WRITABLE = frozenset({CREG1, CREG2, CREG3, BREAK, 0x0A})
PART_ID = 0x21

START, POWER_DOWN, RESET = 0x80, 0x40, 0x08
STATE = 0x07
CONFIGURATION, MEASUREMENT = 2, 3

RESULT_OVERFLOWED, CONVERTER_OVERFLOWED, LOST_DATA, NEW_DATA, NOT_READY = 0x40, 0x20, 0x10, 0x08, 0x04

CLOCK_STEP_S = 1 / 1.024e6
"""One step of the slowest clock; each further code of CREG3 doubles the clock."""
BREAK_STEP_S = 8e-6
LEAST_BREAK_STEPS = 3
WARM_C_BITS, WARM_C_ZERO = 0.05, -66.9
"""Temperature of the chip by its register (driver)."""
CHANNELS = ("UVA", "UVB", "UVC")
DARK_COUNTS = 0.8
"""Offset at gain 512 in 64 ms (invented)."""

_WORDS = struct.Struct("<5H")


class UvChip(Chip):
    """One sensor. The light outside, its window and what goes wrong with it are as for any `Chip`."""

    def power_up(self) -> None:
        """Everything as after power-up; ends hanging and freezing too."""
        self.present = True
        self.hung = self.frozen = False
        self._reg = bytearray(256)
        self._reg[OSR] = POWER_DOWN | CONFIGURATION
        self._reg[CREG1] = 0xA6
        self._reg[CREG2], self._reg[CREG3], self._reg[BREAK] = 0x40, 0x50, 0x19
        self._glow = None
        self._mix = None
        self._status = 0
        self._results = (0, 0, 0)
        self._weights = [(0.0, 0.0, 0.0)] * len(CHANNELS)
        self._running = False
        self.end_s = float("inf")
        self._connect()

    def catch_up(self, now_s: float) -> None:
        """Finish every conversion that has ended by `now_s`; only the last one's data can still be seen."""
        if now_s < self.end_s:
            return
        period_s = self._span_s + self._break_s
        missed = int((now_s - self.end_s) / period_s)
        if missed:
            self._start(self.end_s + (missed - 1) * period_s + self._break_s)
        self._finish()

    def _finish(self) -> None:
        """End a conversion: offset, noise, saturation, rounding. The next one follows after the break."""
        end_s = self.end_s
        if not self.hung:
            if not self.frozen:
                self._publish(self._collected(self._light_at(end_s), end_s))
            lost = LOST_DATA if self._status & NEW_DATA else 0
            self._status = self._status & ~NOT_READY | NEW_DATA | lost
            self.conversions += 1
        self._start(end_s + self._break_s)

    def _publish(self, collected: list[float]) -> None:
        out, flags = [], 0
        clip = None if self.clips_at is None else self.clips_at * self._full_scale
        for counts in collected:
            if clip is not None and counts > clip:
                counts, flags = clip, CONVERTER_OVERFLOWED
            counts += DARK_COUNTS * self._gain / 512.0 * self._span_s / 0.064
            noise = SHOT_NOISE * counts
            counts += self._rng.gauss(0.0, sqrt(1.0 + noise * noise))
            flags |= RESULT_OVERFLOWED if counts > self._full_scale else 0
            out.append(min(max(0, round(counts)), self._full_scale))
        self._results = (out[0], out[1], out[2])
        self._status = self._status & ~(RESULT_OVERFLOWED | CONVERTER_OVERFLOWED) | flags

    def _measuring(self) -> bool:
        return self._reg[OSR] & STATE == MEASUREMENT

    def _read(self, now_s: float, register: int, size: int) -> bytes:
        self.catch_up(now_s)
        if not self._measuring():
            return bytes(self._configuration(index) for index in range(register, register + size))
        fetched = register <= RESULTS < register + (size + 1) // 2
        raw_c = round((self._air_c(now_s) - WARM_C_ZERO) / WARM_C_BITS)
        words = _WORDS.pack(self._reg[OSR] | self._status << 8, raw_c, *self._results)[2 * register :]
        if fetched:
            self._status &= ~(NEW_DATA | LOST_DATA)
        return words[:size] + bytes(max(0, size - len(words)))

    def _configuration(self, register: int) -> int:
        return PART_ID if register == AGEN else self._reg[register] if register < 0x10 else 0

    def _write(self, now_s: float, register: int, value: int) -> None:
        if register in self.miswritten:
            value = self.miswritten[register](value)
        if register == OSR:
            self._operate(now_s, value)
        elif register in WRITABLE and not self._measuring():
            self._reg[register] = value

    def _operate(self, now_s: float, value: int) -> None:
        """Act on OSR: reset, change the state, start or stop."""
        if value & RESET:
            hung, frozen = self.hung, self.frozen
            self.power_up()
            self.hung, self.frozen = hung, frozen
            return
        self._reg[OSR] = value
        runs = self._measuring() and value & (START | POWER_DOWN) == START
        if runs and not self._running:
            self._restart(now_s)
        elif not runs:
            self._running = False
            self.end_s = float("inf")

    def _restart(self, now_s: float) -> None:
        """Begin with the present times; the unfinished conversion is lost."""
        steps = 1 << 10 + min(self._reg[CREG1] & 0x0F, 14)
        clock_s = CLOCK_STEP_S / (1 << (self._reg[CREG3] & 0x03)) * (1 + self.quirks.clock_error)
        self._full_scale = min(65_535, steps)
        self._span_s = steps * clock_s
        self._break_s = max(self._reg[BREAK] * BREAK_STEP_S, LEAST_BREAK_STEPS * clock_s)
        self._gain = self._true_gain()
        self._running = True
        self._status = NOT_READY
        self._start(now_s)

    def _true_gain(self) -> float:
        doublings = 11 - min(self._reg[CREG1] >> 4, 11)
        return 2.0**doublings * self.quirks.gain_factors[min(doublings + 1, len(self.quirks.gain_factors) - 1)]

    def _connect(self) -> None:
        found = [self._responses(channel) for channel in CHANNELS]
        self._weights = [(one.phosphor, one.lines, one.daylight) for one in found]

    def _air_c(self, now_s: float) -> float:
        return 25.0 if self._temperature_at is None else self._temperature_at(now_s)
