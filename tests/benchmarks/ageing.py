"""Lives of twin lamps whose end is known, against what is foretold of them: how often the truth lies in the interval.

Each life follows the twin's law of fading with constants of its own, its law of temperature, and readings as a bench
gives them: some a day, mains and room different every day, an odd one now and then, and some lives lose a tube.
"""

import math
from dataclasses import dataclass
from random import Random

from sumlight.light.ageing import REPLACE_LEVEL, LampPoint, temperature_corrected
from sumlight.light.lampanswer import BankAnswer, BankHistory, answer
from sumlight.twin.lamps import BEST_WALL_C, WALL_RISE_C, temperature_factor
from sumlight.twin.sources import Fade
from tests.benchmarks.figure import Figure

LIVES, QUICK_LIVES = 1500, 400
LOW, HIGH = 93.0, 98.0
SEED = 1500
TUBES = 6


@dataclass(frozen=True)
class TrueLife:
    """What really happens to one bank: fading, and the hour from which a tube is out."""

    fade: Fade
    tube_out_h: float
    light_mw_cm2: float

    def mw_cm2(self, hours: float) -> float:
        """True settled light at the best temperature and nominal mains."""
        share = (TUBES - 1) / TUBES if hours >= self.tube_out_h else 1.0
        return self.light_mw_cm2 * share * self.fade.left(hours)

    def hours_at(self, mw_cm2: float, from_h: float) -> float:
        """When the light falls to a level, at `from_h` at the earliest."""
        low, high = from_h, from_h + 1e5
        if self.mw_cm2(from_h) <= mw_cm2:
            return from_h
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.mw_cm2(middle) > mw_cm2 else (low, middle)
        return high


@dataclass
class Tally:
    """How often something was so."""

    right: int = 0
    of: int = 0

    def add(self, right: bool) -> None:
        """One case."""
        self.right += right
        self.of += 1

    @property
    def percent(self) -> float:
        """Share in percent."""
        return 100 * self.right / max(1, self.of)


def measure(quick: bool) -> list[Figure]:
    """Percent of lives in which each stated interval held the truth."""
    chance = Random(SEED)
    end, share, reading, bounded, tubes, false = (Tally() for _ in range(6))
    lives = QUICK_LIVES if quick else LIVES
    for _ in range(lives):
        true, history, scatter = _life(chance)
        found = answer(history)
        if found.decay is None or found.share is None or found.new_mw_cm2 is None or found.left_h is None:
            raise RuntimeError(f"nothing was said of a life of {history.hours:.0f} h: {found.sentences}")
        out = true.tube_out_h < history.hours
        if out:
            tubes.add(any(step.cause == "tube_out" for step in found.steps))
        else:
            false.add(bool(found.steps))
        share.add(found.share[1] <= true.mw_cm2(history.hours) / found.new_mw_cm2 <= found.share[2])
        end.add(_end_is_right(true, found))
        bounded.add(found.left_h[2] is not None)
        ahead_h = history.hours + chance.uniform(5, 100)
        _, low, high = found.decay.reading(ahead_h)
        seen = true.mw_cm2(min(ahead_h, math.inf)) * math.exp(chance.gauss(0, scatter))
        if true.tube_out_h > ahead_h or out:  # nobody foretells a tube that is yet to go
            reading.add(low <= seen <= high)
    return [
        *_between(f"ageing: replacement hours in their interval, {end.of} lives", end.percent),
        *_between(f"ageing: percent of new in its interval, {share.of} lives", share.percent),
        *_between(f"ageing: next reading in its interval, {reading.of} lives", reading.percent),
        Figure("ageing: lives with an upper bound within the rule", bounded.percent, "%", "for comparison"),
        Figure(f"ageing: tubes gone out that were named, of {tubes.of}", tubes.percent, "%", "at least", 95),
        Figure(f"ageing: jumps seen where there was none, of {false.of}", false.percent, "%", "at most", 2),
    ]


def _between(name: str, percent: float) -> list[Figure]:
    return [
        Figure(name, percent, "%", "at least", LOW),
        Figure(f"{name}, not too wide", percent, "%", "at most", HIGH),
    ]


def _end_is_right(true: TrueLife, found: BankAnswer) -> bool:
    """Whether the true end lies between the bounds; a bound that is not told is open beyond the rule's cap."""
    if found.left_h is None or found.cap_left_h is None or found.new_mw_cm2 is None:
        return False
    left_h = true.hours_at(found.level * found.new_mw_cm2, found.hours) - found.hours
    _, low, high = found.left_h
    above = left_h >= (low if low is not None else found.cap_left_h) - 1e-6
    return above and (high is None or left_h <= high + 1e-6)


def _life(chance: Random) -> tuple[TrueLife, BankHistory, float]:
    """A bank somewhere between 300 h and shortly before its end."""
    fade = Fade(chance.uniform(0.04, 0.12), chance.uniform(1e-4, 4e-4))
    light = chance.uniform(3, 7)
    whole = TrueLife(fade, math.inf, light)
    end_h = whole.hours_at(REPLACE_LEVEL * whole.mw_cm2(120), 120)
    age_h = chance.uniform(300, max(350, min(0.95 * end_h, 1500)))
    out_h = chance.uniform(0.4, 0.8) * age_h if chance.random() < 0.2 else math.inf
    true = TrueLife(fade, max(160.0, out_h), light)
    scatter = chance.uniform(0.005, 0.02)
    hours, points, day = chance.uniform(0, 2), [], 0
    while hours < age_h:
        day += 1
        room_c, today = chance.uniform(17, 30), chance.gauss(0, scatter / math.sqrt(2))
        for _ in range(chance.randint(1, 4)):
            hours += chance.uniform(0.2, 1.5)
            warmth = temperature_factor(room_c + WALL_RISE_C) / temperature_factor(BEST_WALL_C)
            seen = true.mw_cm2(hours) * warmth * math.exp(today + chance.gauss(0, scatter / math.sqrt(2)))
            if chance.random() < 0.01:
                seen *= chance.uniform(0.5, 0.9)
            points.append(LampPoint(hours, temperature_corrected(seen, room_c + chance.gauss(0, 0.3)), day))
    return true, BankHistory("lower", points[-1].hours, points, tube_count=TUBES), scatter
