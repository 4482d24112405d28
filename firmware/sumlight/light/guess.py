"""One guess at how the ratio of a lamp set drifts and how far its checks scatter, followed by a small Kalman filter.

    ln r(h) = level(h) + early * (1 - exp(-h / tau)),   level' = slope

The state is (level, slope, early); level and slope wander (random walks). Each check is taken in by three stories at
once, weighted by how well they foretold it: it is as good as it says, it was misread, or the ratio jumped meanwhile
(tubes changed without a word). Their mixture is kept as one normal again, with its mean and covariance (moment
matching; multiple-model estimation after Blom and Bar-Shalom 1988, IEEE Trans. Automatic Control 33, 780, from memory).
"""

import math
from dataclasses import dataclass

MISREAD, MISREAD_LN = 0.02, 0.2
"""Share of checks that are off by far more than they say, and by how much (judgement, no source)."""
JUMPED, JUMP_LN = 0.01, 0.2
"""Share of checks before which the ratio jumped, and by how much (judgement, no source). As wide as a misreading: a
single check cannot tell one from the other, so the answer stays between both and the interval wide until the next."""


@dataclass(slots=True)
class Guess:
    """Mean and covariance of the state at `h` lamp hours, and the logarithm of the guess's weight.

    `scatter` is how far panels scatter, over what is usual, `tau_h` the time constant of new tubes,
    `level_noise` and `slope_noise` variances per lamp hour of the random walks.
    """

    scatter: float
    tau_h: float
    level_noise: float
    slope_noise: float
    ln_weight: float
    h: float
    mean: tuple[float, float, float]
    cov: tuple[float, float, float, float, float, float]
    """Level-level, level-slope, level-early, slope-slope, slope-early, early-early."""

    def move_to(self, hours: float) -> None:
        """Carry the state forward; the noise is that of an integrated random walk."""
        dh = hours - self.h
        level, slope, early = self.mean
        ll, ls, le, ss, se, ee = self.cov
        noise = self.slope_noise
        self.cov = (
            ll + dh * (2 * ls + dh * ss) + self.level_noise * dh + noise * dh**3 / 3,
            ls + dh * ss + noise * dh**2 / 2,
            le + dh * se,
            ss + noise * dh,
            se,
            ee,
        )
        self.mean = (level + dh * slope, slope, early)
        self.h = hours

    def at(self, hours: float) -> tuple[float, float]:
        """Mean and variance of ln r at `hours`, from `h` on."""
        dh, seen = hours - self.h, -math.expm1(-hours / self.tau_h)
        level, slope, early = self.mean
        ll, ls, le, ss, se, ee = self.cov
        variance = ll + dh * (2 * ls + dh * ss) + 2 * seen * (le + dh * se) + seen * seen * ee
        variance += self.level_noise * dh + self.slope_noise * dh**3 / 3
        return level + dh * slope + seen * early, max(0.0, variance)

    def shift(self, ln_shift: float, variance: float) -> None:
        """The whole ratio moves by a known step. `variance` is that of the ln ratio."""
        level, slope, early = self.mean
        self.mean = (level + ln_shift, slope, early)
        self.cov = (self.cov[0] + variance, *self.cov[1:])

    def take(self, ln_ratio: float, variance: float, *, doubt: bool) -> None:
        """Take in a check of this variance at `h`; with `doubt` it may have been misread, or come after a jump.

        `variance` is that of the ln ratio.
        """
        seen = -math.expm1(-self.h / self.tau_h)
        ll, ls, le, ss, se, ee = self.cov
        top = (ll + seen * le, ls + seen * se, le + seen * ee)
        known = top[0] + seen * top[2]
        missed = ln_ratio - self.mean[0] - seen * self.mean[2]
        stories = [(1.0, 0.0, variance)]
        if doubt:
            stories = [
                (1.0 - MISREAD - JUMPED, 0.0, variance),
                (MISREAD, 0.0, variance + MISREAD_LN**2),
                (JUMPED, JUMP_LN**2, variance),
            ]
        likelihoods = []
        for share, jump, noise in stories:
            whole = known + jump + noise
            likelihoods.append(math.log(share) - 0.5 * (math.log(whole) + missed * missed / whole))
        best = max(likelihoods)
        weights = [math.exp(value - best) for value in likelihoods]
        total = sum(weights)
        self.ln_weight += best + math.log(total)
        mean = [0.0, 0.0, 0.0]
        square = [0.0] * 6
        for weight, (_, jump, noise) in zip(weights, stories, strict=True):
            weight /= total
            whole = known + jump + noise
            a, b, c = (top[0] + jump) / whole, top[1] / whole, top[2] / whole
            da, db, dc = a * missed, b * missed, c * missed
            mean[0] += weight * da
            mean[1] += weight * db
            mean[2] += weight * dc
            square[0] += weight * (jump - a * a * whole + da * da)
            square[1] += weight * (-a * b * whole + da * db)
            square[2] += weight * (-a * c * whole + da * dc)
            square[3] += weight * (-b * b * whole + db * db)
            square[4] += weight * (-b * c * whole + db * dc)
            square[5] += weight * (-c * c * whole + dc * dc)
        ma, mb, mc = mean
        outer = (ma * ma, ma * mb, ma * mc, mb * mb, mb * mc, mc * mc)
        ll, ls, le, ss, se, ee = (old + new - out for old, new, out in zip(self.cov, square, outer, strict=True))
        self.cov = (ll, ls, le, ss, se, ee)
        self.mean = (self.mean[0] + ma, self.mean[1] + mb, self.mean[2] + mc)
