"""How far the zones of one panel scatter, and how often one is misread: learned from panels with several zones.

Zones of one panel share its threshold, so each panel tells by itself whether its readings fit together. Every pair of
scatter and share of misreadings on a small grid is weighted by how likely it makes the panels read so far; the place of
each panel's threshold is summed out. A misreading is a heavy tail: with a small probability a reading belongs to a
normal as wide as half a step (contaminated normal, after Tukey 1960, from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.craft.censored import Interval, probability

MISREAD_LN = 0.2
"""Standard deviation (ln) of a misread zone about the truth: more than half a step of 0.345 (judgement, no source)."""
ZONE_GUESSES = ((0.006, 0.15), (0.01, 0.35), (0.02, 0.25), (0.035, 0.15), (0.06, 0.1))
MISREAD_GUESSES = ((0.01, 0.5), (0.05, 0.3), (0.15, 0.2))
"""Guesses, each with its share before anything was read (judgement, no source)."""
PLACES = 40
"""Places on either side of a panel's middle that are summed over, a third of a step each way and half as much more."""
REACH_LN = 0.5
PANELS = 10
"""Latest panels that are looked at: enough to tell, few enough for a small computer."""


@dataclass(frozen=True)
class Reading:
    """Scatter of zones within a panel (standard deviation of ln dose) and share of misread zones."""

    zone_sigma: float
    misread: float


UNKNOWN = Reading(
    math.exp(math.fsum(share * math.log(value) for value, share in ZONE_GUESSES)),
    math.fsum(share * value for value, share in MISREAD_GUESSES),
)
"""Before any panel was read."""


def learned(panels: Sequence[Sequence[Interval]]) -> Reading:
    """What the panels tell of zones and reader; each panel as intervals of its ln threshold, oldest first.

    Panels with a single zone tell nothing. The answer is the mean over all guesses (of the logarithm for the scatter).
    """
    told = [panel for panel in panels if len(panel) > 1][-PANELS:]
    ln_weights = {(zone, misread): math.log(a * b) for zone, a in ZONE_GUESSES for misread, b in MISREAD_GUESSES}
    for panel in told:
        for guess, likelihood in _likelihoods(panel).items():
            ln_weights[guess] += math.log(max(likelihood, 1e-300))
    best = max(ln_weights.values())
    weights = {guess: math.exp(value - best) for guess, value in ln_weights.items()}
    total = sum(weights.values())
    zone = sum(weight * math.log(guess[0]) for guess, weight in weights.items()) / total
    misread = sum(weight * guess[1] for guess, weight in weights.items()) / total
    return Reading(math.exp(zone), misread)


def _likelihoods(panel: Sequence[Interval]) -> dict[tuple[float, float], float]:
    """For each guess, the probability of the panel's readings with its threshold anywhere near."""
    ends = sorted(end for interval in panel for end in interval if math.isfinite(end))
    if not ends:
        return {}
    middle, step = ends[len(ends) // 2], REACH_LN / PLACES
    places = [middle + number * step for number in range(-PLACES, PLACES + 1)]
    wide = [[probability(low, high, place, MISREAD_LN) for low, high in panel] for place in places]
    found = {}
    for zone, _ in ZONE_GUESSES:
        near = [[probability(low, high, place, zone) for low, high in panel] for place in places]
        for misread, _ in MISREAD_GUESSES:
            found[zone, misread] = sum(
                math.prod((1 - misread) * p + misread * q for p, q in zip(good, bad, strict=True))
                for good, bad in zip(near, wide, strict=True)
            )
    return found
