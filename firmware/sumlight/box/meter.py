"""The light meter: the AS7341 driver, asked without ever waiting, one burst for each finished conversion."""

from collections.abc import Callable
from typing import Any

from adafruit_as7341 import AS7341

from sumlight.box import description, meter_proof
from sumlight.light import counts
from sumlight.light.sample import SATURATED, UNSETTLED, Sample

ATIME, ASTEP = 29, 599
"""50.04 ms: a whole number of half-periods of 50 Hz (5) and of 60 Hz mains (6), so ripple averages out."""

INTEGRATION_MS = counts.integration_ms(ATIME, ASTEP)
WINDOW_S = INTEGRATION_MS / 1000
FULL_SCALE = counts.full_scale_counts(ATIME, ASTEP)
DEFAULT_GAIN_CODE = 5

LOOK_EARLY = 0.88
"""A conversion is first asked for when this share of its window has passed since the last one was seen."""

RAISE_AFTER = 20
"""Weak readings in a row before the gain rises; it falls at once, because saturation loses light."""

ASTATUS_SATURATED = 0x80
ASTATUS_GAIN = 0x0F
STATUS2 = 0xA3
STATUS2_VALID = 0x40
STATUS2_SATURATED = 0x18
"""The digital and the analogue flag; whether ASTATUS mirrors the analogue one is not known for sure."""

PROVE_EVERY_S = 3.0
"""While the lamps have been off for so long, the channel map is fetched back so often; it costs milliseconds."""


