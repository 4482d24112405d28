"""Whether a sensor sees each tube of its bank: its light with all in, without each in turn, with all again. Pure.

A tube's part is what its absence takes from the light of all of them. The parts of all tubes make the whole, whatever
each of them gives: where they do not, the light has changed by something else, and nothing is claimed.
"""

from dataclasses import dataclass
from math import fsum

from sumlight.box.description import Sight
from sumlight.light.tubesight import tube_shares
from sumlight.text.message import Message, joined, say

LOOK_SHARE = 0.1
"""The last share of each light that is averaged: the tubes warm least then."""

SEEN_SHARE = 0.5
"""A tube counts as seen if it takes at least so much of the part away that a long tube at its place gives: heads and
mirrors are not what is drawn, and tubes differ (judgement)."""

WHOLE = 0.15
"""By how much the parts may miss the whole: six looks, each good to some 3 % (judgement)."""

SAME = 0.25
"""By how much the light with all tubes in may differ, first and last: at first they were cold (judgement)."""


@dataclass(frozen=True)
class Sighted:
    """What came of it: `found` in words, and the `unseen` tubes if it is `proved`."""

    found: Message
    proved: bool
    unseen: tuple[int, ...] = ()


class TubeRounds:
    """One step's looks, counted by `round`: 0 and the last with all tubes in, between them one without each."""

    def __init__(self, bank: str, sight: Sight, lit_s: float, drop_limit: float) -> None:
        self.round = 0
        self._bank = bank
        self._sight = sight
        self._lit_s = lit_s
        self._drop_limit = drop_limit
        self._levels_mw_cm2: list[float] = []
        self._seen_mw_cm2: list[float] = []

    @property
    def out(self) -> int:
        """The place, counted from 1, whose tube is out in this round; 0 for none."""
        return self.round if self.round <= self._sight.tubes else 0

    @property
    def back(self) -> int:
        """The place whose tube was out in the round before; 0 for none."""
        return max(0, self.round - 1)

    def words(self) -> Message:
        """What the person does before this round's light."""
        bank, lit_s = self._bank, self._lit_s
        if self.round == 0:
            return say("all_tubes_in", bank=bank, lit_s=lit_s)
        if self.out == 0:
            return say("last_tube_back", bank=bank, back=self.back, lit_s=lit_s)
        if self.back == 0:
            return say("take_tube_out", bank=bank, out=self.out, lit_s=lit_s)
        return say("tube_back_and_out", bank=bank, back=self.back, out=self.out, lit_s=lit_s)

    def look(self, lit_for_s: float, light_mw_cm2: float | None) -> bool:
        """See the light, `lit_for_s` after it came; whether this round is over."""
        if light_mw_cm2 is not None and lit_for_s >= (1 - LOOK_SHARE) * self._lit_s:
            self._seen_mw_cm2.append(light_mw_cm2)
        if lit_for_s < self._lit_s or not self._seen_mw_cm2:
            return False
        self._levels_mw_cm2.append(fsum(self._seen_mw_cm2) / len(self._seen_mw_cm2))
        self._seen_mw_cm2 = []
        self.round += 1
        return True

    def sighted(self) -> Sighted | None:
        """What the looks say; None while some are missing."""
        sight = self._sight
        if len(self._levels_mw_cm2) < sight.tubes + 2:
            return None
        first, *without, whole = self._levels_mw_cm2  # the first light is the only one without the same rest before
        if min(first, whole) <= 0 or abs(first / whole - 1) > SAME:
            return Sighted(say("tubes_changed", first=first, last=whole), proved=False)
        parts = [1 - level / whole for level in without]
        if abs(fsum(parts) - 1) > WHOLE:
            return Sighted(say("tubes_do_not_add_up", total=fsum(parts), parts=_told(parts)), proved=False)
        shares = tube_shares(sight.tubes, sight.pitch_mm, sight.height_mm, sight.across_mm)
        pairs = list(enumerate(zip(parts, shares, strict=True), start=1))
        unseen = tuple(place for place, (part, share) in pairs if part < SEEN_SHARE * share)
        seen = sight.tubes - len(unseen)
        found = [say("tubes_seen", bank=self._bank, seen=seen, tubes=sight.tubes, parts=_told(parts))]
        if unseen:
            found.append(say("tubes_unseen", unseen=_places(unseen)))
        slight = [place for place, (part, _) in pairs if place not in unseen and part < self._drop_limit]
        if slight:
            found.append(say("tubes_slight", slight=_places(slight), limit=self._drop_limit))
        return Sighted(joined(*found), proved=True, unseen=unseen)


def _told(parts: list[float]) -> list[Message]:
    return [say("tube_part", place=place, part=part) for place, part in enumerate(parts, start=1)]


def _places(places: tuple[int, ...] | list[int]) -> list[str]:
    return [str(place) for place in places]
