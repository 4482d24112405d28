"""What the loop knows of one bank: its lamps, its meter, and what their light says."""

from sumlight.box.lamps import LampBank
from sumlight.box.meter import LightMeter
from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.calibration.both_sensors import SelfTestOfBoth, SpectrumOfBoth
from sumlight.control.calibration.gain_learning import GainCalibration
from sumlight.control.calibration.lamp_colour import Spectrum
from sumlight.control.calibration.registry import CalibrationBook
from sumlight.control.calibration.self_test import SelfTest
from sumlight.control.safety.light_monitor import LightMonitor
from sumlight.light.counts import GAINS
from sumlight.light.lampheat import LampHeat
from sumlight.light.sample import Sample

FRESH_S = 0.3
"""A reading older than this is no reading: four windows and some."""


class BankMonitor:
    """What the loop knows of one bank: the bank, its meter, the witness of its light, the latest reading.

    `anchor` says what a basic count is worth; the commands set it before the first tick and before each exposure.
    """

    def __init__(self, bank: LampBank, meter: LightMeter, witness: LightMonitor, book: CalibrationBook) -> None:
        self.bank = bank
        self.meter = meter
        self.witness = witness
        self.anchor: CalibrationFactor
        if meter.beside is None:
            self.spectrum, self.led = Spectrum(bank.name, meter.kind), SelfTest()
        else:
            self.spectrum, self.led = SpectrumOfBoth(bank.name, meter), SelfTestOfBoth(meter)
        self.lesson = GainCalibration(meter.set_gain, meter.kind)
        self.heat = LampHeat()
        self.settled_basic_counts: float | None = None
        self._book = book
        self.glass_mw_cm2: float | None = None
        self.bright = False
        self.connect_at_s = 0.0
        self.told_lit = False  # as witness and spectrum last heard; the door may have darkened the bank since

    def fresh(self, now_s: float) -> bool:
        """Whether the light is known now."""
        meter = self.meter
        return meter.lost is None and meter.last_seen_s is not None and now_s - meter.last_seen_s <= FRESH_S

    def sees(self, limit_mw_cm2: float, now_s: float) -> bool:
        """Whether there is more light than that now, wherever it comes from."""
        return self.glass_mw_cm2 is not None and self.glass_mw_cm2 > limit_mw_cm2 and self.fresh(now_s)

    def glass(self, sample: Sample) -> float:
        """Irradiance at the glass in mW/cm², darkness still in it."""
        gains = self._book.gains[self.meter.name]
        counts, _ = gains.corrected(self.meter.basic_counts(sample), sample.gain_code)
        return counts * self.anchor.mw_cm2_per_basic_count

    def scale(self) -> tuple[float, ...]:
        """Irradiance at the glass that a basic count stands for at present, by gain code."""
        gains = self._book.gains[self.meter.name]
        return tuple(gains.corrected(self.anchor.mw_cm2_per_basic_count, code)[0] for code in range(len(GAINS)))

    @property
    def by_lines(self) -> bool:
        """Whether lines of tubes stand for the UV of their phosphor."""
        return self.meter.kind.proxy and self._book.lamps(self.bank.name) == "tubes"

    @property
    def gain_code(self) -> int:
        """The gain that the lamps need."""
        return self.meter.lamp_gain_code

    @property
    def gain_ln_error(self) -> float:
        """ln of that gain's true size over the nominal one, as far as learned."""
        return self._book.gains[self.meter.name].ln_error(self.gain_code)[0]

    @property
    def gain_ln_sigma(self) -> float:
        """Relative standard uncertainty that the gain in use leaves, against that of the calibration."""
        return self._book.gain_sigma(self.meter.name, self.meter.lamp_gain_code, self.anchor.gain_code)
