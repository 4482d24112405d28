"""How long to etch. A sum to plan by: a sheet etched through is seen, never timed.

Rate r0 of the fresh bath falls in proportion to its load L, the share of capacity that is used: r = r0·(1 - L), and the
panel itself loads the bath. With a = A·rho/(V·C), share for each micrometre of depth over the opened area A (all faces,
as etched): t = -ln(1 - a·d/(1 - L0))/(a·r0). Rates double each 10 °C (trade notes D12). Depth in µm, times in s.
"""

import math
from dataclasses import dataclass

from sumlight.craft.checks import above, between
from sumlight.craft.etching.compensation import OVER_ETCH
from sumlight.craft.etching.factor import SHEET_UM
from sumlight.text.message import Message, say

BATH_C = (0.0, 80.0)
SLOWEST_UM_MIN = 0.01
FASTEST_UM_MIN, LARGEST_CM2, LARGEST_L, LARGEST_G_PER_L = 500.0, 1e6, 200.0, 1000.0
"""Bounds of a rate, an opened area, a bath's volume and what it can dissolve: slips of the pen lie beyond."""
DOUBLING_C = 10.0
HALF_ETCH_TOLERANCE_UM = 25.0
"""Maker's specification, ± 0.001 in (craft reference S30)."""
WEAK_SHARE = 0.35
"""Half-etched metal thinner than that share of the sheet bends (common practice, no source)."""
LOOK_EVERY = 0.1


class NeverFinishesError(ValueError):
    """The bath is used up before the panel is through: no time helps."""


@dataclass(frozen=True)
class BreakThrough:
    """When two fronts meet, and how far from the front side."""

    time_s: float
    plane_um: float


@dataclass(frozen=True)
class HalfEtch:
    """What a half-etched place loses while the rest is etched through."""

    depth_um: float
    left_um: float
    tolerance_um: float
    sentence: Message


def rate_at(rate_um_min: float, known_at_c: float, bath_c: float) -> float:
    """Carry a rate to another temperature, double each 10 °C. Raises ValueError outside 0 to 80 °C."""
    above("rate_um_min", rate_um_min, 0, FASTEST_UM_MIN)
    hint = say("hint_no_bath_there")
    warmer = between("bath_c", bath_c, *BATH_C, hint) - between("known_at_c", known_at_c, *BATH_C, hint)
    return float(rate_um_min * 2 ** (warmer / DOUBLING_C))


def break_through(thickness_um: float, front_um_min: float, back_um_min: float = 0.0) -> BreakThrough:
    """When a sheet is first through, each side at its own rate (0: covered). Raises ValueError for what cannot be."""
    above("thickness_um", thickness_um, 0, 3000)
    above("front_um_min", front_um_min, 0, FASTEST_UM_MIN)
    both = front_um_min + between("back_um_min", back_um_min, 0, FASTEST_UM_MIN)
    return BreakThrough(60 * thickness_um / both, thickness_um * front_um_min / both)


def share_per_um(open_cm2: float, density_g_cm3: float, volume_l: float, capacity_g_per_l: float) -> float:
    """Share of a bath's capacity that each micrometre of depth takes, over all opened faces. Raises ValueError."""
    area = between("open_cm2", open_cm2, 0, LARGEST_CM2)
    mass_g_um = area * 1e-4 * above("density_g_cm3", density_g_cm3, 0, 25)
    return mass_g_um / (
        above("volume_l", volume_l, 0, LARGEST_L) * above("capacity_g_per_l", capacity_g_per_l, 0, LARGEST_G_PER_L)
    )


def etch_time_s(depth_um: float, rate_um_min: float, *, share_per_um: float = 0.0, load: float = 0.0) -> float:
    """Seconds to a depth on every open face, in a bath that loads itself.

    `rate_um_min` is the fresh bath's at its temperature, `load` the share used before. Raises NeverFinishesError when
    the bath cannot take the panel (a·d >= 1 - L0), ValueError for what cannot be.
    """
    above("depth_um", depth_um, 0, 5000)
    above("rate_um_min", rate_um_min, 0, FASTEST_UM_MIN)
    left = 1 - between("load", load, 0, 1)
    taken = between("share_per_um", share_per_um, 0, 1e3) * depth_um
    if taken >= left:
        told = say(
            "never_finishes",
            taken=100 * taken,
            left=100 * left,
        )
        raise NeverFinishesError(told)
    fresh_s = 60 * depth_um / rate_um_min
    used = taken / left
    return fresh_s / left * (-math.log1p(-used) / used if used > 1e-9 else 1.0)


def depth_at_um(time_s: float, rate_um_min: float, *, share_per_um: float = 0.0, load: float = 0.0) -> float:
    """Depth reached after a time; the inverse of `etch_time_s`. Raises ValueError for what cannot be."""
    between("time_s", time_s, 0, 1e6)
    above("rate_um_min", rate_um_min, 0, FASTEST_UM_MIN)
    left = 1 - between("load", load, 0, 1)
    between("share_per_um", share_per_um, 0, 1e3)
    fresh_um = rate_um_min * time_s / 60
    eaten = share_per_um * fresh_um
    return left * fresh_um * (-math.expm1(-eaten) / eaten if eaten > 1e-9 else 1.0)


def half_etch(thickness_um: float, *, over_etch: float = OVER_ETCH) -> HalfEtch:
    """Depth of a place that is open on one side only, while the sheet is etched through from both.

    Both run at the same time, so it gets k·T/2: the time through decides it. Raises ValueError for what cannot be.
    """
    between("thickness_um", thickness_um, *SHEET_UM, say("hint_sheet_um"))
    depth = thickness_um / 2 * between("over_etch", over_etch, 1, 3, say("hint_break_through"))
    left = max(0.0, thickness_um - depth)
    tolerance = HALF_ETCH_TOLERANCE_UM
    if left == 0:
        words = say("half_etch_all", all=thickness_um)
    elif left < WEAK_SHARE * thickness_um:
        words = say("half_etch_weak", depth=depth, all=thickness_um, left=left, tolerance=tolerance)
    else:
        words = say("half_etch_left", depth=depth, all=thickness_um, left=left, tolerance=tolerance)
    return HalfEtch(depth, left, tolerance, words)


def looks_s(earliest_s: float, count: int = 5) -> tuple[float, ...]:
    """When to look: first at the lower end of what is expected, then after every tenth of it. Raises ValueError."""
    above("earliest_s", earliest_s, 0, 1e6)
    between("count", count, 1, 50)
    return tuple(earliest_s * (1 + LOOK_EVERY * number) for number in range(count))
