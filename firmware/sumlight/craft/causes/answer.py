"""The answer to 'why did it fail?': three causes, what speaks for and against each, a check, what to change next."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from sumlight.craft.causes import words
from sumlight.craft.causes.facts import Facts
from sumlight.craft.causes.looks import LOOKS
from sumlight.craft.causes.network import Item, Network, items_of, shares
from sumlight.text.message import Message, say_named

NAMED = 3
TELLS = 0.5
"""Nothing is told where, if anything went wrong, it is likelier that it was none of the three named than one."""
SOUND = 0.5
"""Beyond that it is likelier that nothing went wrong."""
SPEAKS_TIMES = 1.5
"""What is so many times likelier with a cause than without speaks for it; so many times less likely, against it."""
MOST_REASONS = 4
RIGHT = 0.9
"""How often a check finds a cause that it can find, and finds nothing where there is none (common practice)."""
GOOD_ENOUGH = 0.6
"""The quickest check is named whose worth is at least so much of the best one's."""

Verdict = Literal["told", "not_enough", "sound"]


@dataclass(frozen=True)
class Named:
    """A cause, how likely it is that it was at work, what speaks for and against it, and what to change next."""

    name: str
    probability: float
    title: Message
    speaks_for: tuple[Message, ...]
    speaks_against: tuple[Message, ...]
    change: Message


@dataclass(frozen=True)
class Answer:
    """`verdict` says whether the three named are worth telling. `look` is the check that separates them best for its
    time, None where nothing is to separate."""

    verdict: Verdict
    sentence: Message
    causes: tuple[Named, ...]
    look: Message | None
    look_minutes: float | None
    sound: float


def why(signs: Collection[str], facts: Facts, confirmed: Mapping[str, int] | None = None) -> Answer:
    """Weigh what is seen and known of a panel against the table.

    `confirmed` counts the failures of this bench by the cause that somebody has confirmed. Raises ValueError for a
    sign that is not on the list or a count below 0.
    """
    items = items_of(signs, facts)
    net = Network(items, shares(confirmed))
    names = list(net.of_causes)[:NAMED]
    sound = net.sets[()]
    verdict: Verdict = "told"
    if sound > SOUND and items:
        verdict = "sound"
    elif not items or net.any_of(names) < TELLS * (1 - sound):
        verdict = "not_enough"
    look = _look(net, names) if items else None
    return Answer(
        verdict,
        words.verdict(verdict, bool(signs)),
        tuple(_named(net, items, name, facts) for name in names),
        None if look is None else say_named(f"look_{look}"),
        None if look is None else LOOKS[look].minutes,
        sound,
    )


def _named(net: Network, items: tuple[Item, ...], name: str, facts: Facts) -> Named:
    weighed = sorted(((math.log(net.speaks(item, name)), item) for item in items), key=lambda pair: -abs(pair[0]))
    edge = math.log(SPEAKS_TIMES)
    speaks_for = [words.reason(item) for times, item in weighed if times > edge]
    against = [words.reason(item) for times, item in weighed if times < -edge]
    return Named(
        name,
        net.of_causes[name],
        say_named(f"cause_{name}"),
        tuple(speaks_for[:MOST_REASONS]),
        tuple(against[:MOST_REASONS]),
        words.change(name, facts),
    )


def _look(net: Network, names: list[str]) -> str | None:
    """The quickest check among those that tell nearly as much as the best about which of these it is."""
    whole = sum(net.of_causes[name] for name in names)
    chance = {name: net.of_causes[name] / whole for name in names}
    worth = {look: _worth(chance, LOOKS[look].finds) for look in LOOKS}
    best = max(worth.values())
    if best < 0.01:
        return None
    able = [look for look, value in worth.items() if value >= GOOD_ENOUGH * best]
    return min(able, key=lambda look: (LOOKS[look].minutes, -worth[look]))


def _worth(chance: Mapping[str, float], finds: Collection[str]) -> float:
    """How much a check is expected to tell, in nats: what it says of the causes less what is only chance."""
    yes = sum(share * (RIGHT if name in finds else 1 - RIGHT) for name, share in chance.items())
    return _doubt(yes) - _doubt(RIGHT)


def _doubt(share: float) -> float:
    return -sum(part * math.log(part) for part in (share, 1 - share) if part > 0)
