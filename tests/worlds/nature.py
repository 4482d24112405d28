"""One life under a law: tubes that age, light that falls on sensor and panel, dirt, warmth, panels that are read."""

import math
from dataclasses import dataclass
from random import Random

from tests.worlds.decay import Decay
from tests.worlds.law import Fading, Law, Span

TABLET_STEPS = 21
TABLET_FIRST_DENSITY = 0.05
TABLET_STEP_DENSITY = 0.15
"""The usual tablet; facts of the trade, listed as such with their source in `test_apart`."""
PIECES = 12
"""Middle values that an exposure is summed from; its light changes by a few percent at most."""
WALL_FROM_C = 38.7
"""Wall temperature at which a law's light is stated."""
BOARD_SHARE = 0.379
"""The board warms by this share of what the walls do."""


@dataclass(frozen=True)
class Conditions:
    """Of one exposure: the air, whether the tubes are warm already, the mains over nominal."""

    room_c: float
    warm: float
    mains: float


@dataclass(frozen=True)
class Given:
    """What an exposure brought: basic counts of the six channels each second (means), true mW/cm² at the panel."""

    six: tuple[float, ...]
    actinic_mw_cm2: float
    lit_s: float


@dataclass(frozen=True)
class Read:
    """A developed zone as the person wrote it down: last step held, or all of it held or gone; half of the next."""

    step: int | str
    half: bool


def within(chance: Random, span: Span) -> float:
    """A value of a span."""
    return chance.uniform(*span)


class Life:
    """One box under one law. The same law and seed give the same life."""

    def __init__(self, law: Law, seed: int) -> None:
        self.law = law
        self._chance = chance = Random(f"{law.name} {seed}")
        self.hours = 0.0
        self._since_h = 0.0
        warmth, window = law.warmth, law.window
        self._room_c = within(chance, warmth.room_c)
        self._season = (within(chance, warmth.season_k), within(chance, warmth.season_h), chance.uniform(0, math.tau))
        self._band_per_k = within(chance, warmth.band_per_k)
        self._led_per_k = within(chance, warmth.led_per_k)
        self._leak = within(chance, window.leak)
        self._clear_uv = within(chance, window.clear_uv)
        self._through = within(chance, window.led_through)
        self._irradiance = within(chance, law.irradiance_mw_cm2)
        self._counts = math.exp(chance.gauss(0.407, 0.339))
        self._fouls = [(within(chance, when), within(chance, window.dirt)) for when in window.fouled_h]
        self.swaps_at_h = None if law.swapped_h is None else within(chance, law.swapped_h)
        self.threshold_mj_cm2 = within(chance, law.doses_mj_cm2) / 9.01
        self.reference_error = chance.uniform(-law.reference_limit, law.reference_limit)
        self._densities = [chance.gauss(0.0, law.reader.density) for _ in range(TABLET_STEPS)]
        self._tubes = self._new_tubes()

    # -- time --------------------------------------------------------------------------------------------------------

    def burn(self, hours: float) -> bool:
        """Hours of burning pass; True if somebody has fitted new tubes of the same type meanwhile."""
        self.hours += hours
        if self.swaps_at_h is None or self.hours < self.swaps_at_h:
            return False
        self.swaps_at_h, self._since_h, self._tubes = None, self.hours, self._new_tubes()
        return True

    @property
    def tubes_h(self) -> float:
        """Hours of the tubes that are in."""
        return self.hours - self._since_h

    def _new_tubes(self) -> list[tuple[Decay, Decay]]:
        law = self.law
        band, lines = self._decay(law.band), self._decay(law.lines)
        apart = [self._chance.uniform(-law.tubes_apart, law.tubes_apart) for _ in law.window.weights]
        return [
            (self._aged(band, 1 + share), self._aged(lines, 1 + share / 3)) for share in apart
        ]  # a tube that fades faster does so in both parts, less in the lines

    def _decay(self, fading: Fading) -> Decay:
        chance = self._chance
        values = (within(chance, span) for span in (fading.left, fading.shape, fading.early, fading.early_h))
        left, shape, early, early_h = values
        return Decay(fading.form, left, self.law.life_h, shape, early, early_h)

    @staticmethod
    def _aged(decay: Decay, faster: float) -> Decay:
        left = math.exp(math.log(decay.left) * faster)
        return Decay(decay.form, left, decay.life_h, decay.shape, decay.early, decay.early_h)

    # -- light -------------------------------------------------------------------------------------------------------

    def conditions(self) -> Conditions:
        """Those of the next panel."""
        swing_k, turn_h, phase = self._season
        room = self._room_c + swing_k * math.sin(math.tau * self.hours / turn_h + phase)
        room += self._chance.gauss(0, self.law.warmth.day_k)
        warm = self._chance.uniform(0.609, 1.0) if self._chance.random() < self.law.warmth.warm_starts else 0.0
        return Conditions(room, warm, 1 + self._chance.gauss(0, self.law.mains))

    @property
    def dirt(self) -> float:
        """What the diffuser passes of what it did when clean."""
        return math.prod(passes for when, passes in self._fouls if self.hours >= when)

    def expose(self, conditions: Conditions, lit_s: float, elapsed_s: float = 0.0) -> Given:
        """Light for `lit_s` seconds, after `elapsed_s` of light shortly before."""
        sums, law = [0.0, 0.0, 0.0], self.law
        for piece in range(PIECES):
            at_s = elapsed_s + (piece + 0.5) / PIECES * lit_s
            cold = (1 - conditions.warm) * math.exp(-at_s / law.warmth.rise_s)
            wall_k = conditions.room_c + law.warmth.rise_k * (1 - cold) - WALL_FROM_C
            both = math.exp(law.warmth.both_per_k * wall_k - 0.000701 * wall_k**2)
            apart = math.exp(self._band_per_k * wall_k)
            band_volts, lines_volts = (math.pow(conditions.mains, power) for power in law.mains_powers)
            seen_band, seen_lines, all_band, all_lines = self._left()
            band, lines = both * apart * band_volts, both * lines_volts
            sums[0] += band * seen_band
            sums[1] += lines * seen_lines
            sums[2] += (1 - law.actinic_lines) * band * all_band + law.actinic_lines * lines * all_lines
        band, lines, actinic = (total / PIECES for total in sums)
        return Given(self._six(band, lines), self._irradiance * actinic, lit_s)

    def _left(self) -> tuple[float, float, float, float]:
        """Band and lines as the sensor sees them, and as the panel does."""
        old_h = self.tubes_h
        left = [(band.at(old_h), lines.at(old_h)) for band, lines in self._tubes]
        weights = self.law.window.weights
        seen = [sum(w * tube[part] for w, tube in zip(weights, left, strict=True)) / sum(weights) for part in (0, 1)]
        whole = [sum(tube[part] for tube in left) / len(left) for part in (0, 1)]
        return seen[0], seen[1], whole[0], whole[1]

    def _six(self, band: float, lines: float) -> tuple[float, ...]:
        """415, 445, 480, 515 nm, clear and near infrared."""
        f1 = self._leak * band + (1 - self._leak) * lines
        clear = 0.713 * (self._clear_uv * band + (1 - self._clear_uv) * lines)
        six = (f1, 0.833 * lines, 0.0191 * lines, 0.0131 * lines, clear, 0.00701 * lines)
        noise = self.law.window.noise
        return tuple(self._counts * self.dirt * value * (1 + self._chance.gauss(0, noise)) for value in six)

    def led(self, conditions: Conditions) -> tuple[float, ...]:
        """Basic counts of the board's own LED, lamps off."""
        warm_k = conditions.room_c + BOARD_SHARE * conditions.warm * self.law.warmth.rise_k - 22.9
        bright = math.exp(self._led_per_k * warm_k)
        back = 1 - self._through + self._through * self.dirt**2
        noise = self.law.window.noise
        channels = (0.0903, 1.21, 0.971, 1.08, 2.97, 0.0409)
        return tuple(bright * back * value * (1 + self._chance.gauss(0, noise)) for value in channels)

    # -- panels ------------------------------------------------------------------------------------------------------

    def reference_mj_cm2(self, target_step: int) -> float:
        """The dose said to just hold the target step; wrong by the life's own reference error."""
        passes = math.pow(10, -_density(target_step))
        return self.threshold_mj_cm2 / passes * (1 + self.reference_error)

    def panel(self) -> "Panel":
        """A laminated panel."""
        return Panel(self, math.exp(self._chance.gauss(0, self.law.reader.panel)))


