"""Whether the light sensor is set as it was told, and whether its conversions last as long as they should.

A wrong byte in a register that decides the scale gives plausible numbers that are wrong by a fifth or by half. So
the registers are read back, and the time between conversions is measured: that shows even a byte that is garbled on
its way out and again on its way back.
"""

import time
from collections import deque
from typing import Any

from sumlight.text.message import Later, later

SMUX_READ, SMUX_WRITE = 1, 2
SMUX_PATIENCE = 20
"""Looks, a millisecond apart, until a SMUX command has to be over; it takes a fraction of one."""

INTERVALS = 40
"""So many intervals without a missed conversion make one measurement of the window."""
INTERVALS_IN_DOUBT = 10
"""After a wrong window: fewer, for a sensor that gives no reading is connected anew every second."""
MOST_OFF = 0.055
"""5 % for the chip's own clock, and what ticks of 10 ms may add over forty windows."""
RUNS, SAME_CLOCK = 10, 0.01
"""The measured window is the mean of so many measurements, begun anew after one that differs by more than this."""
CATCHING_UP = 11
"""After a disturbance a conversion is found late, and the looks come nearer to the end of each by a tenth of it. A run
that began meanwhile would be too short: it begins where the end was seen to come, or after so many."""

TIMELY_S = 0.012
"""A look that comes later than this after the one before does not tell when the conversion ended."""

ENABLE, ATIME, CFG1, ASTEP = 0x80, 0x81, 0xAA, 0xCA
POWERED, POWERED_AND_CONVERTING = 0x01, 0x03
SMUX_BYTES = 20

# Sums of what the driver's own map connects: F1 to ADC0, F2 to ADC1, F3 to ADC2, F4 to ADC3, clear to ADC4, NIR to
# ADC5. Taken from the sensor's table of photodiodes and not from the driver, whose writing is what is judged here.
CHANNEL_MAP = bytes.fromhex("30 01 00 00 00 42 00 00 50 00 00 00 20 04 00 30 01 50 00 06")


class UnprovenError(RuntimeError):
    """The sensor is not as it was set; `why` says register, what it reads and what was wanted."""

    def __init__(self, why: Later) -> None:
        super().__init__(why)
        self.why = why


def check_registers(driver: Any, *, atime: int, astep: int, gain_code: int) -> None:
    """Compare enable bits, integration time and gain with what was set: three short reads.

    Raises UnprovenError, or the bus's own errors.
    """
    enable, atime_read = read(driver, ENABLE, 2)
    same("ENABLE", ENABLE, enable, POWERED_AND_CONVERTING)
    same("ATIME", ATIME, atime_read, atime)
    same("CFG1 (gain)", CFG1, read(driver, CFG1, 1)[0], gain_code)
    same("ASTEP", ASTEP, int.from_bytes(read(driver, ASTEP, 2), "little"), astep)


def check_channel_map(driver: Any) -> None:
    """Fetch back from the switch itself which photodiode goes to which ADC. Only while the sensor does not convert.

    Raises UnprovenError, or the bus's own errors.
    """
    driver._smux_command = SMUX_READ
    carry_out_smux(driver)
    found = read(driver, 0x00, SMUX_BYTES)
    driver._smux_command = SMUX_WRITE
    for register, (reads, wanted) in enumerate(zip(found, CHANNEL_MAP, strict=True)):
        same("channel map (SMUX)", register, reads, wanted)


def carry_out_smux(driver: Any) -> None:
    """Start the SMUX command and wait for its end; unlike the driver's own waiting, this one ends.

    Raises UnprovenError if the bit that says so never clears.
    """
    driver._low_bank_active = False
    driver._smux_enable_bit = True
    for _ in range(SMUX_PATIENCE):
        if not driver._smux_enable_bit:
            return
        time.sleep(0.001)
    raise UnprovenError(later("smux_does_not_end"))


class WindowClock:
    """Measures how long conversions really last, from when they are seen to be finished.

    The mean over an unbroken run is used: one interval is known only to a tick, forty to a fortieth of it.
    """

    def __init__(self, window_s: float) -> None:
        self._runs: deque[float] = deque(maxlen=RUNS)
        self._nominal_s = window_s
        self._needed = INTERVALS
        self._began_s: float | None = None
        self._count = 0
        self._settling = 0
        self._looked_s = 0.0

    @property
    def measured_s(self) -> float | None:
        """Mean of the last measurements in seconds by this computer's clock; None before the first."""
        return sum(self._runs) / len(self._runs) if self._runs else None

    @property
    def in_doubt(self) -> bool:
        """Whether the window was wrong when it was last measured."""
        return self._needed == INTERVALS_IN_DOUBT

    def restart(self) -> None:
        """Begin a new run: the chip was set up or started anew."""
        self._began_s, self._settling = None, 0

    def looked(self, now_s: float) -> None:
        """The conversion is not finished yet."""
        self._looked_s = now_s

    def seen_coming(self, due_s: float) -> bool:
        """Whether a conversion looked for from `due_s` on was found unfinished by the last look."""
        return self._looked_s >= due_s

    def finished(self, now_s: float, due_s: float) -> Later | None:
        """A conversion was found finished at `now_s`, first looked for from `due_s` on; says what is wrong, or None."""
        seen_coming = self.seen_coming(due_s)
        timely = now_s - max(due_s, self._looked_s) <= TIMELY_S
        self._looked_s = now_s
        if not timely:
            self.restart()
            return None
        if self._began_s is None:
            self._settling += 1
            if seen_coming or self._settling > CATCHING_UP:
                self._began_s, self._count = now_s, 0
            return None
        self._count += 1
        if self._count < self._needed or (not seen_coming and self._count < self._needed + CATCHING_UP):
            return None
        took_s = (now_s - self._began_s) / self._count
        if self._needed == INTERVALS:
            self._keep(took_s)
        self._began_s, self._count = now_s, 0
        if abs(took_s / self._nominal_s - 1) <= MOST_OFF:
            self._needed = INTERVALS
            return None
        self._needed = INTERVALS_IN_DOUBT
        return later("conversion_takes", takes_ms=took_s * 1000, wanted_ms=self._nominal_s * 1000)

    def _keep(self, took_s: float) -> None:
        mean_s = self.measured_s
        if mean_s is not None and abs(took_s / mean_s - 1) > SAME_CLOCK:
            self._runs.clear()
        self._runs.append(took_s)


def read(driver: Any, register: int, size: int) -> bytearray:
    """So many bytes from a register on. Raises the bus's own errors."""
    found = bytearray(size)
    with driver.i2c_device as i2c:
        i2c.write_then_readinto(bytes((register,)), found)
    return found


def same(name: str, register: int, reads: int, wanted: int) -> None:
    """Raise UnprovenError, which names the register, unless it reads as wanted."""
    if reads != wanted:
        raise UnprovenError(later("register_reads", name=name, register=register, reads=reads, wanted=wanted))
