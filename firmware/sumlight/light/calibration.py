"""How many mW/cm² of actinic light a count is worth, and how that drifts while lamps age.

The sensor sees mostly mercury lines, the resist uses the phosphor's light, and the phosphor fades faster. So the
*ratio* of actinic irradiance to basic counts falls with lamp hours. Its logarithm is followed by a small Kalman
filter (local linear trend, after Harvey 1989, Forecasting, Structural Time Series Models, section 2.3, from memory):

    ln r(h) = level(h) + early * (1 - exp(-h / tau)),   level' = slope

`early` is the seasoning of new tubes. Level and slope wander a little (random walks). Every calibration is one
measurement of ln r with its own standard uncertainty; between them the uncertainty grows with lamp hours.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Origin = Literal["radiometer", "tablet", "teach"]

UNKNOWN_SIGMA = 3.0
"""Standard deviation of ln r before any calibration: a factor of twenty either way."""


@dataclass(frozen=True)
class Calibration:
    """One anchoring of the light meter, as recorded.

    `ln_ratio` is ln(mW/cm² per basic count), 0 for a taught box; `ln_sigma` its standard uncertainty without what
    all records of that scale share, which is `common_ln_sigma` (the radiometer's own calibration, the reference
    threshold of the resist). `lamp_hours` count since the lamp set was new. `fingerprint` holds the shares of the
    six channels (see sumlight.light.fingerprint). The record is valid only for its lamp set, meter and position.
    Raises ValueError for numbers that cannot be.
    """

    origin: Origin
    ln_ratio: float
    ln_sigma: float
    lamp_hours: float
    utc: str
    fingerprint: tuple[float, ...] = ()
    lamp_set: str = ""
    meter: str = ""
    position: str = ""
    common_ln_sigma: float = 0.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.ln_ratio):
            raise ValueError(f"ln_ratio must be a finite number, not {self.ln_ratio}")
        if not (math.isfinite(self.ln_sigma) and self.ln_sigma > 0):
            raise ValueError(f"ln_sigma must be above 0, not {self.ln_sigma}")
        if not (math.isfinite(self.lamp_hours) and self.lamp_hours >= 0):
            raise ValueError(f"lamp_hours must be at least 0, not {self.lamp_hours}")
        if not (math.isfinite(self.common_ln_sigma) and self.common_ln_sigma >= 0):
            raise ValueError(f"common_ln_sigma must be at least 0, not {self.common_ln_sigma}")

    @property
    def mw_cm2_per_basic_count(self) -> float:
        """The ratio itself."""
        return math.exp(self.ln_ratio)


@dataclass(frozen=True)
class Shift:
    """A known change of the meter between calibrations: a dirty or cleaned diffuser, found by the self-check.

    `ln_shift` is added to ln r (a diffuser that lost 10 % raises it by 0.105); `ln_sigma` is how well it is known.
    """

    lamp_hours: float
    ln_shift: float
    ln_sigma: float


@dataclass(frozen=True)
class DriftPrior:
    """What is expected of fluorescent UV-A tubes before anything was measured (relative; common practice, no source).

    Noises are standard deviations after 100 h. For LEDs use `LED_DRIFT`.
    """

    slope_per_100h: float = -0.02
    slope_sigma_per_100h: float = 0.0125
    early: float = -0.04
    early_sigma: float = 0.04
    early_tau_h: float = 60.0
    level_noise: float = 0.004
    slope_noise_per_100h: float = 0.001


TUBE_DRIFT = DriftPrior()
LED_DRIFT = DriftPrior(slope_per_100h=0.0, slope_sigma_per_100h=0.003, early=0.0, early_sigma=0.005)
"""An LED has one band: what the meter sees and what the resist gets fade together."""

CHECK_INTERVAL_H = 100.0
"""A check is asked for at most this often."""


class RatioModel:
    """Knowledge of ln r over the hours of one lamp set. Records must come in order of lamp hours."""

    def __init__(self, prior: DriftPrior = TUBE_DRIFT) -> None:
        self.prior = prior
        self.relative = True
        self.checked_h: float | None = None
        self.common_ln_sigma = 0.0
        self._h = 0.0
        self._mean = [0.0, prior.slope_per_100h / 100.0, prior.early]
        self._cov = [
            [UNKNOWN_SIGMA**2, 0.0, 0.0],
            [0.0, (prior.slope_sigma_per_100h / 100.0) ** 2, 0.0],
            [0.0, 0.0, prior.early_sigma**2],
        ]

    def add(self, calibration: Calibration) -> None:
        """Take in one calibration. Raises ValueError if it lies before what is already known."""
        self._move_to(calibration.lamp_hours)
        self.common_ln_sigma = calibration.common_ln_sigma
        self.relative = self.relative and calibration.origin == "teach"
        self.checked_h = calibration.lamp_hours
        row = self._row(self._h)
        gain_top = [sum(self._cov[i][j] * row[j] for j in range(3)) for i in range(3)]
        variance = sum(row[i] * gain_top[i] for i in range(3)) + calibration.ln_sigma**2
        missed = calibration.ln_ratio - sum(row[i] * self._mean[i] for i in range(3))
        gain = [top / variance for top in gain_top]
        self._mean = [self._mean[i] + gain[i] * missed for i in range(3)]
        self._cov = [[self._cov[i][j] - gain[i] * gain_top[j] for j in range(3)] for i in range(3)]

    def shift(self, shift: Shift) -> None:
        """Take in a change of the meter. Raises ValueError if it lies before what is already known."""
        self._move_to(shift.lamp_hours)
        self._mean[0] += shift.ln_shift
        self._cov[0][0] += shift.ln_sigma**2

    def at(self, lamp_hours: float) -> tuple[float, float]:
        """Mean and standard uncertainty of ln r at `lamp_hours`, not before the last record (ValueError).

        What all records share (`common_ln_sigma`) is not in it: it moves every dose alike.
        """
        mean, cov = self._predicted(lamp_hours)
        row = self._row(lamp_hours)
        variance = sum(row[i] * cov[i][j] * row[j] for i in range(3) for j in range(3))
        return sum(row[i] * mean[i] for i in range(3)), math.sqrt(max(0.0, variance))

    def surprise(self, calibration: Calibration) -> float:
        """By how many standard deviations a new calibration misses what was expected; ask again above about 3."""
        mean, sigma = self.at(calibration.lamp_hours)
        return (calibration.ln_ratio - mean) / math.hypot(sigma, calibration.ln_sigma)

    def check_due(self, lamp_hours: float, tolerance: float, *, interval_h: float = CHECK_INTERVAL_H) -> bool:
        """Whether to ask for a tablet check: the expanded uncertainty (k = 2, relative) passes the tolerance.

        Without any calibration one is always due; after one, at most once in `interval_h` lamp hours.
        """
        if self.checked_h is None:
            return True
        return lamp_hours - self.checked_h >= interval_h and 2 * self.at(lamp_hours)[1] > tolerance

    def _row(self, lamp_hours: float) -> list[float]:
        """How the state shows in ln r."""
        return [1.0, 0.0, 1.0 - math.exp(-lamp_hours / self.prior.early_tau_h)]

    def _move_to(self, lamp_hours: float) -> None:
        self._mean, self._cov = self._predicted(lamp_hours)
        self._h = lamp_hours

    def _predicted(self, lamp_hours: float) -> tuple[list[float], list[list[float]]]:
        """State and covariance carried forward; the noise is that of an integrated random walk."""
        dh = lamp_hours - self._h
        if dh < 0:
            raise ValueError(f"lamp_hours must not go back: {lamp_hours:g} h lies before {self._h:g} h already known")
        mean = [self._mean[0] + dh * self._mean[1], self._mean[1], self._mean[2]]
        c = [list(line) for line in self._cov]
        moved = [[c[0][j] + dh * c[1][j] for j in range(3)], c[1], c[2]]
        cov = [[line[0] + dh * line[1], line[1], line[2]] for line in moved]
        level = self.prior.level_noise**2 / 100.0
        slope = (self.prior.slope_noise_per_100h / 100.0) ** 2 / 100.0
        cov[0][0] += level * dh + slope * dh**3 / 3.0
        cov[0][1] += slope * dh**2 / 2.0
        cov[1][0] += slope * dh**2 / 2.0
        cov[1][1] += slope * dh
        return mean, cov


def model_from(
    calibrations: Sequence[Calibration], shifts: Iterable[Shift] = (), prior: DriftPrior = TUBE_DRIFT
) -> RatioModel:
    """Build the model of one lamp set from its records, in any order.

    Once the box has a radiometer or tablet calibration, taught ones are left out: they have no absolute scale.
    Raises ValueError if the calibrations belong to different lamp sets, meters or positions.
    """
    places = {(c.lamp_set, c.meter, c.position) for c in calibrations}
    if len(places) > 1:
        raise ValueError("calibrations of different lamp sets, meters or positions cannot be combined; choose one")
    anchored = [c for c in calibrations if c.origin != "teach"]
    model = RatioModel(prior)
    events: list[Calibration | Shift] = [*(anchored or calibrations), *shifts]
    for event in sorted(events, key=lambda e: e.lamp_hours):
        if isinstance(event, Calibration):
            model.add(event)
        else:
            model.shift(event)
    return model
