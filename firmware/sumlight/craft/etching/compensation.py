"""Compensation: what to draw so that the part comes out as wanted.

With reach R = k·T/2 from each of two sides (k is over-etch, 1 a bare break-through), factor F, thickness T: the opening
grows by u = R/F at the surface and by w = sqrt(R² - (T/2)²)/F at the waist, where the fronts meet (design §2.5; for F 1
exact, every point of the opening is the centre of a sphere). From one side R = k·T, and the foot takes the waist's
place. The handbook rule drawn = finished - 2·T/(2F) is the case k 1 at the surface. Lengths in µm.
"""

import math
from dataclasses import dataclass

from sumlight.craft.checks import above, between, one_of
from sumlight.craft.etching.factor import SHEET_UM, etch_factor
from sumlight.text.message import Message, say

OVER_ETCH, MOST_OVER_ETCH = 1.2, 3.0
"""Until it is learned, and the most; 1 leaves a razor's edge at the waist (common practice, no source)."""
WANTED_AT = ("surface", "waist")
KINDS = ("opening", "line")
_WORDS = {"opening": say("opening"), "line": say("line"), "surface": say("at_surface"), "waist": say("at_waist")}
SMALLEST_PRINTED_UM = 50.0
"""Two dots of 1200 dpi and what runs (common practice, no source)."""


@dataclass(frozen=True)
class Growth:
    """How far each edge moves into the metal: at the surface, at the waist (or foot), and the cusp between them."""

    reach_um: float
    surface_um: float
    waist_um: float
    cusp_um: float


@dataclass(frozen=True)
class Drawing:
    """What to draw, and what comes out of it at both heights."""

    drawn_um: float
    surface_um: float
    waist_um: float
    growth: Growth
    sentence: Message


def growth(thickness_um: float, factor: float, *, sides: int = 2, over_etch: float = OVER_ETCH) -> Growth:
    """Work out how far edges move for a sheet etched through.

    Raises ValueError for a thickness outside 5 to 3000 µm, sides other than 1 and 2, an over-etch outside 1 to 3;
    MeaningNeededError for a factor outside 0.8 to 6.
    """
    half = _depth_um(thickness_um, sides)
    etch_factor(factor)
    reach = half * between("over_etch", over_etch, 1, MOST_OVER_ETCH, say("hint_break_through"))
    surface, waist = reach / factor, math.sqrt(max(0.0, reach**2 - half**2)) / factor
    return Growth(reach, surface, waist, surface - waist)


def compensate(
    wanted_um: float,
    kind: str,
    thickness_um: float,
    factor: float,
    *,
    sides: int = 2,
    over_etch: float = OVER_ETCH,
    wanted_at: str = "waist",
    smallest_printed_um: float = SMALLEST_PRINTED_UM,
) -> Drawing:
    """Work out what to draw for an `opening` (hole, slot) or a `line` (kept metal) of a wanted width.

    The width has two values: `wanted_at` the `surface` or the `waist`, where an opening is smallest and a line
    widest. Raises ValueError as `growth` does, and for an opening that would have to be drawn too small to print.
    """
    above("wanted_um", wanted_um, 0, 1e7)
    one_of("kind", kind, KINDS)
    one_of("wanted_at", wanted_at, WANTED_AT)
    above("smallest_printed_um", smallest_printed_um, 0, 1e4)
    grown = growth(thickness_um, factor, sides=sides, over_etch=over_etch)
    sign = -1 if kind == "opening" else 1
    drawn = wanted_um + sign * 2 * (grown.surface_um if wanted_at == "surface" else grown.waist_um)
    if drawn < smallest_printed_um:
        least = wanted_um - drawn + smallest_printed_um
        told = say(
            "too_small_to_print",
            wanted=wanted_um,
            drawn=drawn,
            printed=smallest_printed_um,
            least=least,
        )
        raise ValueError(told)
    surface, waist = finished(drawn, kind, grown)
    if kind == "line" and surface <= 0:
        raise ValueError(say("line_eaten_away", wanted=wanted_um))
    words = say(
        "draw_so_wide",
        kind=_WORDS[kind],
        drawn=drawn,
        wanted=wanted_um,
        at=_WORDS[wanted_at],
        surface=grown.surface_um,
        waist=grown.waist_um,
    )
    return Drawing(drawn, surface, waist, grown, words)


def finished(drawn_um: float, kind: str, grown: Growth) -> tuple[float, float]:
    """Width at the surface and at the waist that a drawn width gives; the inverse of `compensate`. 0: it is gone."""
    above("drawn_um", drawn_um, 0, 1e7)
    sign = 1 if one_of("kind", kind, KINDS) == "opening" else -1
    return (
        max(0.0, drawn_um + sign * 2 * grown.surface_um),
        max(0.0, drawn_um + sign * 2 * grown.waist_um),
    )


def _depth_um(thickness_um: float, sides: int) -> float:
    between("thickness_um", thickness_um, *SHEET_UM, say("hint_sheet_um"))
    if sides not in (1, 2):
        raise ValueError(say("sides_one_or_two", sides=sides))
    return thickness_um / sides
