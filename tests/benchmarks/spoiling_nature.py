"""How a simulated bench spoils panels: faults, the laws that carry them on, and what then shows.

Nothing here knows the table of causes: a fault changes the state of a panel or of a bath, the state works on through
light, developer, etchant and stripper by laws of this module's own, and what shows is read off the end. Every number
is invented within what the trade tells, and was chosen before there was a table. Only the names of causes and signs
are those of the program, for they are the language in which both sides answer.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from random import Random


@dataclass
class State:
    """A panel and what it meets, as they really are; the values stand for a bench where nothing is wrong.

    Doses count in thresholds of fresh resist, times in their planned values, strengths in the usual ones.
    """

    dose: float = 1.93
    known_dose: float = 1.93
    leak_density: float = 2.87
    stray: float = 0.0
    gap_um: float = 9.0
    film_voids: float = 0.0
    film_rough_um: float = 6.0
    size_off_percent: float = 0.0
    reversed: bool = False
    shift_um: float = 17.0
    fineness: float = 1.71
    grip: float = 1.0
    bad_area: float = 0.0
    bad_grip: float = 1.0
    bad_is_round: bool = False
    age_months: float = 2.6
    random_voids: float = 0.4
    rest_min: float = 26.0
    soda: float = 1.0
    soda_used: float = 0.27
    soda_off_c: float = 0.0
    patience: float = 1.0
    cover_on: bool = False
    rinse: float = 1.0
    iron_used: float = 0.24
    iron_off_c: float = 0.0
    acid: float = 1.0
    etch_patience: float = 1.0
    stirring: float = 1.0
    back_rate: float = 1.0
    metal: float = 1.0
    lye: float = 1.0


@dataclass(frozen=True)
class Shown:
    """What a perfect eye sees: signs, the place of the worst of them, whether it would come again at the same spot."""

    signs: frozenset[str]
    place: str | None
    again: bool


Fault = Callable[[State, Random], None]


def _under(s: State, r: Random) -> None:
    cut = math.exp(-r.uniform(0.38, 1.45))
    s.dose *= cut
    if r.random() < 0.17:  # light was cut off and nobody went on: the box knows
        s.known_dose *= cut


def _over(s: State, r: Random) -> None:
    s.dose *= math.exp(r.uniform(0.55, 1.6))


def _fog(s: State, r: Random) -> None:
    s.stray = r.uniform(0.33, 1.5)


def _black(s: State, r: Random) -> None:
    s.leak_density = r.uniform(0.25, 0.95)


def _gap(s: State, r: Random) -> None:
    s.gap_um = r.uniform(55, 260)


def _voids(s: State, r: Random) -> None:
    s.film_voids = r.uniform(4, 40)


def _rough(s: State, r: Random) -> None:
    s.film_rough_um = r.uniform(21, 70)


def _size(s: State, r: Random) -> None:
    s.size_off_percent = r.choice((-1, 1)) * r.uniform(0.35, 6.5)


def _reversed(s: State, r: Random) -> None:
    s.reversed = True


def _shift(s: State, r: Random) -> None:
    s.shift_um = r.uniform(75, 420)


def _fine(s: State, r: Random) -> None:
    s.fineness = r.uniform(0.45, 0.93)


def _dirty(s: State, r: Random) -> None:
    s.bad_area, s.bad_grip, s.bad_is_round = r.uniform(0.03, 0.4), r.uniform(0.15, 0.6), True


def _laminated(s: State, r: Random) -> None:
    s.bad_area, s.bad_grip = r.uniform(0.04, 0.55), r.uniform(0.2, 0.65)
    s.random_voids += r.uniform(0, 7)


def _old(s: State, r: Random) -> None:
    s.age_months = r.uniform(11, 34)


def _dust(s: State, r: Random) -> None:
    s.random_voids += r.uniform(5, 34)


def _short(s: State, r: Random) -> None:
    s.rest_min = r.uniform(0.5, 6)


def _long(s: State, r: Random) -> None:
    s.rest_min = r.uniform(13, 70) * 60


def _strong(s: State, r: Random) -> None:
    s.patience = r.uniform(1.75, 3.6)


def _hasty(s: State, r: Random) -> None:
    s.patience = r.uniform(0.6, 0.74)


def _spent(s: State, r: Random) -> None:
    s.soda_used = r.uniform(0.78, 1.25)


def _weak(s: State, r: Random) -> None:
    s.soda = r.uniform(0.22, 0.52)


def _cold(s: State, r: Random) -> None:
    s.soda_off_c = -r.uniform(6, 15)


def _cover(s: State, r: Random) -> None:
    s.cover_on = True


def _rinse(s: State, r: Random) -> None:
    s.rinse = r.uniform(0.1, 0.45)


def _iron_spent(s: State, r: Random) -> None:
    s.iron_used = r.uniform(0.57, 0.88)


def _iron_cold(s: State, r: Random) -> None:
    s.iron_off_c = -r.uniform(8, 21)


def _no_acid(s: State, r: Random) -> None:
    s.acid = r.uniform(0.02, 0.27)


def _iron_hot(s: State, r: Random) -> None:
    s.iron_off_c = r.uniform(11, 27)


def _too_long(s: State, r: Random) -> None:
    s.etch_patience = r.uniform(1.33, 2.3)


def _still(s: State, r: Random) -> None:
    s.stirring = r.uniform(0.3, 0.62)


def _one_face(s: State, r: Random) -> None:
    s.back_rate = r.uniform(0.28, 0.62)


def _thick(s: State, r: Random) -> None:
    s.metal = r.uniform(1.3, 2.1)


def _lye(s: State, r: Random) -> None:
    s.lye = r.uniform(0.15, 0.47)


FAULTS: dict[str, tuple[float, Fault]] = {
    "underexposed": (11, _under),
    "overexposed": (7, _over),
    "fogged": (4, _fog),
    "weak_black": (6, _black),
    "poor_contact": (8, _gap),
    "film_specks": (5, _voids),
    "film_ragged": (3, _rough),
    "film_size": (3, _size),
    "film_reversed": (2, _reversed),
    "films_shifted": (5, _shift),
    "drawn_too_fine": (3, _fine),
    "dirty_metal": (7, _dirty),
    "poor_lamination": (6, _laminated),
    "old_resist": (3, _old),
    "dust_or_bubbles": (5, _dust),
    "rest_short": (3, _short),
    "rest_long": (2, _long),
    "overdeveloped": (6, _strong),
    "underdeveloped": (5, _hasty),
    "developer_spent": (4, _spent),
    "developer_weak": (3, _weak),
    "developer_cold": (3, _cold),
    "cover_left": (2, _cover),
    "poor_rinse": (3, _rinse),
    "etchant_spent": (5, _iron_spent),
    "etchant_cold": (3, _iron_cold),
    "acid_low": (2, _no_acid),
    "etchant_hot": (2, _iron_hot),
    "over_etched": (5, _too_long),
    "uneven_etch": (4, _still),
    "one_face_starved": (3, _one_face),
    "metal_thicker": (2, _thick),
    "stripper_weak": (2, _lye),
}
"""How often a fault comes on this bench, and what it does to the state. One that happens need not show."""


def sound(r: Random) -> State:
    """A bench on an ordinary day: everything a little off."""
    s = State()
    s.dose *= math.exp(r.gauss(0, 0.08))
    s.known_dose *= math.exp(r.gauss(0, 0.015))
    s.gap_um *= math.exp(r.gauss(0, 0.4))
    s.shift_um *= math.exp(r.gauss(0, 0.5))
    s.age_months = abs(r.gauss(2.6, 1.7))
    s.rest_min *= math.exp(r.gauss(0.1, 0.25))
    s.soda *= math.exp(r.gauss(0, 0.06))
    s.soda_used = min(0.48, max(0.0, r.gauss(0.27, 0.17)))
    s.soda_off_c = r.gauss(0, 1.1)
    s.patience *= math.exp(r.gauss(0, 0.09))
    s.iron_used = min(0.45, max(0.0, r.gauss(0.24, 0.12)))
    s.iron_off_c = r.gauss(0, 2.2)
    s.etch_patience *= math.exp(r.gauss(0, 0.06))
    s.metal *= math.exp(r.gauss(0, 0.02))
    s.grip *= math.exp(r.gauss(0, 0.07))
    return s


@dataclass(frozen=True)
class Run:
    """What the laws make of a state."""

    clear: float
    dwell: float
    hardness: float
    residue: float
    growth_um: float
    wear: float
    etch_time: float
    through: float
    undercut: float


def run_through(s: State) -> Run:
    """Light, developer, etchant: one after the other."""
    slow = 1 + max(0.0, s.age_months - 8) / 26  # old resist asks for more light, and clears more slowly
    hardness = math.log(max(0.02, s.dose / slow)) / math.log(1.93)  # 1 as planned, 0 at the threshold, below it none
    leak = s.dose * math.pow(10, -s.leak_density) + s.stray
    dark = 0.13 * max(0.0, s.rest_min / 60 - 9) / 10  # unlit resist hardens slowly while it waits
    cross = leak / 0.55 + dark + 0.4 * (slow - 1)
    rate = s.soda * max(0.05, 1 - 0.74 * s.soda_used) * math.pow(2, s.soda_off_c / 11.5)
    usual = 1 - 0.74 * 0.1
    clear = math.inf if s.cover_on or leak > 0.95 else usual / rate / max(0.12, 1 - 0.72 * min(1.0, cross))
    planned = 1.63  # dwell in times to clear: a person watches the panel, and mistakes scum for cleared
    dwell = min(5.5, planned * s.patience * min(clear, 3.1))
    cleared = 0.0 if math.isinf(clear) else min(1.0, dwell / clear / 1.28)
    residue = max(0.0, 1 - cleared) + 0.55 * max(0.0, 0.62 - s.rinse) + 0.33 * min(1.0, cross) * (cross > 0.28)
    rested = 1 - math.exp(-s.rest_min / 5.2)
    wear = dwell * rate / 1.63 / max(0.05, hardness + 0.15) / max(0.2, s.grip * (0.45 + 0.55 * rested) / slow)
    growth = s.gap_um * 0.52 + 13 * max(0.0, hardness - 1.25) - 12 * max(0.0, 0.72 - hardness) - 7 * max(0, wear - 1.7)
    iron = max(0.05, (1 - s.iron_used) / 0.76) * math.pow(2, s.iron_off_c / 9.4) * (0.1 + 0.9 * min(1.0, s.acid / 0.5))
    mean_rate = iron * (1 + s.back_rate) / 2 * (0.55 + 0.45 * s.stirring)
    needed = s.metal / mean_rate
    etch_time = s.etch_patience * min(needed, 1.0 + 0.75 * max(0.0, needed - 1.0))  # people give up waiting
    through = etch_time / needed
    undercut = through * (1 + 0.03 * max(0.0, s.iron_off_c - 6)) * s.metal
    return Run(clear, dwell, hardness, residue, growth, wear, etch_time, through, undercut)


def look(s: State, run: Run, r: Random) -> Shown:
    """What shows. A panel whose resist came off, or that did not clear, goes no further."""
    found: dict[str, str | None] = {}
    weakest = run.wear / max(0.1, s.bad_grip)
    if run.wear > 4.2:
        found["floats_off"] = "everywhere"
    elif s.bad_area > 0.02 and weakest > 2.1:
        found["lifts_in_patches"] = "patches"
    if run.clear > 4.6:
        found["nothing_clears"] = "everywhere"
    elif run.clear > 1.55:
        found["clears_late"] = "everywhere"
    if "nothing_clears" not in found and run.residue > 0.17:
        found["scum"] = "everywhere" if run.residue > 0.3 else "middle"
    if "floats_off" in found or "nothing_clears" in found:
        return _shown(found, s, r)
    _look_at_image(found, s, run)
    return _shown(_look_at_part(found, s, run, weakest), s, r)


def _look_at_image(found: dict[str, str | None], s: State, run: Run) -> None:
    if run.growth_um < -5.5:
        found["image_thin"] = "everywhere"
    elif run.growth_um > 22:
        found["image_wide"] = "patches" if s.gap_um > 120 else "everywhere"
    if s.gap_um > 95 or run.wear > 2.6 or s.film_rough_um > 30:
        found["image_blurred"] = "everywhere"
    if s.film_voids + s.random_voids > 6:
        found["image_holes"] = "scattered"
    if s.reversed:
        found["image_reversed"] = "everywhere"
    if abs(s.size_off_percent) > 0.3:
        found["image_wrong_size"] = "everywhere"
    if s.shift_um > 68:
        found["faces_apart"] = "everywhere"


def _look_at_part(found: dict[str, str | None], s: State, run: Run, weakest: float) -> dict[str, str | None]:
    heat = 1 + 0.05 * max(0.0, s.iron_off_c)
    if run.wear * heat * run.etch_time > 2.75:
        found["lifts_in_etchant"] = "edges"
    elif s.bad_area > 0.02 and weakest * heat > 1.75 and "lifts_in_patches" not in found:
        found["lifts_in_etchant"] = "patches"
    if run.residue > 0.21 or (s.bad_is_round and s.bad_area > 0.27):
        found["spots_unetched"] = "scattered"
    if run.through < 0.86:
        found["not_through"] = "one_face" if s.back_rate < 0.5 else "everywhere"
    if s.acid < 0.3:
        found["stops_under_film"] = "everywhere"
    if s.iron_off_c > 13:
        found["fizzes"] = None
    if s.stirring < 0.55:
        found["middle_slow"] = "middle"
    if s.stirring < 0.45 or s.iron_used > 0.74:
        found["crowded_slow"] = "patches"
    if s.film_voids + s.random_voids > 9 or (s.bad_area > 0.02 and weakest > 1.6):
        found["pitted"] = "scattered"
    if run.residue > 0.26 or s.film_voids > 14:
        found["specks_left"] = "scattered"
    if run.undercut > 1.27 or run.growth_um < -7.5 or s.fineness < 0.8:
        found["part_thin"] = "everywhere"
    if s.film_rough_um > 24 or run.undercut > 1.75 or "lifts_in_etchant" in found:
        found["edge_ragged"] = "edges"
    if s.shift_um > 82 or s.back_rate < 0.55:
        found["wall_step"] = "everywhere"
    if s.fineness < 0.72 * run.undercut:
        found["parts_fell_out"] = None
    if s.iron_used > 0.71 and run.through > 0.9:
        found["brass_dull"] = "everywhere"
    if s.lye < 0.42 or run.hardness > 2.3:
        found["strips_badly"] = "everywhere"
    if s.lye < 0.3 or s.rinse < 0.22:
        found["stains"] = "patches"
    return found


def _shown(found: dict[str, str | None], s: State, r: Random) -> Shown:
    signs = [name for name, _ in found.items()]
    places = [place for place in found.values() if place is not None]
    again = s.film_voids > 3 or s.film_rough_um > 20 or s.shift_um > 68 or abs(s.size_off_percent) > 0.3 or s.reversed
    place = r.choice(places) if places else None
    return Shown(frozenset(signs), place, again or s.fineness < 1)
