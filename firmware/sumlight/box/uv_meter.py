"""A light meter for UV-A itself: the AS7331, converting without a pause.

What the driver states (after DS001047): register addresses, status bits, gains, times, responsivity. From memory, and
to be checked on a real chip: that registers of the configuration cannot be read or written while it measures, that OSR
reads as it was written meanwhile, that fetching the results clears the new-data bit, and that a break time of 0 lasts
three steps of its clock, a twenty-thousandth of a conversion.
"""

from typing import Any, ClassVar

from adafruit_as7331 import AS7331, CLOCK_1024KHZ, GAIN_1X, MODE_CONT, TIME_64MS

from sumlight.box import meter_proof
from sumlight.box.meter import LightMeter, Six
from sumlight.light import sensors
from sumlight.light.sensors import SensorKind

OSR, CREG1, CREG3, BREAK = 0x00, 0x06, 0x08, 0x09
STOPPED = 0x02
"""OSR: configuration state, awake, not started."""
MEASURING = 0x83
"""OSR: measurement state, awake, started."""
NEW_DATA = 0x08
OVERFLOWED = 0xE0
"""STATUS: one of the result, the time or the converter itself ran over."""
NO_BREAK = 0
CREG3_WANTED = MODE_CONT << 6 | CLOCK_1024KHZ


class UvMeter(LightMeter):
    """Reads one AS7331; UV-A stands first in a sample, UV-B and UV-C follow, the rest is empty.

    The driver waits for data in its public readings and lets no measurement run on while a gain is written, so its
    register descriptors are used. The gain decides the scale and cannot be read while the chip measures: it is read
    back whenever it has been written, and every few seconds while the lamps are off.
    """

    kind: ClassVar[SensorKind] = sensors.AS7331
    _status = 0

    def _set_up(self) -> Any:
        driver = AS7331(self._bus, self._address)
        self._configure(driver, self.gain_code)
        driver.power_down = False  # its first start after power-up takes the driver's two milliseconds
        return driver

    def _finished(self) -> bool:
        state, self._status = meter_proof.read(self._driver, OSR, 2)
        meter_proof.same("OSR", OSR, state, MEASURING)
        return bool(self._status & NEW_DATA)

    def _fetch(self) -> tuple[Six, int, bool]:
        uva, uvb, uvc = self._driver._read_all_uv()
        return (uva, uvb, uvc, 0, 0, 0), self.gain_code, bool(self._status & OVERFLOWED)

    def _prove_reading(self) -> None:
        """What OSR says was looked at with the status; the rest cannot be read while it measures."""

    def _prove_stopped(self) -> None:
        self._driver._osr = STOPPED
        self._check(self._driver, self.gain_code)
        self._driver._osr = MEASURING

    def _write_gain(self, gain_code: int) -> None:
        self._driver._osr = STOPPED
        self._driver.gain = _chip_gain(gain_code)
        self._check(self._driver, gain_code)
        self._driver._osr = MEASURING
        self._window.restart()

    def _configure(self, driver: Any, gain_code: int) -> None:
        driver.integration_time = TIME_64MS
        driver.gain = _chip_gain(gain_code)
        driver.break_time = NO_BREAK
        self._check(driver, gain_code)

    def _check(self, driver: Any, gain_code: int) -> None:
        """Compare gain, time, mode, clock and break with what was set. Only in the configuration state."""
        for name, register, wanted in (
            ("CREG1 (gain, time)", CREG1, _chip_gain(gain_code) << 4 | TIME_64MS),
            ("CREG3 (mode, clock)", CREG3, CREG3_WANTED),
            ("BREAK", BREAK, NO_BREAK),
        ):
            meter_proof.same(name, register, meter_proof.read(driver, register, 1)[0], wanted)


def _chip_gain(gain_code: int) -> int:
    """The chip's own code: it counts from the strongest gain down; ours is 1 for gain 1, one more for each doubling."""
    return int(GAIN_1X) - (gain_code - 1)
