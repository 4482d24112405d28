"""How far the zones of one panel scatter, how often one is misread, and what it says that no half step is marked.

Zones of one panel share its threshold, so each panel tells by itself whether its readings fit together. Every guess at
scatter, share of misreadings and marking on a small grid is weighted by how likely it makes the panels read so far; the
place of each panel's threshold is summed out. A misreading is a heavy tail: with a small probability a reading belongs
to a normal as wide as half a step (contaminated normal, after Tukey 1960, from memory).

Some people mark every half step, some never do. For the first no mark means that the half step is gone, and taking it
for 'not looked' would place every threshold too low; for the others it means nothing.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from sumlight.craft.censored import Halved, Marking, Observation, ends_of, likelihood

MISREAD_LN = 0.2
"""Standard deviation (ln) of a misread zone about the truth: more than half a step of 0.345 (judgement, no source)."""
ZONE_GUESSES = ((0.006, 0.15), (0.01, 0.35), (0.02, 0.25), (0.035, 0.15), (0.06, 0.1))
MISREAD_GUESSES = ((0.01, 0.5), (0.05, 0.3), (0.15, 0.2))
MARKING_GUESSES = (((0.97, 0.03), 0.4), ((0.82, 0.18), 0.2), ((0.01, 0.01), 0.4))
"""Guesses, each with its share before anything was read (judgement, no source); the last marks no half steps."""
PLACES = 40
"""Places on either side of a panel's middle that are summed over, a third of a step each way and half as much more."""
REACH_LN = 0.5
PANELS = 10
"""Latest panels that are looked at: enough to tell, few enough for a small computer."""


@dataclass(frozen=True)
class Reading:
    """Scatter of zones within a panel (standard deviation of ln dose), share of misread zones, and how often a half
    step is marked that is there, and one that is not."""

    zone_sigma: float
    misread: float
    marking: Marking

    @property
    def marks(self) -> float:
        """How much a mark, or none, tells: 1 everything, 0 nothing."""
        return self.marking[0] - self.marking[1]


Guess = tuple[float, float, Marking]
PRIOR: dict[Guess, float] = {
    (zone, misread, marking): a * b * c
    for zone, a in ZONE_GUESSES
    for misread, b in MISREAD_GUESSES
    for marking, c in MARKING_GUESSES
}


def _mean(weights: Mapping[Guess, float]) -> Reading:
    """Over all guesses: of the logarithm for the scatter, of the shares themselves."""
    total = math.fsum(weights.values())
    shares = [(guess, weight / total) for guess, weight in weights.items()]
    below, above = (math.fsum(share * marking[i] for (*_, marking), share in shares) for i in (0, 1))
    zone = math.exp(math.fsum(share * math.log(zone) for (zone, *_), share in shares))
    return Reading(zone, math.fsum(share * misread for (_, misread, _), share in shares), (below, above))


UNKNOWN = _mean(PRIOR)
"""Before any panel was read."""


def learned(panels: Sequence[Sequence[Observation]]) -> Reading:
    """What the panels tell of zones and reader; each panel as intervals of its ln threshold, oldest first.

    Panels with a single zone tell only how half steps are marked.
    """
    ln_weights = {guess: math.log(share) for guess, share in PRIOR.items()}
    for panel in panels[-PANELS:]:
        found = _likelihoods(tuple(panel)) if len(panel) > 1 else _marks(panel)
        for guess, value in found.items():
            ln_weights[guess] += math.log(max(value, 1e-300))
    best = max(ln_weights.values())
    return _mean({guess: math.exp(value - best) for guess, value in ln_weights.items()})


def _marks(panel: Sequence[Observation]) -> dict[Guess, float]:
    """For each guess, the probability of marks in places of which nothing else is known."""
    marks = [seen.marked for seen in panel if isinstance(seen, Halved)]
    return {guess: math.prod(sum(guess[2]) / 2 if mark else 1 - sum(guess[2]) / 2 for mark in marks) for guess in PRIOR}


@lru_cache(maxsize=4 * PANELS)
def _likelihoods(panel: tuple[Observation, ...]) -> dict[Guess, float]:
    """For each guess, the probability of the panel's readings with its threshold anywhere near.

    Kept, since a panel is looked at again with each of the next ones.
    """
    ends = sorted(end for seen in panel for end in ends_of(seen) if math.isfinite(end))
    if not ends:
        return {}
    middle, step = ends[len(ends) // 2], REACH_LN / PLACES
    places = [middle + number * step for number in range(-PLACES, PLACES + 1)]
    found = {}
    for marking, _ in MARKING_GUESSES:
        wide = [[likelihood(seen, place, MISREAD_LN, marking) for seen in panel] for place in places]
        for zone, _ in ZONE_GUESSES:
            near = [[likelihood(seen, place, zone, marking) for seen in panel] for place in places]
            for misread, _ in MISREAD_GUESSES:
                found[zone, misread, marking] = sum(
                    math.prod((1 - misread) * p + misread * q for p, q in zip(good, bad, strict=True))
                    for good, bad in zip(near, wide, strict=True)
                )
    return found
