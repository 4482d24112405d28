"""Whether the light sensor is set as it was told, and whether its conversions last as long as they should.

A wrong byte in a register that decides the scale gives plausible numbers that are wrong by a fifth or by half. So
the registers are read back, and the time between conversions is measured: that shows even a byte that is garbled on
its way out and again on its way back.
"""

import time
from typing import Any

SMUX_READ, SMUX_WRITE = 1, 2
SMUX_PATIENCE = 20
"""Looks, a millisecond apart, until a SMUX command has to be over; it takes a fraction of one."""

INTERVALS = 40
"""So many intervals without a missed conversion make one measurement of the window."""
INTERVALS_IN_DOUBT = 10
"""After a wrong window: fewer, for a sensor that gives no reading is connected anew every second."""
MOST_OFF = 0.055
"""5 % for the chip's own clock, and what ticks of 10 ms may add over forty windows."""
TIMELY_S = 0.012
"""A look that comes later than this after the one before does not tell when the conversion ended."""

ENABLE, ATIME, CFG1, ASTEP = 0x80, 0x81, 0xAA, 0xCA
POWERED, POWERED_AND_CONVERTING = 0x01, 0x03
SMUX_BYTES = 20

# Sums of what the driver's own map connects: F1 to ADC0, F2 to ADC1, F3 to ADC2, F4 to ADC3, clear to ADC4, NIR to
# ADC5. Worked out by hand from the table of photodiodes, for the driver's writing is what is to be judged.
CHANNEL_MAP = bytes.fromhex("30 01 00 00 00 42 00 00 50 00 00 00 20 04 00 30 01 50 00 06")


class UnprovenError(RuntimeError):
    """The sensor is not as it was set; the message says register, what it reads and what was wanted."""


def check_registers(driver: Any, *, atime: int, astep: int, gain_code: int) -> None:
    """Compare enable bits, integration time and gain with what was set: three short reads.

    Raises UnprovenError, or the bus's own errors.
    """
    enable, atime_read = _read(driver, ENABLE, 2)
    _same("ENABLE", ENABLE, enable, POWERED_AND_CONVERTING)
    _same("ATIME", ATIME, atime_read, atime)
    _same("CFG1 (gain)", CFG1, _read(driver, CFG1, 1)[0], gain_code)
    _same("ASTEP", ASTEP, int.from_bytes(_read(driver, ASTEP, 2), "little"), astep)


def check_channel_map(driver: Any) -> None:
    """Fetch back from the switch itself which photodiode goes to which ADC. Only while the sensor does not convert.

    Raises UnprovenError, or the bus's own errors.
    """
    driver._smux_command = SMUX_READ
    carry_out_smux(driver)
    found = _read(driver, 0x00, SMUX_BYTES)
    driver._smux_command = SMUX_WRITE
    for register, (reads, wanted) in enumerate(zip(found, CHANNEL_MAP, strict=True)):
        _same("channel map (SMUX)", register, reads, wanted)


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
    raise UnprovenError("the channel switch (SMUX) does not end its command: bit 4 of ENABLE (0x80) stays set")


class WindowClock:
    """Measures how long conversions really last, from when they are seen to be finished.

    The mean over an unbroken run is used: one interval is known only to a tick, forty to a fortieth of it.
    """

    def __init__(self, window_s: float) -> None:
        self.measured_s: float | None = None
        self._nominal_s = window_s
        self._needed = INTERVALS
        self._began_s: float | None = None
        self._count = 0
        self._looked_s = 0.0

    @property
    def in_doubt(self) -> bool:
        """Whether the window was wrong when it was last measured."""
        return self._needed == INTERVALS_IN_DOUBT

    def restart(self) -> None:
        """Begin a new run: the chip was set up or started anew."""
        self._began_s = None

    def looked(self, now_s: float) -> None:
        """The conversion is not finished yet."""
        self._looked_s = now_s

    def finished(self, now_s: float, due_s: float) -> str | None:
        """A conversion was found finished at `now_s`, first looked for from `due_s` on; says what is wrong, or None."""
        timely = now_s - max(due_s, self._looked_s) <= TIMELY_S
        self._looked_s = now_s
        if not timely:
            self._began_s = None
            return None
        if self._began_s is None:
            self._began_s, self._count = now_s, 0
            return None
        self._count += 1
        if self._count < self._needed:
            return None
        self.measured_s = (now_s - self._began_s) / self._count
        self._began_s, self._count = now_s, 0
        if abs(self.measured_s / self._nominal_s - 1) <= MOST_OFF:
            self._needed = INTERVALS
            return None
        self._needed = INTERVALS_IN_DOUBT
        return f"a conversion takes {self.measured_s * 1000:.1f} ms, wanted {self._nominal_s * 1000:.1f} ms"


def _read(driver: Any, register: int, size: int) -> bytearray:
    found = bytearray(size)
    with driver.i2c_device as i2c:
        i2c.write_then_readinto(bytes((register,)), found)
    return found


def _same(name: str, register: int, reads: int, wanted: int) -> None:
    if reads != wanted:
        raise UnprovenError(f"{name}, register 0x{register:02x}, reads {reads}, wanted {wanted}")
