"""Lives of lamps whose end is known, against what is foretold of them: how often the truth lies in the interval.

The lives are those of `tests.worlds.bank`, which shares nothing with the estimator: five laws of fading, a shop with
seasons, weather and heating, tubes with their own answer to the air. Each is judged twice: with a thermometer's word
for every reading, and without. 'Percent of new' is judged against the true new light, not against what the estimator
takes for it; a jump beside a tube that did go out counts as one that was none.
"""

from dataclasses import dataclass, field, fields
from statistics import median, quantiles
from typing import Literal

from sumlight.light.ageing import LampPoint, in_best_air
from sumlight.light.lampanswer import BankAnswer, BankHistory, answer
from tests.benchmarks.figure import Figure
from tests.worlds.bank import LAWS, TUBES, Law, Life, Look, life

LIVES, QUICK_LIVES = 400, 30
"""Of each law."""
LOW, HIGH = 93.0, 98.0
START = "1500"
SHOWN: Literal["for comparison"] = "for comparison"


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

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(self.right + other.right, self.of + other.of)


@dataclass
class Judged:
    """What was counted of the lives of one law. Widths are half-widths: of percent of new and of the next reading in
    percent, of the hours left over the true ones. `near` holds the lives whose end lies within the rule's reach."""

    end: Tally = field(default_factory=Tally)
    share: Tally = field(default_factory=Tally)
    reading: Tally = field(default_factory=Tally)
    bounded: Tally = field(default_factory=Tally)
    near: Tally = field(default_factory=Tally)
    tubes: Tally = field(default_factory=Tally)
    false: Tally = field(default_factory=Tally)
    share_widths: list[float] = field(default_factory=list)
    reading_widths: list[float] = field(default_factory=list)
    end_widths: list[float] = field(default_factory=list)

    def __add__(self, other: "Judged") -> "Judged":
        return Judged(*(getattr(self, each.name) + getattr(other, each.name) for each in fields(self)))


def measure(quick: bool) -> list[Figure]:
    """Percent of lives in which each stated interval held the truth, by law, with a thermometer and without.

    Nobody knows the law of a bank beforehand: an interval has to hold under each, so *at least* is asked law by law,
    and *not too wide* of all together, with as many lives of each. A quick run has too few lives for either.
    """
    figures = []
    lives = QUICK_LIVES if quick else LIVES
    for air_known in (True, False):
        where = "thermometer" if air_known else "no thermometer"
        found = {law: judged(law, lives, air_known=air_known) for law in LAWS}
        for law, one in found.items():
            for name, tally in _intervals(one):
                figure = f"ageing: {name}, {where}, {law.replace('_', ' ')}, {tally.of} lives"
                figures.append(_held(figure, tally, asked=not quick))
        whole = sum(found.values(), Judged())
        for name, tally in _intervals(whole):
            figures.append(_held(f"ageing: {name}, {where}, all laws", tally, asked=True))
            if not quick:
                name = f"ageing: {name}, {where}, all laws, not too wide"
                figures.append(Figure(name, tally.percent, "%", "at most", HIGH))
        figures += _rest(where, whole)
    return figures


def judged(law: Law, lives: int, *, air_known: bool) -> Judged:
    """So many lives of a law."""
    found = Judged()
    for number in range(lives):
        _judge(found, life(law, f"{START} {number}"), air_known=air_known)
    return found


def history_of(true: Life, *, air_known: bool) -> BankHistory:
    """What the box has of a life: readings, corrected by the thermometer's word where there is one."""
    points = [LampPoint(look.hours, _as_kept(look, air_known=air_known), look.day) for look in true.looks]
    return BankHistory("lower", true.hours, points, tube_count=TUBES, air_known=air_known)


def _as_kept(look: Look, *, air_known: bool) -> float:
    return in_best_air(look.mw_cm2, look.air_c) if air_known else look.mw_cm2


def _judge(found: Judged, true: Life, *, air_known: bool) -> None:
    told = answer(history_of(true, air_known=air_known))
    if told.decay is None or told.share is None:
        raise RuntimeError(f"nothing was said of a life of {true.hours:.0f} h: {told.sentences}")
    out = true.tube_out_h < true.hours
    if out:
        found.tubes.add(any(step.cause == "tube_out" for step in told.steps))
    found.false.add(len(told.steps) > out)
    _, low, high = told.share
    found.share.add(low <= true.share(true.hours) <= high)
    found.share_widths.append(50 * (high - low))
    _judge_end(found, true, told)
    middle, low, high = told.decay.reading(true.next_look.hours, day=true.next_look.day)
    found.reading.add(low <= _as_kept(true.next_look, air_known=air_known) <= high)
    found.reading_widths.append(50 * (high - low) / middle)


def _judge_end(found: Judged, true: Life, told: BankAnswer) -> None:
    """Whether the true end lies between the bounds; a bound that is not told is open beyond the rule's cap."""
    if told.left_h is None or told.cap_left_h is None:
        raise RuntimeError("no end was told")
    left_h = true.hours_at(told.level, true.hours) - true.hours
    _, low, high = told.left_h
    above = left_h >= (low if low is not None else told.cap_left_h) - 1e-6
    found.end.add(above and (high is None or left_h <= high + 1e-6))
    found.bounded.add(high is not None)
    if left_h <= told.cap_left_h:
        found.near.add(high is not None)
    if low is not None and high is not None and left_h > 0:
        found.end_widths.append(50 * (high - low) / left_h)


def _intervals(found: Judged) -> list[tuple[str, Tally]]:
    return [
        ("replacement in its interval", found.end),
        ("percent of new in its interval", found.share),
        ("next reading in its interval", found.reading),
    ]


def _held(name: str, found: Tally, *, asked: bool) -> Figure:
    return Figure(name, found.percent, "%", "at least", LOW) if asked else Figure(name, found.percent, "%", SHOWN)


def _rest(where: str, found: Judged) -> list[Figure]:
    out, sound = found.tubes, found.false
    return [
        Figure(f"ageing: lives with an upper bound, {where}", found.bounded.percent, "%", SHOWN),
        Figure(
            f"ageing: the same of {found.near.of} that end within the rule, {where}", found.near.percent, "%", SHOWN
        ),
        Figure(f"ageing: ± of percent of new, {where}, median", median(found.share_widths), "%", SHOWN),
        Figure(f"ageing: ± of percent of new, {where}, widest twentieth", _late(found.share_widths), "%", SHOWN),
        Figure(f"ageing: ± of the next reading, {where}, median", median(found.reading_widths), "%", SHOWN),
        Figure(f"ageing: ± of the hours left where bounded, {where}, median", median(found.end_widths), "%", SHOWN),
        Figure(f"ageing: tubes gone out that were named, {where}, of {out.of}", out.percent, "%", "at least", 95),
        Figure(f"ageing: lives with a jump that was none, {where}, of {sound.of}", sound.percent, "%", "at most", 2),
    ]


def _late(values: list[float]) -> float:
    """What a twentieth of them exceeds."""
    return quantiles(values, n=20)[-1]
