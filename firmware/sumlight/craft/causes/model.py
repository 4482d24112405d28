"""What a line of the table of causes says, and what is usual where nothing is wrong."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

ALWAYS, OFTEN, SOMETIMES, SELDOM = 0.9, 0.6, 0.3, 0.1
"""How likely a cause shows a sign. Four words instead of numbers: nobody has counted defects by cause (craft reference,
'not found'), so finer numbers would only look known."""


@dataclass(frozen=True)
class Cause:
    """A line of the table.

    `weight` is how often it comes against the others before this bench has confirmed any. `shows` is the share of such
    panels that show a sign. `moves` is by how much it shifts a measure, and how much that varies. `tells` is how the
    words of a trait are shared out where it is at work. `looks` are checks that find it. `source` is where the line
    comes from: rows of part E of the craft reference, the trade notes, or common practice.
    """

    name: str
    weight: float
    shows: Mapping[str, float]
    looks: tuple[str, ...]
    source: str
    moves: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    tells: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


@dataclass(frozen=True)
class Measure:
    """A number of the panel: what is usual, how much that scatters, and on which scale shifts add up."""

    usual: float
    scatter: float
    scale: Callable[[float], float] = float


def _ln(share: float) -> float:
    return math.log(max(share, 1e-3))


MEASURES = {
    "dose_share": Measure(0.0, 0.08, _ln),
    "held_off": Measure(0.0, 0.8),
    "roll_months": Measure(4.0, 3.0),
    "faces_off_um": Measure(30.0, 25.0),
    "clear_share": Measure(0.1, 0.2, _ln),
    "dwell_share": Measure(_ln(1 / 0.6), 0.15, _ln),
    "developer_used": Measure(0.35, 0.25),
    "developer_off_c": Measure(0.0, 1.5),
    "etch_share": Measure(0.0, 0.15, _ln),
    "etchant_used": Measure(0.3, 0.2),
    "etchant_off_c": Measure(0.0, 3.0),
}
"""Held step within one step of the optimum, break point at 50 to 65 % of the dwell (trade notes E1); a loaded
developer from 0.8, an etchant from 0.5, an etch time 20 % beyond the expected one are signs (craft reference E); the
rest is common practice, no source. Shares count in natural logarithms."""

TRAITS: Mapping[str, Mapping[str, float]] = {
    "place": {"everywhere": 0.4, "edges": 0.12, "middle": 0.1, "patches": 0.14, "scattered": 0.16, "one_face": 0.08},
    "same_place": {"yes": 0.2, "no": 0.8},
    "rest": {"short": 0.06, "kept": 0.9, "long": 0.04},
    "contact": {"poor": 0.1, "good": 0.9},
}
"""Words of a trait and how often each comes where no cause has a hand in it (common practice, no source)."""


@dataclass(frozen=True)
class Look:
    """A check: how long it takes, and which causes it finds."""

    minutes: float
    finds: frozenset[str]
