"""A register-level AS7341 light sensor, as far as the driver and the light meter use it.

Register addresses and bits are those of the reference table in the project's notes (driver source and
datasheet DS000504). From memory, and so to be doubted: the data-valid bit clears when ASTATUS is read,
register contents after power-up, the analogue limit, and that no photodiode is connected before the first
SMUX command, and what the SMUX command 'read' does: it fetches into the RAM what is connected.
"""

import struct
from collections.abc import Callable
from math import sqrt
from random import Random

from sumlight.twin import optics
from sumlight.twin.optics import Response
from sumlight.twin.sight import Quirks

CONFIG = 0x70
LED = 0x74
ENABLE = 0x80
ATIME = 0x81
WHO_AM_I = 0x92
ASTATUS = 0x94
STATUS2 = 0xA3
CFG0 = 0xA9
CFG1 = 0xAA
CFG6 = 0xAF
ASTEP_L = 0xCA
ASTEP_H = 0xCB

CHIP_ID = 0x24
PON = 0x01
SP_EN = 0x02
SMUXEN = 0x10
AVALID = 0x40
ASAT_DIGITAL = 0x10
ASAT_ANALOG = 0x08
ASAT = 0x80
LED_SEL = 0x08
LED_ON = 0x80
LED_DRIVE = 0x7F
LOW_BANK = 0x10
SMUX_READ, SMUX_WRITE = 1, 2

STEP_S = 2.78e-6
"""One step of the integration clock."""
ANALOG_LIMIT = 0.95
"""Share of full scale at which the analogue part saturates (from memory: before the digital end)."""
SHOT_NOISE = 0.0005
"""Noise in proportion to the counts; one count of fixed noise comes on top (invented)."""

LED_LEAST_MA, LED_STEP_MA = 4, 2
"""Current of the LED by the register's lower seven bits (as the driver reckons)."""
WARM_C = 25.0
"""Temperature at which the sensitivity is the nominal one."""

LEAK_SHARES = tuple(1.0 + 0.05 * index for index in range(6))
"""Dark current differs a little between ADCs."""

SMUX_RAM_SIZE = 20
LOW_BANK_REGISTERS = range(0x60, 0x80)
READ_ONLY = frozenset({WHO_AM_I, STATUS2, *range(ASTATUS, 0xA1)})

PHOTODIODES: tuple[tuple[str | None, str | None], ...] = (
    (None, "F3"),
    ("F1", None),
    (None, None),
    (None, "F8"),
    ("F6", None),
    ("F2", "F4"),
    (None, "F5"),
    ("F7", None),
    (None, "CLEAR"),
    (None, "F5"),
    ("F7", None),
    (None, None),
    (None, "F2"),
    ("F4", None),
    ("F8", "F6"),
    (None, "F3"),
    ("F1", None),
    (None, "CLEAR"),
    (None, None),
    ("NIR", None),
)
"""Photodiodes switched by the low and the high half of each SMUX byte; all but NIR have two."""

Light = tuple[float, float, float]
"""Light so far: seconds of nominal band light and of nominal line light, mJ/cm² of visible daylight."""

_PACKED = struct.Struct("<6H")


