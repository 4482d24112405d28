"""Whether a spoilt panel's true cause is named: a bench that spoils by its own laws (`spoiling`) asks the table.

Figures of etch times are those of `trays`.

The table is never tuned to what is drawn here; it stood after the bench did, and the bench has not seen it.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from sumlight.craft.causes.answer import Answer, why
from sumlight.craft.causes.facts import Facts
from sumlight.craft.causes.network import shares
from tests.benchmarks import spoiling, trays
from tests.benchmarks.figure import Figure

PANELS, QUICK_PANELS = 1200, 200
SEED = 20_000
BINS, LEAST = 5, 40
"""Stated probabilities are compared in so many classes; one with fewer statements tells nothing."""

Ask = Callable[[spoiling.Spoilt], Answer]


@dataclass
class Tally:
    """What became of the panels. A cause that acted counts as named only where something is told."""

    acted: int = 0
    named: int = 0
    by_priors: int = 0
    faulty: int = 0
    first: int = 0
    untold: int = 0
    both: int = 0
    two: int = 0
    sound: int = 0
    accused: int = 0
    stated: list[tuple[float, bool]] = field(default_factory=list)

    def add(self, panel: spoiling.Spoilt, answer: Answer, usual: Collection[str]) -> None:
        """One panel and what was said of it; `usual` are the three that come most often anyway."""
        told = [cause.name for cause in answer.causes] if answer.verdict == "told" else []
        self.stated += [(cause.probability, cause.name in panel.causes) for cause in answer.causes]
        if not panel.causes:
            self.sound += 1
            self.accused += bool(told)
            return
        self.faulty += 1
        self.acted += len(panel.causes)
        self.named += len(panel.causes & set(told))
        self.by_priors += len(panel.causes & set(usual))
        self.first += bool(told) and told[0] in panel.causes
        self.untold += not told
        if len(panel.causes) == 2:
            self.two += 1
            self.both += panel.causes <= set(told)

    @property
    def worst_percent(self) -> float:
        """The largest distance between what was stated and how often it was so, in points."""
        found = [0.0]
        for number in range(BINS):
            within = [pair for pair in self.stated if min(BINS - 1, int(pair[0] * BINS)) == number]
            if len(within) >= LEAST:
                found.append(abs(sum(stated for stated, _ in within) - sum(so for _, so in within)) / len(within))
        return 100 * max(found)


def ask(panel: spoiling.Spoilt) -> Answer:
    """The program's answer to what was put on and written down."""
    return why(panel.signs, Facts(**panel.known))  # type: ignore[arg-type]


def judged(count: int, seed: int, asked: Ask = ask) -> Tally:
    """So many panels, from one seed on."""
    tally = Tally()
    common = shares()
    usual = sorted(common, key=lambda name: -common[name])[:3]
    for panel in spoiling.panels(count, seed):
        tally.add(panel, asked(panel), usual)
    return tally


def measure(quick: bool) -> list[Figure]:
    """Percent of causes named, of panels with the right one first, and whether stated probabilities hold."""
    found = judged(QUICK_PANELS if quick else PANELS, SEED)
    named, priors = 100 * found.named / found.acted, 100 * found.by_priors / found.acted
    what = f"job: true cause among the three, {found.acted} on {found.faulty} panels"
    return [
        Figure(what, named, "%", "at least", 85),
        Figure("job: true cause named first", 100 * found.first / found.faulty, "%", "at least", 60),
        Figure("job: not enough to tell, counted as a miss", 100 * found.untold / found.faulty, "%", "at most", 15),
        Figure("job: better than the commonest three causes by", named - priors, "points", "at least", 25),
        Figure("job: stated probabilities off by, at worst", found.worst_percent, "points", "at most", 10),
        Figure(
            f"job: both of two causes named, {found.two} panels", _share(found.both, found.two), "%", "for comparison"
        ),
        Figure(
            f"job: sound panels with causes told, of {found.sound}",
            _share(found.accused, found.sound),
            "%",
            "for comparison",
        ),
        *trays.measure(quick),
    ]


def _share(part: int, whole: int) -> float:
    return 100 * part / max(1, whole)
