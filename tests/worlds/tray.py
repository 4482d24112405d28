"""A tray of ferric chloride as nature has it: surface and diffusion in series, thickening, air, evaporation.

Nothing here knows how times are forecast. Metal is eaten as fast as iron(III) reaches it and reacts there: both in
series, each with its own activation energy (dissolution and diffusion in water: handbook values, from memory). What
dissolves thickens the solution, which slows diffusion. The tray loses water between sessions and is filled up now and
then; air turns a little iron back. Warmth drifts with the room and with the session. People look late and act late.
"""

import math
import random
from dataclasses import dataclass

GAS_KJ_MOL_K = 0.0083145
SURFACE_KJ_MOL = 47.0
DIFFUSION_KJ_MOL = 19.3
KELVIN = 273.15
ROOM_C = 19.7
METAL_G_MOL = 64.3
METAL_G_UM_CM2 = 8.47e-4
THICKENING = 0.55
ORDER = 0.93
STEP_S = 4.7
TOPPED_UP_BELOW = 0.925


@dataclass(frozen=True)
class Sheet:
    """A panel of sheet metal, open on both sides: what stands on the card, and what is so."""

    thickness_um: float
    told_cm2: float | None
    told_c: float | None
    true_thickness_um: float
    true_cm2: float
    hour: float


@dataclass(frozen=True)
class Eaten:
    """When the first place was through, and when the last."""

    first_s: float
    last_s: float


class Tray:
    """One bath from fresh to worn out, on a bench of its own."""

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng
        self.volume_l = rng.uniform(0.9, 2.6)
        self.wt_percent = rng.uniform(33.0, 42.0)
        self._fresh_mol = self.volume_l * 0.0835 * self.wt_percent * rng.gauss(1, 0.023)
        self._iron_mol = self._fresh_mol
        self._spent_mol = 0.0
        self._water = 1.0
        self._dries_h = rng.uniform(0.0002, 0.0008)
        self._air_h = rng.uniform(0.00002, 0.0001)
        self._diffusion = rng.uniform(0.45, 0.9)
        self._um_min = math.exp(rng.gauss(math.log(5.3), 0.28))
        self._tells_area = rng.random() < 0.77
        self._area = math.exp(rng.gauss(math.log(58.0), 0.33))
        self._drawn = rng.gauss(0.91, 0.035)
        self._measures = rng.uniform(0.83, 1.0)
        self._warm = rng.random() < 0.35
        self._base_c = rng.uniform(34.0, 43.0) if self._warm else rng.gauss(20.7, 1.9)
        self._stock = rng.choice((103.0, 127.0, 152.0, 203.0))
        self._session_c = 0.0
        self._since = 99
        self.hour = 0.0

    def next_sheet(self) -> Sheet:
        """The next panel of this bench; sessions of a few panels lie days apart."""
        rng = self._rng
        self._since += 1
        if self._since >= rng.randint(3, 7):
            self._since = 0
            self._rest(rng.uniform(17.0, 130.0))
            self._session_c = rng.gauss(0, 0.85 if self._warm else 1.45)
        else:
            self._rest(rng.uniform(0.35, 1.1))
        area = self._area * math.exp(rng.gauss(0, 0.22))
        told = round(area * self._drawn * rng.gauss(1, 0.028)) if self._tells_area else None
        reading = round(2 * (self.warmth_c() + rng.gauss(0, 0.33))) / 2
        return Sheet(
            self._stock,
            None if told is None else max(told, 1.0),
            reading if rng.random() < self._measures else None,
            self._stock * rng.gauss(1, 0.013),
            area,
            self.hour,
        )

    def warmth_c(self) -> float:
        """How warm it is now; it creeps up while people work."""
        return self._base_c + self._session_c + 0.17 * self._since

    def eat(self, sheet: Sheet) -> Eaten:
        """Put a sheet in until it is through everywhere."""
        rng = self._rng
        rocked = math.exp(rng.gauss(0, 0.021))
        ahead = 1 - min(max(rng.gauss(0.052, 0.016), 0.012), 0.11)
        warmth, at_s, depth, ran = self.warmth_c(), 0.0, 0.0, 0.0
        half = sheet.true_thickness_um / 2
        while depth < half:
            eaten = self._speed_um_s(warmth) * rocked * STEP_S
            mol = sheet.true_cm2 * eaten * METAL_G_UM_CM2 / METAL_G_MOL * 2
            if self._iron_mol - mol < 0.02 * self._fresh_mol:
                return Eaten(math.inf, math.inf)
            self._iron_mol -= mol
            self._spent_mol += mol
            ran = half - depth if depth + eaten > half else eaten
            at_s += STEP_S * ran / eaten
            depth += eaten
        self.hour += at_s / 3600
        return Eaten(at_s * ahead, at_s)

    def _speed_um_s(self, warmth_c: float) -> float:
        inverse = 1 / (ROOM_C + KELVIN) - 1 / (warmth_c + KELVIN)
        surface = math.exp(SURFACE_KJ_MOL / GAS_KJ_MOL_K * inverse)
        thick = 1 + THICKENING * self._spent_mol / self._fresh_mol
        diffusion = math.exp(DIFFUSION_KJ_MOL / GAS_KJ_MOL_K * inverse) / thick
        together = 1 / ((1 - self._diffusion) / surface + self._diffusion / diffusion)
        strength: float = (self._iron_mol / self._water / self._fresh_mol) ** ORDER
        return self._um_min / 60 * together * strength

    def _rest(self, hours: float) -> None:
        self.hour += hours
        self._water *= math.exp(-self._dries_h * hours)
        if self._water < TOPPED_UP_BELOW:
            self._water = 1.0
        back = min(self._spent_mol, self._air_h * hours * self._fresh_mol)
        self._iron_mol += back
        self._spent_mol -= back


@dataclass(frozen=True)
class Taken:
    """What hands did: the first look, and the tap that said that it is through; `looks` until then."""

    first_look_s: float
    told_s: float
    looks: int


def hands(rng: random.Random, called_s: float, every_s: float, eaten: Eaten) -> Taken:
    """Follow the calls: each look comes 10 to 60 s late, and so does the tap once the last place is seen through."""
    number, first = 0, None
    while True:
        look = called_s + every_s * number + rng.uniform(10, 60)
        first = look if first is None else first
        number += 1
        if look >= eaten.last_s:
            return Taken(first, look + rng.uniform(10, 60), number)