class Chip:
    """One sensor. `light_at` gives the light so far outside its window for any moment, asked in order of time.

    `responses` tells what a channel makes of each kind of light; whoever changes that calls `optics_changed`.
    `miswritten` makes another byte of each one written to a register, `misread` of each one read. With `clips_at`
    the analogue part clips at that share of full scale and only STATUS2 says so.
    `temperature_at` is asked for if `quirks` drift with temperature. `present`, `hung` and `frozen` are switched by
    the world: no answer, no new data, the same data again and again.
    """

    def __init__(
        self,
        light_at: Callable[[float], Light],
        rng: Random,
        responses: Callable[[str], Response] = optics.counts,
        quirks: Quirks | None = None,
        temperature_at: Callable[[float], float] | None = None,
    ) -> None:
        self.quirks = quirks if quirks is not None else Quirks()
        self.present = True
        self.hung = False
        self.frozen = False
        self.conversions = 0
        self.miswritten: dict[int, Callable[[int], int]] = {}
        self.misread: dict[int, Callable[[int], int]] = {}
        self.clips_at: float | None = None
        self._light_at = light_at
        self._rng = rng
        self._responses = responses
        self._temperature_at = temperature_at if self.quirks.drift_per_k else None
        self.power_up()

    def power_up(self) -> None:
        """Everything as after power-up; ends hanging and freezing too."""
        self.present = True
        self.hung = self.frozen = False
        self._reg = bytearray(256)
        self._reg[WHO_AM_I] = CHIP_ID
        self._reg[CFG1] = 9
        self._reg[ASTEP_L], self._reg[ASTEP_H] = 999 & 0xFF, 999 >> 8
        self._ram = bytearray(SMUX_RAM_SIZE)
        self._connected = bytes(SMUX_RAM_SIZE)
        self._led_ma = 0
        self._glow: list[float] | None = None
        self._weights: list[tuple[float, float, float]] = [(0.0, 0.0, 0.0)] * 6
        self._led_weights = [0.0] * 6
        self._mapped = [False] * 6
        self._data = bytes(13)
        self._mix: list[float] | None = None
        self._running = False
        self.end_s = float("inf")

    def write(self, now_s: float, register: int, values: bytes | bytearray | memoryview) -> None:
        """Write `values` to `register` and those after it."""
        self.catch_up(now_s)
        for offset, value in enumerate(values):
            self._write(now_s, (register + offset) & 0xFF, value)

    def read(self, now_s: float, register: int, size: int) -> bytes:
        """The contents of `size` registers from `register` on, with what reading does to them."""
        found = self._read(now_s, register, size)
        if not self.misread:
            return found
        as_is = int  # an int of an int is the same
        return bytes(self.misread.get(register + index, as_is)(value) for index, value in enumerate(found))

    def disturb(self, now_s: float, register: int, value: int) -> None:
        """Let a register take a value that nobody wrote; below 0x14 it is the switch itself, not its RAM."""
        self.catch_up(now_s)
        if register < SMUX_RAM_SIZE:
            connected = bytearray(self._connected)
            connected[register] = value
            self._connected = bytes(connected)
            self._connect()
        else:
            self._write(now_s, register, value)

    def _read(self, now_s: float, register: int, size: int) -> bytes:
        if now_s >= self.end_s:
            self.catch_up(now_s)
        reg = self._reg
        if size == 1 and register > ASTATUS:  # the status, asked for again and again: reading it changes nothing
            return bytes(reg[register : register + 1])
        if register <= ASTATUS < register + size:
            reg[ASTATUS : ASTATUS + 13] = self._data
            reg[STATUS2] &= ~AVALID
        if register < 0x80:
            return bytes(self._read_low(index & 0xFF) for index in range(register, register + size))
        out = bytes(reg[register : register + size])
        if register <= ENABLE < register + size:
            reg[ENABLE] &= ~SMUXEN  # the command is done by the time it was seen running
        return out if len(out) == size else out + bytes(size - len(out))

    def catch_up(self, now_s: float) -> None:
        """Finish every conversion that has ended by `now_s`; only the last one's data can still be seen."""
        if now_s < self.end_s:
            return
        missed = int((now_s - self.end_s) / self._span_s)
        if missed:
            self._start(self.end_s + (missed - 1) * self._span_s)
        self._finish()

    def sensitivity(self, at_s: float) -> float:
        """Counts now over counts at 25 °C."""
        if self._temperature_at is None:
            return 1.0
        return 1.0 + self.quirks.drift_per_k * (self._temperature_at(at_s) - WARM_C)

    def optics_changed(self, now_s: float) -> None:
        """Lamps, or something before the window, are others from now on; the running conversion becomes a mix."""
        self.catch_up(now_s)
        self._break(now_s)
        self._connect()

    def _read_low(self, register: int) -> int:
        if register < SMUX_RAM_SIZE:
            return self._ram[register]
        if register in LOW_BANK_REGISTERS and not self._reg[CFG0] & LOW_BANK:
            return 0
        return self._reg[register]

    def _write(self, now_s: float, register: int, value: int) -> None:
        reg = self._reg
        if register in self.miswritten:
            value = self.miswritten[register](value)
        if register < SMUX_RAM_SIZE:
            if self._smux_command() == SMUX_WRITE:
                self._ram[register] = value
        elif register in READ_ONLY or (register in LOW_BANK_REGISTERS and not reg[CFG0] & LOW_BANK):
            return
        elif register == ENABLE:
            self._enable(now_s, value)
        elif register == CFG1:
            self._set_gain(now_s, value)
        elif register in (ATIME, ASTEP_L, ASTEP_H):
            changed = reg[register] != value
            reg[register] = value
            if changed and self._running:
                self._restart(now_s)
        else:
            reg[register] = value
            if register in (CONFIG, LED):
                self._set_led(now_s)

    def _smux_command(self) -> int:
        return (self._reg[CFG6] >> 3) & 0x03

    def _enable(self, now_s: float, value: int) -> None:
        """Act on ENABLE: carry out a SMUX command, start or stop converting."""
        self._reg[ENABLE] = value
        command = bool(value & SMUXEN and value & PON)
        if command and self._smux_command() == SMUX_WRITE:
            self._connected = bytes(self._ram)
            self._connect()
        elif command and self._smux_command() == SMUX_READ:
            self._ram = bytearray(self._connected)
        running = value & (PON | SP_EN) == PON | SP_EN
        if running and (command or not self._running):
            self._restart(now_s)
        elif not running:
            self._running = False
            self.end_s = float("inf")
            self._reg[STATUS2] &= ~AVALID

    def _connect(self) -> None:
        """Connect photodiodes to ADCs as the SMUX bytes say; each of a pair brings half of the counts."""
        weights = [[0.0, 0.0, 0.0, 0.0] for _ in range(6)]
        self._mapped = [False] * 6
        for byte, pair in zip(self._connected, PHOTODIODES, strict=True):
            for adc, diode in ((byte & 0x0F, pair[0]), (byte >> 4, pair[1])):
                if 1 <= adc <= 6 and diode is not None:
                    share = 1.0 if diode == "NIR" else 0.5
                    counts = self._responses(diode)
                    self._mapped[adc - 1] = True
                    weights[adc - 1][0] += share * counts.phosphor
                    weights[adc - 1][1] += share * counts.lines
                    weights[adc - 1][2] += share * counts.daylight
                    weights[adc - 1][3] += share * counts.led
        self._weights = [(a, b, c) for a, b, c, _ in weights]
        self._led_weights = [led for *_, led in weights]
        self._light_led()

    def _set_led(self, now_s: float) -> None:
        """Switch the LED as CONFIG and LED say; it counts from now on."""
        value = self._reg[LED]
        on = bool(value & LED_ON and self._reg[CONFIG] & LED_SEL)
        current_ma = LED_LEAST_MA + LED_STEP_MA * (value & LED_DRIVE) if on else 0
        if current_ma != self._led_ma:
            self._break(now_s)
            self._led_ma = current_ma
            self._light_led()

    def _light_led(self) -> None:
        self._glow = [weight * self._led_ma for weight in self._led_weights] if self._led_ma else None

    def _set_gain(self, now_s: float, value: int) -> None:
        """A new gain counts from now on: the running conversion becomes a mix of both."""
        if value != self._reg[CFG1]:
            self._break(now_s)
        self._reg[CFG1] = value
        self._gain = self._true_gain()

    def _break(self, now_s: float) -> None:
        """Put aside what the running conversion has collected so far, before something changes."""
        if self._running:
            light = self._light_at(now_s)
            self._mix = self._collected(light, now_s)
            self._from, self._from_s = light, now_s

    def _true_gain(self) -> float:
        code = min(self._reg[CFG1] & 0x1F, 10)
        return 0.5 * 2.0**code * self.quirks.gain_factors[code]

    def _restart(self, now_s: float) -> None:
        """Begin anew with the present times; the unfinished conversion is lost."""
        steps = (self._reg[ATIME] + 1) * ((self._reg[ASTEP_H] << 8 | self._reg[ASTEP_L]) + 1)
        self._full_scale = min(65535, steps)
        self._span_s = steps * STEP_S * (1 + self.quirks.clock_error)
        self._gain = self._true_gain()
        self._running = True
        self._reg[STATUS2] &= ~AVALID
        self._start(now_s)

    def _start(self, now_s: float) -> None:
        self._from, self._from_s = self._light_at(now_s), now_s
        self._mix = None
        self.end_s = now_s + self._span_s

    def _collected(self, light: Light, at_s: float) -> list[float]:
        """Counts before offset and noise, from the last start or change of anything up to `light` at `at_s`."""
        gain = self._gain if self._temperature_at is None else self._gain * self.sensitivity(at_s)
        phosphor = (light[0] - self._from[0]) * gain
        lines = (light[1] - self._from[1]) * gain
        daylight = (light[2] - self._from[2]) * gain
        counts = [a * phosphor + b * lines + c * daylight for a, b, c in self._weights]
        if self._glow is not None:
            led_s = (at_s - self._from_s) * gain
            counts = [dark + glow * led_s for dark, glow in zip(counts, self._glow, strict=True)]
        if self._mix is not None:
            counts = [new + old for new, old in zip(counts, self._mix, strict=True)]
        return counts

    def _finish(self) -> None:
        """End a conversion: offset, noise, saturation, rounding. The next one follows without a gap."""
        light = self._light_at(self.end_s)
        if not self.hung:
            if not self.frozen:
                self._publish(self._collected(light, self.end_s))
            self._reg[STATUS2] |= AVALID
            self.conversions += 1
        self._from, self._from_s = light, self.end_s
        self._mix = None
        self.end_s += self._span_s

    def _publish(self, collected: list[float]) -> None:
        gauss = self._rng.gauss
        full = self._full_scale
        leak = (2.0 + 0.03 * self._gain) * min(1.0, self._span_s / 0.05)
        out = []
        highest = 0.0
        clip = full if self.clips_at is None else self.clips_at * full
        clipped = max(collected) > clip
        if clipped:
            collected = [min(counts, clip) for counts in collected]
        for counts, mapped, share in zip(collected, self._mapped, LEAK_SHARES, strict=True):
            if mapped:
                counts += leak * share
            noise = SHOT_NOISE * counts
            counts += gauss(0.0, sqrt(1.0 + noise * noise))
            if counts > highest:
                highest = counts
            out.append(0 if counts < 0 else full if counts > full else round(counts))
        flags = (ASAT_ANALOG if highest >= ANALOG_LIMIT * full else 0) | (ASAT_DIGITAL if highest >= full else 0)
        mirrored = flags
        if clipped:
            flags |= ASAT_ANALOG
        self._reg[STATUS2] = (self._reg[STATUS2] & ~(ASAT_ANALOG | ASAT_DIGITAL)) | flags
        status = (ASAT if mirrored else 0) | (self._reg[CFG1] & 0x0F)
        self._data = bytes((status,)) + _PACKED.pack(*out)
