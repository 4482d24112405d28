"""One guess at what the clear channel sees of the near UV, and what follows from it for the ratio of a lamp set.

    ln r(h) = apart(h) + (1 + more) * level(h)        level' = slope
    ln of clear over 415 nm, since it was seen first = ln(1 + sees * (exp(level) - 1))

The level is what the phosphor's light has lost against the mercury lines since the colour was seen first: the clear
channel shows it in every panel, as far as it `sees` the phosphor's band; what it sees besides are lines. A tablet tells
`apart`, the ratio without that, and `more`, by how much the guess is off. How much a clear channel sees of the near UV
is published nowhere and differs from chip to chip, so several guesses at it stand side by side, and tablets and colours
give weight to those that foretold them.

A panel from cold or warm tubes lies off the level by its own warmth, in its colour as in its ratio. So a tablet whose
colour was seen is taken as what it says beyond its colour. The state is followed by a Kalman filter, linear about its
mean; checks and colours that miss by far are taken by several stories at once, as in `sumlight.light.guess`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.light.guess import JUMP_LN, JUMPED, MISREAD, MISREAD_LN

APART, LEVEL, SLOPE, MORE = range(4)
PAIRS = tuple((i, j) for i in range(4) for j in range(i, 4))
PLACE = tuple(tuple(PAIRS.index((min(i, j), max(i, j))) for j in range(4)) for i in range(4))
LEAST_LEFT = 0.02
"""A guess by which a colour leaves less of the band than this share is taken at this share, and misses by far."""

Story = tuple[float, int, float, float]
"""Its share, which part of the state jumped, the variance of that jump, and the noise of what was seen."""


@dataclass(slots=True)
class ColourGuess:
    """Mean and covariance of the state at `h` lamp hours, and the logarithm of the guess's weight.

    `scatter` is how far panels scatter, over what is usual, `sees` the share that the band has in the clear channel's
    counts when the colour was seen first. `apart_noise` and `slope_noise` are variances per lamp hour of the random
    walks. New tubes lose `early` (ln) with the time constant `tau_h`, give or take a variance of `early_noise`. `warm`
    is the variance (ln) of a panel about the level by its own warmth.
    """

    scatter: float
    tau_h: float
    sees: float
    apart_noise: float
    slope_noise: float
    ln_weight: float
    h: float
    mean: list[float]
    """Apart, level, slope, more."""
    cov: list[float]
    """Of the pairs in `PAIRS`."""
    early: float = 0.0
    early_noise: float = 0.0
    warm: float = 0.0
    seen_ln: float | None = None
    seen_noise: float = 0.0
    """The level as the colour of the check says that comes next, and the variance of that."""

    def move_to(self, hours: float) -> None:
        """Carry the state forward to `hours`; the noise is that of an integrated random walk, and of new tubes."""
        dh, noise = hours - self.h, self.slope_noise
        settled = math.exp(-self.h / self.tau_h) - math.exp(-hours / self.tau_h)
        aa, al, as_, am, ll, ls, lm, ss, sm, mm = self.cov
        self.cov = [
            aa + self.apart_noise * dh,
            al + dh * as_,
            as_,
            am,
            ll + dh * (2 * ls + dh * ss) + noise * dh**3 / 3 + self.early_noise * settled,
            ls + dh * ss + noise * dh**2 / 2,
            lm + dh * sm,
            ss + noise * dh,
            sm,
            mm,
        ]
        self.mean[LEVEL] += dh * self.mean[SLOPE] + self.early * settled
        self.h = hours

    def at(self, hours: float) -> tuple[float, float]:
        """Mean and variance of ln r for a panel at `hours`, from `h` on."""
        dh, times = hours - self.h, 1.0 + self.mean[MORE]
        settled = math.exp(-self.h / self.tau_h) - math.exp(-hours / self.tau_h)
        level = self.mean[LEVEL] + dh * self.mean[SLOPE] + self.early * settled
        aa, al, as_, am, ll, ls, lm, ss, sm, mm = self.cov
        variance = aa + level * (2 * am + level * mm) + times**2 * (ll + dh * (2 * ls + dh * ss))
        variance += 2 * times * (al + dh * as_ + level * (lm + dh * sm))
        wandered = self.slope_noise * dh**3 / 3 + self.early_noise * settled
        variance += self.apart_noise * dh + times**2 * wandered + self.warm
        return self.mean[APART] + times * level, max(0.0, variance)

    def shift(self, ln_shift: float, variance: float) -> None:
        """The whole ratio moves by a known step, its colour stays. `variance` is that of the ln ratio."""
        self.mean[APART] += ln_shift
        self.cov[0] += variance

    def begin(self, ln_noise: float) -> None:
        """The colour is seen for the first time, at `h`: the level counts from here, within `ln_noise` (variance, ln of
        the colour)."""
        row = (1.0, 1.0, 0.0, 0.0)
        whole = self._times(row)
        self.mean[APART] += self.mean[LEVEL]
        self.mean[LEVEL] = 0.0
        _, _, _, _, _, _, _, ss, sm, mm = self.cov
        self.cov = [whole[0] + whole[1], 0.0, whole[2], whole[3], ln_noise / self.sees**2, 0.0, 0.0, ss, sm, mm]

    def see(self, ln_colour: float, scatter: float, noise: float) -> None:
        """A colour at `h`, ln of clear over 415 nm since `h0`; it scatters by the variance `scatter`, of which `noise`
        is the sensor's and the rest the warmth of the panel."""
        share = max(LEAST_LEFT, 1 + math.expm1(ln_colour) / self.sees)
        self.seen_ln = math.log(share)
        each = math.exp(ln_colour) / (self.sees * share)  # of b for each of the colour
        self.seen_noise = noise * each**2
        self.warm = min(WARM_MOST, max(WARM_LEAST, (scatter - noise) * each**2))
        variance = self.seen_noise + self.warm
        self._take(
            (0.0, 1.0, 0.0, 0.0),
            self.seen_ln - self.mean[LEVEL],
            (
                (1.0 - MISREAD - JUMPED, LEVEL, 0.0, variance),
                (MISREAD, LEVEL, 0.0, variance + MISREAD_LN**2),
                (JUMPED, LEVEL, JUMP_LN**2, variance),
            ),
        )
        self.ln_weight += math.log(each)

    def take(self, ln_ratio: float, variance: float, *, doubt: bool) -> None:
        """Take in a check of this variance at `h`, with the colour that was seen last if it was seen with it; with
        `doubt` it may have been misread, or come after a jump. `variance` is that of the ln ratio."""
        times, own, seen_ln = 1.0 + self.mean[MORE], 0.0, 0.0
        if self.seen_ln is not None:
            own, seen_ln = self.warm / (self.warm + self.seen_noise), self.seen_ln
            self.seen_ln = None
        noise = variance + times**2 * self.warm * (1.0 - own)
        level = own * seen_ln + (1.0 - own) * self.mean[LEVEL]
        missed = ln_ratio - self.mean[APART] - times * level
        stories: Sequence[Story] = ((1.0, APART, 0.0, noise),)
        if doubt:
            stories = (
                (1.0 - MISREAD - JUMPED, APART, 0.0, noise),
                (MISREAD, APART, 0.0, noise + MISREAD_LN**2),
                (JUMPED, APART, JUMP_LN**2, noise),
            )
        self._take((1.0, times * (1.0 - own), 0.0, level), missed, stories)

    def _times(self, row: Sequence[float]) -> list[float]:
        """The covariance times a row."""
        a, b, c, d = row
        aa, al, as_, ae, ll, ls, le, ss, se, ee = self.cov
        return [
            aa * a + al * b + as_ * c + ae * d,
            al * a + ll * b + ls * c + le * d,
            as_ * a + ls * b + ss * c + se * d,
            ae * a + le * b + se * c + ee * d,
        ]

    def _take(self, row: Sequence[float], missed: float, stories: Sequence[Story]) -> None:
        """A measurement that is `row` times the state missed by so much, by all stories; kept as one normal."""
        top = self._times(row)
        known = math.fsum(part * other for part, other in zip(row, top, strict=True))
        wholes = [known + jump * row[part] ** 2 + noise for _, part, jump, noise in stories]
        likelihoods = [
            math.log(story[0]) - 0.5 * (math.log(whole) + missed * missed / whole)
            for story, whole in zip(stories, wholes, strict=True)
        ]
        best = max(likelihoods)
        weights = [math.exp(likelihood - best) for likelihood in likelihoods]
        total = sum(weights)
        self.ln_weight += best + math.log(total)
        moved, cov = [0.0] * 4, list(self.cov)
        for weight, (_, part, jump, _), whole in zip(weights, stories, wholes, strict=True):
            weight /= total
            gain = list(top)
            gain[part] += jump * row[part]
            missed_share = missed / whole
            each = weight * (missed_share * missed_share - 1.0 / whole)
            for place, (i, j) in enumerate(PAIRS):
                cov[place] += each * gain[i] * gain[j]
            cov[PLACE[part][part]] += weight * jump
            for i in range(4):
                moved[i] += weight * gain[i] * missed_share
        for place, (i, j) in enumerate(PAIRS):
            cov[place] -= moved[i] * moved[j]
        self.cov = cov
        self.mean = [old + new for old, new in zip(self.mean, moved, strict=True)]


WARM_LEAST, WARM_MOST = 0.0002**2, 0.018**2
"""Bounds of the variance (ln) by a panel's own warmth (judgement, no source)."""
