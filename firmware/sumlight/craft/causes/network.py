"""A small Bayesian network: causes, each there or not, and what is seen and known given those that are there.

At most two causes are at work at once, so that all sets of them can be gone through. A sign shows if any cause shows
it, or without one (noisy-or with a leak); a person may then overlook it, or put on one that is not there. Shifts of a
measure add up; a trait is told by one of the causes that have a hand in it. All of it is weighed exactly.
"""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from sumlight.craft.causes.facts import Facts
from sumlight.craft.causes.model import MEASURES, TRAITS, Measure
from sumlight.craft.causes.signs import CAUSES, SIGNS, STATIONS
from sumlight.craft.causes.table import TABLE

AT_WORK = (0.2, 0.6, 0.2)
"""How often no cause, one, or two are at work on a panel that somebody asks about (common practice, no source)."""
LEAK = 0.003
"""How often a sign shows without any cause of the table."""
OVERLOOKED, STRAY = 0.1, 0.2 / len(SIGNS)
"""How often a person overlooks a sign or takes it for another, and how often one is put on that does not show: one
panel in five has such a one (common practice, no source)."""
SLIP, SLIP_TIMES = 0.08, 5.0
"""How often a number on record is wrong, and how many times wider than usual it then lies."""
TABLE_WORTH = 20.0
"""The table's own weights count as much as so many failures confirmed on this bench."""

Set = tuple[str, ...]
SETS: tuple[Set, ...] = ((), *((name,) for name in CAUSES), *combinations(CAUSES, 2))


def shares(confirmed: Mapping[str, int] | None = None) -> dict[str, float]:
    """How failures are shared out among the causes: the table's weights and what this bench has confirmed.

    A Dirichlet prior worth `TABLE_WORTH` failures, and a count for each cause that somebody has confirmed.
    Raises ValueError for a count below 0.
    """
    counts = {name: (confirmed or {}).get(name, 0) for name in CAUSES}
    if any(count < 0 for count in counts.values()):
        raise ValueError(f"counts of confirmed causes must be at least 0, not {counts}")
    weights = sum(TABLE[name].weight for name in CAUSES)
    whole = TABLE_WORTH + sum(counts.values())
    return {name: (TABLE_WORTH * TABLE[name].weight / weights + counts[name]) / whole for name in CAUSES}


@dataclass(frozen=True)
class Item:
    """One thing that is seen or known: a sign (`there` or not), a measure's number or a trait's word."""

    kind: str
    name: str
    there: bool = True
    value: float = 0.0
    word: str = ""

    def likelihood(self, causes: Set) -> float:
        """How likely this is where just these causes are at work."""
        if self.kind == "sign":
            seen = _seen(self.name, causes)
            return seen if self.there else 1 - seen
        if self.kind == "measure":
            return _density(self.name, self.value, causes)
        return _told(self.name, self.word, causes)


def items_of(signs: Collection[str], facts: Facts) -> tuple[Item, ...]:
    """What can be weighed: every sign up to the last station where one was seen, and every fact that is known.

    Raises ValueError for a sign that is not on the list.
    """
    unknown = sorted(set(signs) - SIGNS.keys())
    if unknown:
        raise ValueError(f"no sign is called {unknown[0]}; there are {', '.join(SIGNS)}")
    last = max((STATIONS.index(SIGNS[name]) for name in signs), default=-1)
    found = [
        Item("sign", name, there=name in signs) for name, station in SIGNS.items() if STATIONS.index(station) <= last
    ]
    for name in MEASURES:
        value = getattr(facts, name)
        if value is not None:
            found.append(Item("measure", name, value=float(value)))
    for name in TRAITS:
        word = getattr(facts, name)
        if word is not None:
            found.append(Item("trait", name, word=word if isinstance(word, str) else "yes" if word else "no"))
    return tuple(found)


class Network:
    """What a panel's signs and facts make of the causes."""

    def __init__(self, items: tuple[Item, ...], prior: Mapping[str, float]) -> None:
        self._items = items
        self._prior = dict(prior)

    @cached_property
    def sets(self) -> dict[Set, float]:
        """Probability of each set of causes; they add up to 1."""
        pairs = 1 - sum(share * share for share in self._prior.values())
        weights = {
            causes: math.log(AT_WORK[len(causes)])
            + sum(math.log(self._prior[name]) for name in causes)
            + (math.log(2 / pairs) if len(causes) == 2 else 0.0)
            + sum(math.log(item.likelihood(causes)) for item in self._items)
            for causes in SETS
        }
        highest = max(weights.values())
        raised = {causes: math.exp(weight - highest) for causes, weight in weights.items()}
        whole = sum(raised.values())
        return {causes: weight / whole for causes, weight in raised.items()}

    @cached_property
    def of_causes(self) -> dict[str, float]:
        """Probability that a cause is at work, alone or beside another; likeliest first."""
        found = dict.fromkeys(CAUSES, 0.0)
        for causes, probability in self.sets.items():
            for name in causes:
                found[name] += probability
        return dict(sorted(found.items(), key=lambda pair: -pair[1]))

    def any_of(self, names: Collection[str]) -> float:
        """Probability that at least one of these is at work."""
        return sum(probability for causes, probability in self.sets.items() if set(causes) & set(names))

    def speaks(self, item: Item, cause: str) -> float:
        """How many times likelier `item` is with this cause alone than with any other, as often as those come."""
        others = {name: share for name, share in self._prior.items() if name != cause}
        usual = sum(share * item.likelihood((name,)) for name, share in others.items()) / sum(others.values())
        return item.likelihood((cause,)) / usual


def _seen(sign: str, causes: Set) -> float:
    """Probability that a person puts the sign on."""
    hidden = 1 - LEAK
    for name in causes:
        hidden *= 1 - TABLE[name].shows.get(sign, 0.0)
    return (1 - hidden) * (1 - OVERLOOKED) + hidden * STRAY


def _density(name: str, value: float, causes: Set) -> float:
    measure: Measure = MEASURES[name]
    moves = [TABLE[cause].moves[name] for cause in causes if name in TABLE[cause].moves]
    middle = measure.usual + sum(shift for shift, _ in moves)
    spread = math.hypot(measure.scatter, *(scatter for _, scatter in moves))
    at = measure.scale(value)
    wide = SLIP_TIMES * measure.scatter
    return (1 - SLIP) * _bell(at, middle, spread) + SLIP * _bell(at, measure.usual, wide) + 1e-12


def _told(name: str, word: str, causes: Set) -> float:
    tables = [TABLE[cause].tells[name] for cause in causes if name in TABLE[cause].tells] or [TRAITS[name]]
    right = sum(table[word] for table in tables) / len(tables)
    return (1 - SLIP) * right + SLIP / len(TRAITS[name])


def _bell(at: float, middle: float, spread: float) -> float:
    return math.exp(-0.5 * ((at - middle) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
