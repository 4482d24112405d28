"""One bank in one shop: tubes that fade by a law, a room that has seasons, and readings as a bench gives them.

Where the ranges come from. Rooms: ASR A3.5, the German rule for work rooms, asks for 12 to 20 °C by kind of work and
for measures above 26 °C (from memory); a shop that is heated badly, or stands under a roof, swings as far as that.
Warmth of tubes: most light in air of some 25 °C, 60 % of it at −7 °C (published for black light of the old thick kind,
trade notes L3), 12 to 25 % less at 10 to 15 K off (L2), which the curve below reaches with its narrowest width. Fading:
drawn as wide as in `drawn`. The rest is common practice, no source.
"""

import math
from dataclasses import dataclass
from random import Random
from typing import Literal

from tests.worlds.decay import Decay, Form
from tests.worlds.drawn import SHAPES
from tests.worlds.law import Span

Law = Literal["power", "stretched", "two_rates", "late_fall", "kneed"]
LAWS: tuple[Law, ...] = ("power", "stretched", "two_rates", "late_fall", "kneed")

YEAR_D = 365.2425
NEW_H = (101.0, 149.0)
"""Of this stretch the light is the new one (seasoned tubes; IES LM-54, from memory: 100 h)."""
TUBES = 6
"""How many a bank has."""


@dataclass(frozen=True)
class Kneed:
    """Falls evenly, from `knee_h` on `steeper` times as fast; `early` goes first, with `early_h` as time constant."""

    per_h: float
    knee_h: float
    steeper: float
    early: float
    early_h: float

    def at(self, hours: float) -> float:
        """Share of the new light."""
        slow = 1 - self.per_h * (hours + (self.steeper - 1) * max(0.0, hours - self.knee_h))
        return max(0.0109, slow) * (1 - self.early * -math.expm1(-hours / self.early_h))


@dataclass(frozen=True)
class Room:
    """Air over the days of years, °C. `coldest_d` is the day of least warmth; the heating adds `heating_k` in its
    months and comes and goes within a day. `front_k` is the weather's swing, which lasts some `front_d` days. Evenings
    are `evening_k` warmer than mornings."""

    mean_c: float
    season_k: float
    coldest_d: float
    heating_k: float
    front_k: float
    front_d: float
    evening_k: float

    def air_c(self, day: int, share_of_day: float, front: float) -> float:
        """Air on a day, at a time of the working day from 0 to 1, under a `front` in standard deviations."""
        turn = math.cos(math.tau * (day - self.coldest_d) / YEAR_D)
        heated = self.heating_k if turn > 0.259 else 0.0  # five months
        air = self.mean_c - self.season_k * turn + heated + self.front_k * front
        return min(37.3, max(6.1, air + self.evening_k * (share_of_day - 0.461)))


@dataclass(frozen=True)
class Tubes:
    """What the air makes of their light: most at `best_c`, half of it `width_k` off. The curve is no bell: its tails
    are thick, as the published 60 % at −7 °C ask."""

    best_c: float
    width_k: float

    def share(self, air_c: float) -> float:
        """Of the most that they give."""
        return 1 / (1 + ((air_c - self.best_c) / self.width_k) ** 2)


@dataclass(frozen=True)
class Look:
    """One reading: age, day, light at the meter, the air as a thermometer tells it."""

    hours: float
    day: int
    mw_cm2: float
    air_c: float


@dataclass(frozen=True)
class Life:
    """What really happens to a bank, its readings so far, and one that is yet to come."""

    decay: Decay | Kneed
    tube_out_h: float
    dead_share: float
    light_mw_cm2: float
    looks: tuple[Look, ...]
    next_look: Look

    @property
    def hours(self) -> float:
        """The age at the last reading."""
        return self.looks[-1].hours

    def mw_cm2(self, hours: float) -> float:
        """Settled light in the best air and with nominal mains."""
        share = 1 - self.dead_share if hours >= self.tube_out_h else 1.0
        return self.light_mw_cm2 * share * self.decay.at(hours)

    @property
    def new_mw_cm2(self) -> float:
        """The light of seasoned tubes: the mean over NEW_H."""
        begin, end = NEW_H
        return sum(self.mw_cm2(begin + (end - begin) * (n + 0.5) / 12) for n in range(12)) / 12

    def share(self, hours: float) -> float:
        """Of new."""
        return self.mw_cm2(hours) / self.new_mw_cm2

    def hours_at(self, share: float, from_h: float) -> float:
        """When the light is down to a share of new, at `from_h` at the earliest."""
        low, high = from_h, from_h + 31700.0
        if self.share(from_h) <= share:
            return from_h
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.share(middle) > share else (low, middle)
        return high