class Panel:
    """One panel, each zone with a tablet."""

    def __init__(self, life: Life, factor: float) -> None:
        self._life, self._factor, self._chance = life, factor, life._chance
        self._zones: dict[int, float] = {}

    def read(self, zone: int, dose_mj_cm2: float) -> Read:
        """Read a zone that got this true dose; a second look at it scatters by the person alone."""
        reader = self._life.law.reader
        scatter = self._zones.setdefault(zone, math.exp(self._chance.gauss(0, reader.zone)))
        needed = self._life.threshold_mj_cm2 * self._factor * scatter
        edge = self._edge(math.log10(dose_mj_cm2 / needed)) + self._chance.gauss(0, reader.edge)
        step = math.floor(edge)
        half = edge - step >= 0.5
        if self._chance.random() < reader.half_wrong:
            half = not half
        if self._chance.random() < reader.step_wrong:
            step += self._chance.choice((-1, 1))
        if step < 1:
            return Read("all_gone", False)
        return Read("all_held", False) if step >= TABLET_STEPS else Read(step, half and step < TABLET_STEPS - 1)

    def _edge(self, density: float) -> float:
        """The place, counted in steps, whose density leaves just what is needed."""
        errors = self._life._densities
        nominal = 1 + (density - TABLET_FIRST_DENSITY) / TABLET_STEP_DENSITY
        near = min(TABLET_STEPS, max(1, round(nominal)))
        return nominal - errors[near - 1] / TABLET_STEP_DENSITY


def _density(step: int) -> float:
    return TABLET_FIRST_DENSITY + TABLET_STEP_DENSITY * (step - 1)
