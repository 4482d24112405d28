"""What the calibrations of a box answer: what a count is worth, whether a check is due, what a self-check says."""

import math
from dataclasses import asdict, dataclass
from typing import Any

from sumlight.control.calibration.seen_light import SeenLight
from sumlight.light.fingerprint import Fingerprint
from sumlight.light.gains import ANCHOR_CODE
from sumlight.light.lampsigns import LampSigns
from sumlight.text.message import Message


@dataclass(frozen=True)
class CalibrationFactor:
    """What a basic count of a bank's meter is worth at present, in mW/cm² at the glass.

    `ln_sigma` is the standard uncertainty of its logarithm (so nearly a relative one), `common_ln_sigma` what all
    doses of that scale share on top. `relative` says that the unit is the box's own. `reference` is the colour of the
    light at the calibration and `gain_code` the gain it was made with.
    """

    mw_cm2_per_basic_count: float
    ln_sigma: float
    common_ln_sigma: float
    origin: str
    relative: bool
    lamp_hours: float
    lamp_set: int
    reference: Fingerprint | None = None
    gain_code: int = ANCHOR_CODE
    meter: str = ""
    position: str = ""
    ln_window: float = 0.0
    """ln of the measured length of a conversion over its nominal one, as reckoned with here."""
    age_h: float | None = None
    """Lamp hours since the last calibration; None without one."""
    signs: LampSigns | None = None
    """How the lamps of the calibration started and rippled; None where their colour tells them, or nothing is known."""
    heat: float | None = None
    """Mean warmth of the lamps in the light of the calibration (see `light.lampheat`); None where it is unknown."""

    @property
    def whole_ln_sigma(self) -> float:
        """Both together."""
        return math.hypot(self.ln_sigma, self.common_ln_sigma)

    def seen(self, basic_counts: tuple[float, ...] | None) -> SeenLight | None:
        """Settled light, in basic counts, with where and when it was seen; None without any."""
        if basic_counts is None:
            return None
        return SeenLight(basic_counts, self.lamp_set, self.lamp_hours, self.meter, self.position)

    def kept(self) -> dict[str, Any]:
        """As records keep it: without colour and signs, which they have apart."""
        return {key: value for key, value in asdict(self).items() if key not in ("reference", "signs")}


@dataclass(frozen=True)
class Due:
    """Whether a calibration check is asked for, and why (or why not) in a sentence."""

    due: bool
    sentence: Message


@dataclass(frozen=True)
class WindowCheck:
    """What a self-check says: `ln_shift` is still missing from the calibration and may be applied if `may_apply`."""

    verdict: str
    sentence: Message
    diffuser: float
    ln_shift: float
    ln_sigma: float
    may_apply: bool
