"""What this bench's compared scans say about film, light and bath, and what to draw next. A proposal, never more.

An edge of an opening moves outward by the film's bias f, the light's bias l, and by what the bath eats, surface or
waist: u = k·T/(2F), w = sqrt(k² - 1)·T/(2F) (`compensation`). Each comparison tells one sum of these, with an error.
Beliefs before it are Gaussian in f, l, ln F and ln k. For a given F and k all is linear in f and l, which are then
updated exactly (conjugate Gaussians); F and k are summed up over a grid. Lengths in µm.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from sumlight.craft.checks import above, between, number, one_of
from sumlight.craft.etching.compensation import WANTED_AT
from sumlight.craft.etching.factor import HIGH, LOW, SHEET_UM
from sumlight.text.message import Message, say

WHAT = ("film", "resist", "panel", "waist", "surface")
"""What was compared: film with artwork, developed panel with film (`resist`) or with the artwork as drawn (`panel`),
and the part with the artwork as drawn, at its smallest openings (lit from behind) or at its surface."""
TAIL = 1.6448536269514722
"""Standard deviations from the middle to the 5th or 95th per cent of a Gaussian."""
FACTOR_BAND, OVER_ETCH_BAND = (1.0, 2.0), (1.03, 1.4)
"""5th and 95th per cent before anything was compared (common practice for trays, no source)."""
FILM_SD_UM, LIGHT_SD_UM = 20.0, 10.0
"""About 0, before anything was compared (common practice, no source)."""
COMPARED_SD_UM, PANEL_SD_UM = 3.0, 5.0
"""Error of a comparison (the benchmark's goal), and scatter from one panel to the next (common practice, no source)."""
STEPS, WIDE = 61, 4.0
"""Points of the grid along each way, over so many standard deviations to both sides."""


@dataclass(frozen=True)
class Seen:
    """One comparison: how much further into the metal openings reach at each edge, and its standard deviation."""

    what: str
    growth_um: float
    thickness_um: float = 0.0
    sd_um: float = math.hypot(COMPARED_SD_UM, PANEL_SD_UM)

    def __post_init__(self) -> None:
        """Raise ValueError for an unknown `what`, a length that is none, or a part without thickness."""
        one_of("what", self.what, WHAT)
        between("growth_um", self.growth_um, -2000, 2000)
        above("sd_um", self.sd_um, 0, 1000)
        if self.what in WANTED_AT:
            between("thickness_um", self.thickness_um, *SHEET_UM)


@dataclass(frozen=True)
class Belief:
    """A middle with its 5th and 95th per cent."""

    middle: float
    low: float
    high: float


@dataclass(frozen=True)
class Learned:
    """What is believed after the comparisons, and by how much openings are to be drawn smaller at each edge next time.

    `draw_um` is the sum of film, light and bath for the outline and thickness asked for; `count` the comparisons.
    """

    film_um: Belief
    light_um: Belief
    factor: Belief
    over_etch: Belief
    draw_um: Belief
    count: int


@dataclass(frozen=True)
class _Point:
    """One factor and over-etch of the grid: its weight, and film and light given it (means, variances, covariance)."""

    weight: float
    factor: float
    over_etch: float
    film: float
    light: float
    film_var: float
    light_var: float
    both_var: float


def learn(seen: Sequence[Seen], *, thickness_um: float, wanted_at: str = "waist") -> Learned:
    """Learn from comparisons, in any order. Raises ValueError for a thickness or an outline that is none."""
    between("thickness_um", thickness_um, *SHEET_UM)
    one_of("wanted_at", wanted_at, WANTED_AT)
    points = list(_points(_pooled(seen)))
    most = max(point.weight for point in points)
    weights = [math.exp(point.weight - most) for point in points]
    total = sum(weights)
    shares = [weight / total for weight in weights]
    draw = [
        point.film + point.light + bath_um(wanted_at, point.factor, point.over_etch, thickness_um) for point in points
    ]
    draw_var = [point.film_var + point.light_var + 2 * point.both_var for point in points]
    zero = [0.0] * len(points)
    return Learned(
        _belief(shares, [one.film for one in points], [one.film_var for one in points]),
        _belief(shares, [one.light for one in points], [one.light_var for one in points]),
        _exp(_belief(shares, [math.log(one.factor) for one in points], zero)),
        _exp(_belief(shares, [math.log(one.over_etch) for one in points], zero)),
        _belief(shares, draw, draw_var),
        len(seen),
    )


@dataclass(frozen=True)
class Proposal:
    """What to give a compensation so that it draws what was learned; film and light, and what factor and k leave, are
    the bias."""

    factor: float
    over_etch: float
    bias_um: float


def proposal(done: Learned, thickness_um: float, wanted_at: str) -> Proposal:
    """What to use next for a sheet open on both sides. Raises ValueError for a thickness that is no number."""
    factor, over_etch = round(done.factor.middle, 3), round(done.over_etch.middle, 3)
    return Proposal(
        factor, over_etch, round(done.draw_um.middle - bath_um(wanted_at, factor, over_etch, thickness_um), 1)
    )


def next_use(done: Learned, thickness_um: float, wanted_at: str) -> Message:
    """What the next compensation would use, and how far the bath then reaches and undercuts. Raises as `proposal`."""
    use = proposal(done, thickness_um, wanted_at)
    return say(
        "art_next_use",
        factor=use.factor,
        k=use.over_etch,
        bias=use.bias_um,
        reach=use.over_etch * thickness_um / 2,
        undercut=bath_um("surface", use.factor, use.over_etch, thickness_um),
    )


def sentences(done: Learned, thickness_um: float, wanted_at: str) -> list[Message]:
    """What is believed now, and what to draw next."""
    ratios = {"factor": done.factor, "k": done.over_etch}
    lengths = {"film": done.film_um, "light": done.light_um}
    told = {key: say("art_belief", middle=one.middle, low=one.low, high=one.high) for key, one in ratios.items()}
    told |= {key: say("art_belief_um", middle=one.middle, low=one.low, high=one.high) for key, one in lengths.items()}
    draw = done.draw_um
    return [
        say(
            "art_learned",
            count=done.count,
            factor=told["factor"],
            k=told["k"],
            film=told["film"],
            light=told["light"],
        ),
        say(
            "art_propose",
            thickness=thickness_um,
            at=say("at_surface") if wanted_at == "surface" else say("at_waist"),
            middle=draw.middle,
            low=draw.low,
            high=draw.high,
        ),
    ]


def _pooled(seen: Sequence[Seen]) -> list[Seen]:
    """Comparisons of one kind as their mean, which says as much (a sufficient statistic)."""
    kinds: dict[tuple[str, float, float], list[float]] = {}
    for one in seen:
        kinds.setdefault((one.what, one.thickness_um, one.sd_um), []).append(one.growth_um)
    return [
        Seen(what, sum(values) / len(values), thickness_um, sd_um / math.sqrt(len(values)))
        for (what, thickness_um, sd_um), values in kinds.items()
    ]


def bath_um(at: str, factor: float, over_etch: float, thickness_um: float) -> float:
    """How far the bath moves an edge of a sheet open on both sides: u or w, see above."""
    half = number("thickness_um", thickness_um) / 2
    return half / factor * (over_etch if at == "surface" else math.sqrt(max(0.0, over_etch**2 - 1)))


def _points(seen: Sequence[Seen]) -> Iterator[_Point]:
    steps = [WIDE * (2 * i / (STEPS - 1) - 1) for i in range(STEPS)]
    for (step_f, factor), (step_k, over_etch) in product(_grid(FACTOR_BAND, steps), _grid(OVER_ETCH_BAND, steps)):
        if LOW <= factor <= HIGH and over_etch > 1:
            yield _given(factor, over_etch, -(step_f**2 + step_k**2) / 2, seen)


def _grid(band: tuple[float, float], steps: Sequence[float]) -> list[tuple[float, float]]:
    low, high = map(math.log, band)
    middle, sd = (low + high) / 2, (high - low) / (2 * TAIL)
    return [(step, math.exp(middle + step * sd)) for step in steps]


def _given(factor: float, over_etch: float, weight: float, seen: Sequence[Seen]) -> _Point:
    """Film and light given factor and over-etch, one comparison after the other (Kalman's update), and its weight."""
    film = light = both = 0.0
    film_var, light_var = FILM_SD_UM**2, LIGHT_SD_UM**2
    for one in seen:
        of_film = 0.0 if one.what == "resist" else 1.0
        of_light = 0.0 if one.what == "film" else 1.0
        eaten = bath_um(one.what, factor, over_etch, one.thickness_um) if one.thickness_um else 0.0
        to_film, to_light = of_film * film_var + of_light * both, of_film * both + of_light * light_var
        variance = of_film * to_film + of_light * to_light + one.sd_um**2
        off = one.growth_um - eaten - of_film * film - of_light * light
        weight -= (off**2 / variance + math.log(variance)) / 2
        film, light = film + to_film / variance * off, light + to_light / variance * off
        film_var, light_var = film_var - to_film**2 / variance, light_var - to_light**2 / variance
        both -= to_film * to_light / variance
    return _Point(weight, factor, over_etch, film, light, film_var, light_var, both)


def _belief(shares: Sequence[float], means: Sequence[float], variances: Sequence[float]) -> Belief:
    """Middle and band of a mixture, by its mean and variance."""
    mean = sum(share * one for share, one in zip(shares, means, strict=True))
    spread = sum(
        share * (variance + (one - mean) ** 2) for share, one, variance in zip(shares, means, variances, strict=True)
    )
    sd = math.sqrt(max(0.0, spread))
    return Belief(mean, mean - TAIL * sd, mean + TAIL * sd)


def _exp(belief: Belief) -> Belief:
    return Belief(math.exp(belief.middle), math.exp(belief.low), math.exp(belief.high))
