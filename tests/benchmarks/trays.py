"""Whether a bath's forecasts hold: trays of another law (`worlds.tray`) are etched in by hands that follow the calls.

The estimator's numbers are practice; the two that say how many spreads an interval has were set on other seeds.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import median

from sumlight.craft.baths import tempo
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.craft.baths.tempo import Forecast
from tests.benchmarks.figure import Figure
from tests.worlds import tray as nature

BATHS, QUICK_BATHS = 60, 15
PANELS, LEARNED = 20, 10
SEED = 910_000


@dataclass
class Held:
    """What became of the forecasts: of all panels, and of those after ten in the same bath."""

    held: list[bool] = field(default_factory=list)
    widths: list[float] = field(default_factory=list)
    in_time: list[bool] = field(default_factory=list)
    looks: list[int] = field(default_factory=list)
    early: list[bool] = field(default_factory=list)
    panels: int = 0

    def share(self, of: list[bool]) -> float:
        """Percent of them."""
        return 100 * sum(of) / max(1, len(of))


Ask = Callable[[tempo.Tempo, Contents, Taken], Forecast | None]


def etched(baths: int, seed: int, ask: Ask = tempo.expected) -> Held:
    """So many baths, each until it is worn out or has taken twenty panels."""
    found = Held()
    for number in range(baths):
        rng = random.Random(seed + number)
        _one_bath(nature.Tray(rng), rng, found, ask)
    return found


def _one_bath(tray: nature.Tray, rng: random.Random, found: Held, ask: Ask) -> None:
    bath = Contents("iron", round(tray.volume_l, 1), round(tray.wt_percent))
    known = tempo.fresh(bath)
    for number in range(PANELS):
        sheet = tray.next_sheet()
        card = Taken("brass", sheet.told_cm2, sheet.thickness_um / 2, bath_c=sheet.told_c, age_h=sheet.hour)
        forecast = ask(known, bath, card)
        assert forecast is not None
        if forecast.mid_s >= 2 * forecast.fresh_s:  # 'mix new'
            return
        eaten = tray.eat(sheet)
        every_s = forecast.look_every_s
        did = nature.hands(rng, forecast.call_s, every_s, eaten)
        found.panels += 1
        found.in_time.append(did.first_look_s < eaten.first_s)
        inside = forecast.low_s <= eaten.last_s <= forecast.high_s
        if number >= LEARNED:
            found.held.append(inside)
            found.widths.append(forecast.half_width)
            found.looks.append(did.looks)
        else:
            found.early.append(inside)
        told_s = every_s if did.told_s >= 2 * every_s else 0.0
        known = tempo.learned(
            known, bath, Taken(card.metal, card.open_cm2, card.depth_um, did.told_s, told_s, card.bath_c, card.age_h)
        )


def measure(quick: bool) -> list[Figure]:
    """Percent of intervals that hold, how wide they are, and of first looks in time."""
    found = etched(QUICK_BATHS if quick else BATHS, SEED)
    held, after = found.share(found.held), f"after {LEARNED} panels a bath"
    return [
        Figure(f"job: etch times within, {len(found.held)} {after}", held, "%", "at least", 90),
        Figure("job: the same, and not too wide", held, "%", "at most", 98),
        Figure(f"job: half of the interval, median {after}", 100 * median(found.widths), "%", "at most", 15),
        Figure(
            f"job: first look before the first place is through, {found.panels}",
            found.share(found.in_time),
            "%",
            "at least",
            95,
        ),
        Figure("job: etch times within, of the first ten", found.share(found.early), "%", "for comparison"),
        Figure("job: looks a panel, median after them", median(found.looks), "", "for comparison"),
    ]
