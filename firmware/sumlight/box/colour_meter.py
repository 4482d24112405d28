"""A light meter that sees colours and takes violet for UV: the AS7341, one burst for each finished conversion."""

from typing import Any, ClassVar

from adafruit_as7341 import AS7341

from sumlight.box import meter_proof
from sumlight.box.meter import LightMeter, Six
from sumlight.light import sensors
from sumlight.light.sensors import SensorKind

ATIME, ASTEP = 29, 599
"""50.04 ms, see `sensors.AS7341`."""

ASTATUS_SATURATED = 0x80
ASTATUS_GAIN = 0x0F
STATUS2 = 0xA3
STATUS2_VALID = 0x40
STATUS2_SATURATED = 0x18
"""The digital and the analogue flag; whether ASTATUS mirrors the analogue one is not known for sure."""


class ColourMeter(LightMeter):
    """Reads one AS7341.

    The driver's public readings wait up to a second for data and leave the status byte out, so its register
    descriptors are used instead. The channel map is what can only be read back while it does not convert.
    """

    kind: ClassVar[SensorKind] = sensors.AS7341
    _status_2 = 0

    def led(self, current_ma: int) -> None:
        """Switch the board's own LED to this current in mA, off with 0; a bus error sets `lost`."""
        if self._driver is None:
            return
        self._led_on = current_ma > 0
        try:
            if current_ma:
                self._driver.led_current = current_ma
            self._driver.led = current_ma > 0
        except (OSError, RuntimeError, ValueError) as error:
            self._lose(error)

    def _set_up(self) -> Any:
        driver = AS7341(self._bus, self._address)
        driver._write_register(meter_proof.ENABLE, meter_proof.POWERED)  # all other functions off, whatever was on
        driver.atime, driver.astep = ATIME, ASTEP
        driver.gain = self.gain_code
        driver._smux_command = meter_proof.SMUX_WRITE
        driver._f1f4_clear_nir()
        meter_proof.carry_out_smux(driver)
        meter_proof.check_channel_map(driver)
        driver._color_meas_enabled = True
        self._check_registers(driver)
        return driver

    def _finished(self) -> bool:
        self._status_2 = meter_proof.read(self._driver, STATUS2, 1)[0]
        return bool(self._status_2 & STATUS2_VALID)

    def _fetch(self) -> tuple[Six, int, bool]:
        status, *raw = self._driver._all_channels
        clipped = bool(status & ASTATUS_SATURATED or self._status_2 & STATUS2_SATURATED)
        return tuple(raw), status & ASTATUS_GAIN, clipped

    def _prove_reading(self) -> None:
        self._check_registers(self._driver)

    def _prove_stopped(self) -> None:
        self._driver._color_meas_enabled = False
        meter_proof.check_channel_map(self._driver)
        self._driver._color_meas_enabled = True

    def _write_gain(self, gain_code: int) -> None:
        self._driver.gain = gain_code

    def _check_registers(self, driver: Any) -> None:
        meter_proof.check_registers(driver, atime=ATIME, astep=ASTEP, gain_code=self.gain_code)