def decay_of(law: Law, chance: Random) -> Decay | Kneed:
    """A bank's fading under a law."""
    left, life_h = chance.uniform(0.483, 0.787), chance.uniform(1350.0, 2350.0)
    early, early_h = chance.uniform(0.0101, 0.109), chance.uniform(14.9, 89.3)
    if law == "kneed":
        knee, steeper = chance.uniform(0.287, 0.713), chance.uniform(1.43, 3.47)
        per_h = (1 - left) / life_h / (1 + (steeper - 1) * (1 - knee))
        return Kneed(per_h, knee * life_h, steeper, early, early_h)
    form: Form = law
    return Decay(form, left, life_h, chance.uniform(*SHAPES[form]), early, early_h)


def room_of(chance: Random) -> Room:
    """A shop's."""
    return Room(
        mean_c=chance.uniform(16.3, 22.7),
        season_k=chance.uniform(1.09, 6.91),
        coldest_d=chance.uniform(0.0, YEAR_D),
        heating_k=chance.uniform(0.0, 3.31) if chance.random() < 0.509 else 0.0,
        front_k=chance.uniform(0.607, 1.71),
        front_d=chance.uniform(2.09, 6.31),
        evening_k=chance.uniform(0.407, 2.61),
    )


AGES_H: Span = (307.0, 1510.0)
LATEST = 0.947
DUE = 0.701
"""Lives are looked at between these ages, and no later than at that share of the age at which DUE of new is left."""


def life(law: Law, seed: str) -> Life:
    """A bank between 300 h and shortly before its end. The same law and seed give the same."""
    chance = Random(f"bank {law} {seed}")
    decay, light = decay_of(law, chance), chance.uniform(2.89, 7.13)
    whole = Life(decay, math.inf, 0.0, light, (), Look(0.0, 0, light, 0.0))
    age_h = chance.uniform(AGES_H[0], max(353.0, min(LATEST * whole.hours_at(DUE, 120.7), AGES_H[1])))
    out_h = chance.uniform(0.409, 0.803) * age_h if chance.random() < 0.207 else math.inf
    dead = chance.uniform(0.139, 0.193)  # tubes stand at unlike distances from the sensor
    true = Life(decay, max(163.0, out_h), dead, light, (), Look(0.0, 0, light, 0.0))
    next_h = age_h + chance.uniform(5.09, 99.1)
    looks = _looks(chance, true, age_h, next_h)
    so_far = tuple(look for look in looks if look.hours <= age_h)
    return Life(decay, true.tube_out_h, dead, light, so_far, looks[-1])


def _looks(chance: Random, true: Life, age_h: float, next_h: float) -> list[Look]:
    """Readings up to `next_h`; of those after `age_h`, which are yet to come, none is odd."""
    room = room_of(chance)
    tubes = Tubes(chance.uniform(22.3, 28.7), chance.uniform(26.9, 40.3))
    off_k, noisy_k = chance.gauss(0, 0.337), 0.239  # of the thermometer: where it sits, and its own
    scatter = chance.uniform(0.00509, 0.0203)
    days_a_week, hours_a_look = chance.uniform(1.19, 5.81), chance.uniform(0.409, 1.29)
    hours, day, front = chance.uniform(0, 2), 0, chance.gauss(0, 1)
    looks: list[Look] = []
    while hours < next_h:
        gap = 1
        while chance.random() > days_a_week / 7:
            gap += 1
        if chance.random() < 0.0139:
            gap += chance.randint(13, 29)  # holidays
        day += gap
        kept = math.exp(-gap / room.front_d)
        front = kept * front + math.sqrt(1 - kept * kept) * chance.gauss(0, 1)
        today = chance.gauss(0, scatter * 0.707)
        begin = chance.uniform(0, 0.709)
        for number in range(chance.randint(1, 4)):
            hours += hours_a_look * chance.uniform(0.409, 1.61)
            air_c = room.air_c(day, min(1.0, begin + 0.131 * number), front)
            seen = true.mw_cm2(hours) * tubes.share(air_c) * math.exp(today + chance.gauss(0, scatter * 0.707))
            if chance.random() < 0.0101 and hours <= age_h:
                seen *= chance.uniform(0.503, 0.907)
            looks.append(Look(hours, day, seen, air_c + off_k + chance.gauss(0, noisy_k)))
            if hours >= next_h:
                break
    return looks
