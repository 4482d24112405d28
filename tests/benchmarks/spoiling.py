"""A bench that spoils panels for known reasons: a foreign judge of what is said about them.

`spoiling_nature` spoils them; here a person looks, overlooks, confuses and writes down.
"""

import math
from dataclasses import dataclass
from random import Random

from tests.benchmarks.spoiling_nature import FAULTS, Run, Shown, State, look, run_through, sound


@dataclass(frozen=True)
class Spoilt:
    """A panel as it is brought: what really was behind it, what the eyes of a person saw, and what was written down."""

    causes: frozenset[str]
    signs: frozenset[str]
    known: dict[str, float | str | bool]
    faults: int = 0
    true_signs: frozenset[str] = frozenset()


STATION_OF = {
    **dict.fromkeys(("floats_off", "lifts_in_patches", "nothing_clears", "clears_late", "scum"), 0),
    **dict.fromkeys(("image_thin", "image_wide", "image_blurred", "image_holes", "image_reversed"), 1),
    **dict.fromkeys(("image_wrong_size", "faces_apart"), 1),
    **dict.fromkeys(("lifts_in_etchant", "spots_unetched", "not_through", "stops_under_film", "fizzes"), 2),
    **dict.fromkeys(("middle_slow", "crowded_slow"), 2),
    **dict.fromkeys(("pitted", "specks_left", "part_thin", "edge_ragged", "wall_step", "parts_fell_out"), 3),
    **dict.fromkeys(("brass_dull",), 3),
    **dict.fromkeys(("strips_badly", "stains"), 4),
}
"""What people confuse, they confuse with something that shows at the same moment."""

WRONG = 0.15
"""Share of signs that are missing, taken for another, or put on though there is nothing."""


def _eyes(true: frozenset[str], r: Random) -> frozenset[str]:
    """What a person puts on: each sign goes wrong with `WRONG`, in one of three ways."""
    seen = set()
    for sign in sorted(true):
        kind = r.choice(("missing", "confused", "wrong")) if r.random() < WRONG else "right"
        if kind in ("right", "wrong"):
            seen.add(sign)
        if kind == "confused":
            seen.add(r.choice([name for name in STATION_OF if STATION_OF[name] == STATION_OF[sign] and name != sign]))
        if kind == "wrong":
            seen.add(r.choice(list(STATION_OF)))
    if not true and r.random() < WRONG:
        seen.add(r.choice(list(STATION_OF)))
    return frozenset(seen)


def _written(s: State, run: Run, shown: Shown, r: Random) -> dict[str, float | str | bool]:
    """What the record holds: often nothing, sometimes a number that is wrong."""
    known: dict[str, float | str | bool] = {"dose_share": s.known_dose / 1.93}
    slow = 1 + max(0.0, s.age_months - 8) / 26
    stations = {STATION_OF[sign] for sign in shown.signs}
    reached_etch = not shown.signs & {"floats_off", "nothing_clears"}
    offered: list[tuple[float, str, float | str | bool]] = [
        (0.55, "held_off", round((math.log(s.dose / slow / 1.93) / math.log(2)) * 2 + r.gauss(0, 0.42))),
        (0.8, "rest", "short" if s.rest_min < 13 else "long" if s.rest_min > 12 * 60 else "kept"),
        (0.7, "roll_months", s.age_months),
        (0.4, "contact", "poor" if s.gap_um * math.exp(r.gauss(0, 0.3)) > 44 else "good"),
        (0.3, "faces_off_um", s.shift_um * math.exp(r.gauss(0, 0.15))),
        (0.7, "developer_used", s.soda_used * math.exp(r.gauss(0, 0.15))),
        (0.6, "developer_off_c", s.soda_off_c + r.gauss(0, 0.5)),
        (0.6, "same_place", shown.again),
    ]
    if not math.isinf(run.clear):
        offered += [
            (0.6, "clear_share", run.clear * math.exp(r.gauss(0, 0.1))),
            (0.6, "dwell_share", max(1.0, run.dwell / run.clear * math.exp(r.gauss(0, 0.06)))),
        ]
    if reached_etch and max(stations, default=0) >= 2:
        offered += [
            (0.7, "etch_share", run.etch_time * math.exp(r.gauss(0, 0.05))),
            (0.7, "etchant_used", min(1.0, s.iron_used * math.exp(r.gauss(0, 0.12)))),
            (0.6, "etchant_off_c", s.iron_off_c + r.gauss(0, 1)),
        ]
    if shown.place is not None:
        offered.append((0.7, "place", shown.place))
    for share, name, value in offered:
        if r.random() < share:
            known[name] = _slip(name, value, r)
    return known


def _slip(name: str, value: float | str | bool, r: Random) -> float | str | bool:
    """One entry in twenty-five is wrong."""
    if r.random() >= 0.04:
        return value
    if isinstance(value, bool):
        return not value
    if name == "place":
        return r.choice(("everywhere", "edges", "middle", "patches", "scattered", "one_face"))
    if isinstance(value, str):
        return r.choice(("kept", "short") if name == "rest" else ("good", "poor"))
    if name.endswith(("_off", "_off_c")):
        return -value
    wrong = value * r.uniform(0.5, 2)
    return max(1.0, wrong) if name == "dwell_share" else min(1.0, wrong) if name.endswith("_used") else wrong


def _made(names: tuple[str, ...], seed: int) -> tuple[State, Run, Shown]:
    """The same day with these faults: everything else falls out as it did."""
    s = sound(Random(seed))
    for name in names:
        FAULTS[name][1](s, Random(f"{seed} {name}"))
    run = run_through(s)
    return s, run, look(s, run, Random(seed + 1))


def panel(seed: int) -> Spoilt:
    """One panel: sound (one in eight), with one fault, or with two (one in five).

    A cause is true only if it *acted*: without that fault, on the same day, the panel would have shown other signs.
    What no perfect eye could have seen is drawn again.
    """
    r = Random(seed)
    number = r.choices((0, 1, 2), (0.125, 0.675, 0.2))[0]
    for attempt in range(1000):
        day = seed * 1000 + attempt
        weights = [weight for weight, _ in FAULTS.values()]
        names = tuple(dict.fromkeys(r.choices(list(FAULTS), weights, k=number)))
        s, run, shown = _made(names, day)
        acted = frozenset(
            name
            for name in names
            if _made(tuple(other for other in names if other != name), day)[2].signs != shown.signs
        )
        if len(names) != number or (number and not acted) or (not number and shown.signs):
            continue
        return Spoilt(acted, _eyes(shown.signs, r), _written(s, run, shown, r), number, shown.signs)
    raise RuntimeError(f"no panel of seed {seed} shows anything")


def panels(count: int, seed: int) -> list[Spoilt]:
    """So many panels."""
    return [panel(seed + number) for number in range(count)]
