"""A light meter as the loop knows it: asked without ever waiting, one sample for each finished conversion."""

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any, ClassVar

from sumlight.box import description, meter_proof
from sumlight.box.charge_pump import TICK_S
from sumlight.light import counts
from sumlight.light.sample import SATURATED, UNSETTLED, Sample
from sumlight.light.sensors import SensorKind
from sumlight.text.message import Later, later

DEFAULT_GAIN_CODE = 5

LOOK_EARLY = 0.88
"""A conversion is first asked for when this share of its window has passed since the last one was seen."""

SEEN_COMING_EVERY = 8
"""At rest one conversion in so many is asked for early, so that the looks do not fall behind a chip whose clock is
fast; the others when they should be over."""

RAISE_AFTER = 20
"""Weak readings in a row before the gain rises; it falls at once, because saturation loses light."""

PROVE_EVERY_S = 3.0
"""While the lamps have been off for so long, the sensor is stopped and read back so often; it costs milliseconds."""

Six = tuple[int, int, int, int, int, int]


class LightMeter(ABC):
    """Reads one sensor. Fail-safe: a failed reading is never a number; `lost` says why, `last_seen_s` since when.

    Wiring: I2C at 3.3 V, behind a diffuser that sees lamps and not the panel. `bus` is an I2C object as the drivers
    want it.

    It proves itself: all registers that decide the scale are read back after connecting and, what can be read while it
    converts, with each dark reading; the rest every `PROVE_EVERY_S` while `lamps_on` says no (for that stops the
    sensor for a moment). The length of the conversions is measured all the time. What does not agree makes the
    meter `lost` with register, reading and wanted value.
    """

    kind: ClassVar[SensorKind]

    def __init__(self, meter: description.Meter, bus: Any, lamps_on: Callable[[], bool] = lambda: True) -> None:
        self.name = meter.record_name
        self.lost: Later | None = later("sensor_not_connected_yet")
        self.last_seen_s: float | None = None
        self.beside: LightMeter | None = None
        """The colour sensor on the same head, where there is one."""
        self._look_s = 0.0
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
        self._window_s = self.kind.window_s
        self._window = meter_proof.WindowClock(self._window_s)
        self._unseen = SEEN_COMING_EVERY
        """Conversions since one was last found unfinished by the look before."""

    # -- what differs from kind to kind --------------------------------------------------------------------------

    @abstractmethod
    def _set_up(self) -> Any:
        """Find the chip, set it up, prove it and let it convert; returns its driver. Only while lamps are dark."""

    @abstractmethod
    def _finished(self) -> bool:
        """Whether a conversion has ended that was not fetched yet."""

    @abstractmethod
    def _fetch(self) -> tuple[Six, int, bool]:
        """Its counts, the gain code they were made with, and whether the chip says that they are clipped."""

    @abstractmethod
    def _prove_reading(self) -> None:
        """Read back what can be read while it converts; raises UnprovenError."""

    @abstractmethod
    def _prove_stopped(self) -> None:
        """Stop it, read back the rest and let it go on; raises UnprovenError."""

    @abstractmethod
    def _write_gain(self, gain_code: int) -> None:
        """Let the chip convert with another gain."""

    def led(self, current_ma: int) -> None:
        """Switch the board's own LED to this current in mA, off with 0; a bus error sets `lost`. Some have none."""
        self._led_on = False

    def take_beside(self) -> list[Sample]:
        """Conversions of the sensor `beside` it since this was last asked, oldest first."""
        return []

    # -- what all have in common -----------------------------------------------------------------------------------

    @property
    def next_look_s(self) -> float:
        """When it is worth asking again, in seconds on control's clock."""
        return self._look_s

    @property
    def rest_look_s(self) -> float:
        """The same for a box at rest, which saves itself the looks that come too early."""
        if self._unseen >= SEEN_COMING_EVERY or self.last_seen_s is None:
            return self._look_s
        return max(self._look_s, self.last_seen_s + self._window_s - TICK_S / 2)

    @property
    def measured_window_s(self) -> float | None:
        """How long a conversion really takes, in seconds by this computer's clock; None until 40 were watched."""
        return self._window.measured_s

    def connect(self, now_s: float) -> bool:
        """Find and set up the sensor; true if it answers. Takes tens of milliseconds: only while lamps are dark."""
        self.gain_code, self.lamp_gain_code = self.kind.within(self.gain_code), self.kind.within(self.lamp_gain_code)
        try:
            driver = self._set_up()
        except (OSError, RuntimeError, ValueError) as error:
            self._lose(error)
            return False
        self._driver = driver
        if not self._window.in_doubt:
            self.lost = None
        self._window.restart()
        self._unseen = SEEN_COMING_EVERY
        self._prove_at_s = now_s + PROVE_EVERY_S
        self._skip, self._weak = 0, 0
        self._look_s = now_s + LOOK_EARLY * self._window_s
        return True

    def poll(self, now_s: float, *, lit: bool) -> Sample | None:
        """The conversion that has finished since the last call, or None. Never waits.

        `lit` allows the gain to rise when the light is weak; in the dark, and before the lamps have struck, it stays
        where they will need it, or returns there.
        A bus error returns None and sets `lost`; the next success clears it.
        """
        if self._driver is None or now_s < self._look_s:
            return None
        due_s = self._look_s
        try:
            if not self._finished():
                self._window.looked(now_s)
                return None
            if not lit:
                self._prove_reading()
            raw, gain_code, clipped = self._fetch()
            self._prove_if_idle(now_s, lit=lit)
        except (OSError, RuntimeError, ValueError) as error:
            self._lose(error)
            return None
        self._look_s = now_s + LOOK_EARLY * self._window_s
        self._unseen = 0 if self._window.seen_coming(due_s) else self._unseen + 1
        if not self._window_proven(now_s, due_s):
            return None
        self.lost = None
        self.last_seen_s = now_s
        largest = max(raw)
        flags = SATURATED if clipped or largest >= self.kind.full_scale else 0
        if self._skip:
            self._skip -= 1
            flags |= UNSETTLED
        sample = Sample(now_s, now_s - self._window_s / 2, raw, gain_code, flags)
        if not flags & UNSETTLED:
            self._range(largest, saturated=bool(flags & SATURATED), lit=lit)
        return sample

    def set_gain(self, gain_code: int) -> None:
        """Change the gain; the conversion now running becomes worthless and is marked so."""
        self.gain_code = gain_code
        self._weak = 0
        if self._driver is not None:
            try:
                self._write_gain(gain_code)
            except (OSError, RuntimeError, ValueError) as error:
                self._lose(error)
            self._skip = 1

    def basic_counts(self, sample: Sample) -> float:
        """Basic counts of the channel that stands for the dose."""
        return counts.basic_counts(sample.counts[0], sample.gain_code, self.kind.integration_ms)

    def _range(self, largest: int, *, saturated: bool, lit: bool) -> None:
        kind = self.kind
        wanted = kind.within(counts.fitting_gain(self.gain_code, largest, kind.full_scale, saturated=saturated))
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

    def _prove_if_idle(self, now_s: float, *, lit: bool) -> None:
        """Stop, read back, start anew: only when lamps and LED have been off for a while."""
        if lit or self._led_on or self._lamps_on():
            self._prove_at_s = now_s + PROVE_EVERY_S
        elif now_s >= self._prove_at_s:
            self._prove_at_s = now_s + PROVE_EVERY_S
            self._prove_stopped()
            self._window.restart()

    def _window_proven(self, now_s: float, due_s: float) -> bool:
        wrong = self._window.finished(now_s, due_s)
        if wrong is not None:
            self._lose(meter_proof.UnprovenError(wrong))
        return not self._window.in_doubt

    def _lose(self, error: Exception) -> None:
        if isinstance(error, meter_proof.UnprovenError):
            self._driver = None  # only setting it up anew can help
            self.lost = later("sensor_not_as_set", address=self._address, why=error.why.said())
        else:
            self.lost = later("sensor_does_not_answer", address=self._address, why=str(error))