class LightMeter:
    """Reads one AS7341. Fail-safe: a failed reading is never a number; `lost` says why, `last_seen_s` since when.

    Wiring: I2C at 3.3 V, behind a diffuser that sees lamps and not the panel.

    The driver's public readings wait up to a second for data and leave the status byte out, so its register
    descriptors are used instead. `bus` is an I2C object as the driver wants it.

    It proves itself: all registers that decide the scale are read back after connecting, those of time, gain and
    enabling with each dark reading, and the channel map every `PROVE_EVERY_S` while `lamps_on` says no (for it stops
    the sensor for a moment). The length of the conversions is measured all the time. What does not agree makes the
    meter `lost` with register, reading and wanted value.
    """

    def __init__(self, meter: description.Meter, bus: Any, lamps_on: Callable[[], bool] = lambda: True) -> None:
        self.name = meter.name
        self.lost: str | None = "not connected yet"
        self.last_seen_s: float | None = None
        self.next_look_s = 0.0
        self.gain_code = DEFAULT_GAIN_CODE
        self.lamp_gain_code = DEFAULT_GAIN_CODE
        self._address = meter.i2c_address
        self._bus = bus
        self._driver: Any = None
        self._skip = 0
        self._weak = 0
        self._lamps_on = lamps_on
        self._led_on = False
        self._prove_at_s = 0.0
        self._window = meter_proof.WindowClock(WINDOW_S)

    @property
    def measured_window_s(self) -> float | None:
        """How long a conversion really takes, in seconds by this computer's clock; None until 40 were watched."""
        return self._window.measured_s

    def connect(self, now_s: float) -> bool:
        """Find and set up the sensor; true if it answers. Takes tens of milliseconds: only while lamps are dark."""
        try:
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
        except (OSError, RuntimeError, ValueError) as error:
            self._lose(error)
            return False
        self._driver = driver
        if not self._window.in_doubt:
            self.lost = None
        self._window.restart()
        self._prove_at_s = now_s + PROVE_EVERY_S
        self._skip, self._weak = 0, 0
        self.next_look_s = now_s + LOOK_EARLY * WINDOW_S
        return True

    def poll(self, now_s: float, *, lit: bool) -> Sample | None:
        """The conversion that has finished since the last call, or None. Never waits.

        `lit` allows the gain to rise when the light is weak; in the dark, and before the lamps have struck, it stays
        where they will need it, or returns there.
        A bus error returns None and sets `lost`; the next success clears it.
        """
        if self._driver is None or now_s < self.next_look_s:
            return None
        due_s = self.next_look_s
        try:
            status_2 = self._status_2()
            if not status_2 & STATUS2_VALID:
                self._window.looked(now_s)
                return None
            if not lit:
                self._check_registers(self._driver)
            status, *raw = self._driver._all_channels
            self._prove_channel_map(now_s, lit=lit)
        except (OSError, RuntimeError, ValueError) as error:
            self._lose(error)
            return None
        self.next_look_s = now_s + LOOK_EARLY * WINDOW_S
        if not self._window_proven(now_s, due_s):
            return None
        self.lost = None
        self.last_seen_s = now_s
        largest = max(raw)
        clipped = status & ASTATUS_SATURATED or status_2 & STATUS2_SATURATED or largest >= FULL_SCALE
        flags = SATURATED if clipped else 0
        if self._skip:
            self._skip -= 1
            flags |= UNSETTLED
        gain_code = status & ASTATUS_GAIN
        sample = Sample(now_s, now_s - WINDOW_S / 2, tuple(raw), gain_code, flags)
        if not flags & UNSETTLED:
            self._range(largest, saturated=bool(flags & SATURATED), lit=lit)
        return sample

    def set_gain(self, gain_code: int) -> None:
        """Change the gain; the conversion now running becomes worthless and is marked so."""
        self.gain_code = gain_code
        self._weak = 0
        if self._driver is not None:
            try:
                self._driver.gain = gain_code
            except (OSError, RuntimeError, ValueError) as error:
                self._lose(error)
            self._skip = 1

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

    def basic_counts(self, sample: Sample) -> float:
        """Basic counts of the 415 nm channel, the one that stands for the dose."""
        return counts.basic_counts(sample.counts[0], sample.gain_code, INTEGRATION_MS)

    def _range(self, largest: int, *, saturated: bool, lit: bool) -> None:
        wanted = counts.fitting_gain(self.gain_code, largest, FULL_SCALE, saturated=saturated)
        if wanted < self.gain_code:
            self.set_gain(wanted)
        elif wanted > self.gain_code and lit:
            self._weak += 1
            if self._weak >= RAISE_AFTER:
                self.set_gain(wanted)
        elif wanted > self.gain_code and self.gain_code < self.lamp_gain_code:
            self.set_gain(min(wanted, self.lamp_gain_code))  # dark again after glare through an open lid
        else:
            self._weak = 0
        if lit:
            self.lamp_gain_code = self.gain_code

    def _status_2(self) -> int:
        found = bytearray(1)
        with self._driver.i2c_device as i2c:
            i2c.write_then_readinto(bytes((STATUS2,)), found)
        return found[0]

    def _check_registers(self, driver: Any) -> None:
        meter_proof.check_registers(driver, atime=ATIME, astep=ASTEP, gain_code=self.gain_code)

    def _prove_channel_map(self, now_s: float, *, lit: bool) -> None:
        """Stop, fetch the map back, start anew: only when lamps and LED have been off for a while."""
        if lit or self._led_on or self._lamps_on():
            self._prove_at_s = now_s + PROVE_EVERY_S
        elif now_s >= self._prove_at_s:
            self._prove_at_s = now_s + PROVE_EVERY_S
            self._driver._color_meas_enabled = False
            meter_proof.check_channel_map(self._driver)
            self._driver._color_meas_enabled = True
            self._window.restart()

    def _window_proven(self, now_s: float, due_s: float) -> bool:
        wrong = self._window.finished(now_s, due_s)
        if wrong is not None:
            self._lose(meter_proof.UnprovenError(wrong))
        return not self._window.in_doubt

    def _lose(self, error: Exception) -> None:
        sensor = f"the light sensor at I2C address 0x{self._address:02x}"
        if isinstance(error, meter_proof.UnprovenError):
            self._driver = None  # only setting it up anew can help
            self.lost = f"{sensor} is not as it was set: {error}"
        else:
            self.lost = f"{sensor} does not answer ({error})"
