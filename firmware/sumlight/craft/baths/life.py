"""When a bath is finished, and what a panel's step needs to know of its bath.

An etchant ends when a panel takes twice its time in the fresh bath (trade notes D13), a developer at 1.5 times; by the
bath's own times as soon as there are some, until then by how much of it is used. A stripper ends by area.
"""

from dataclasses import dataclass

from sumlight.craft import developing
from sumlight.craft.baths import contents
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken, Used, share_of
from sumlight.craft.baths.tempo import Forecast
from sumlight.craft.chemistry import hazards
from sumlight.text.message import Message, say

WORN_OUT = 2.0
SOON = 0.8
"""From that share of its life on, the next bath may be prepared."""


@dataclass(frozen=True)
class Within:
    """The bath that a step of a panel goes into, with what is expected there.

    `refused` says why none of the baths in use may take this metal; `several` that a person has to choose.
    """

    bath_id: int | None = None
    kind: str = ""
    forecast: Forecast | None = None
    refused: Message | None = None
    several: bool = False

    @property
    def name(self) -> Message:
        """The bath in words."""
        return name(self.bath_id or 0, self.kind)


def name(bath_id: int, kind: str) -> Message:
    """A bath in words."""
    return say("bath_name", number=bath_id, kind=hazards.NAMES[kind])


def worn(bath: Contents, found: Used, forecast: Forecast | None) -> float:
    """How much of its life is over: 1 is the end."""
    if bath.kind == "stripper":
        return found.share
    if forecast is None:
        return 0.0
    longest = developing.WORN_OUT if bath.kind == "developer" else WORN_OUT
    return max(0.0, (forecast.mid_s / forecast.fresh_s - 1) / (longest - 1))


def verdict(bath: Contents, found: Used, forecast: Forecast | None, like: Taken) -> Message:
    """Say whether it goes on, with a panel `like` that one next, or whether to mix new."""
    own = share_of(bath, like) if contents.capacity_g_per_l(bath, like.metal) is not None else None
    if own is not None and found.share + own >= 1:
        return say("bath_cannot_finish", left=max(0.0, 100 * (1 - found.share)), own=100 * own)
    over = worn(bath, found, forecast)
    if over >= 1:
        if bath.kind == "stripper" or forecast is None:
            return say("bath_new_by_area")
        times = forecast.mid_s / forecast.fresh_s
        return say("bath_new_by_times", times=times) if forecast.timed else say("bath_new_by_sum", times=times)
    return say("bath_soon_new", percent=100 * over) if over >= SOON else say("bath_goes_on", percent=100 * over)


def expectation(forecast: Forecast, kind: str) -> Message:
    """Say what is expected of the next panel, and how sure that is."""
    low_min, high_min = forecast.low_s / 60, forecast.high_s / 60
    if kind == "developer":
        if forecast.timed:
            return say("clear_learned", low=forecast.low_s, high=forecast.high_s, panels=forecast.timed)
        return say("clear_practice", low=forecast.low_s, high=forecast.high_s)
    if forecast.timed:
        return say("etch_learned", low=low_min, high=high_min, panels=forecast.timed)
    return say("etch_practice", low=low_min, high=high_min)


def in_container(litres: float, baths: int, emptied_utc: str | None) -> Message:
    """What a waste container holds since it was emptied; the time is ISO 8601 text."""
    if emptied_utc is None:
        return say("waste_holds", litres=litres, baths=baths) if baths else say("waste_holds_nothing")
    day = emptied_utc[:10]
    return say("waste_holds_since", litres=litres, baths=baths, day=day) if baths else say("waste_emptied", day=day)
