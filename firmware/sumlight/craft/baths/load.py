"""What a bath has taken: each panel by its metal, film or area, and the share of the bath that is used up.

An area that nobody told is not counted as nothing: the share says how many panels it leaves out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sumlight.craft.baths import contents
from sumlight.craft.baths.contents import Contents
from sumlight.craft.chemistry import loading
from sumlight.craft.etching import plan
from sumlight.text.message import Message, say

USUAL_CM2 = 100.0
"""Taken for an opened area that nobody told, over all faces, to order times by load (common practice, no source)."""
USUAL_FILM_UM = 38.0
"""Film of a recipe that does not say its thickness; the developer's chart is for it."""


@dataclass(frozen=True)
class Taken:
    """One panel in a bath. `depth_um` is metal eaten on each open face, or film washed out.

    `took_s` is how long it needed: an etch until it was taken out, a developer until it was clear; None where nobody
    timed it. `every_s` is the time between looks, 0 where nobody was called to look. `age_h` is the bath's own age.
    """

    metal: str = ""
    open_cm2: float | None = None
    depth_um: float | None = None
    took_s: float | None = None
    every_s: float = 0.0
    bath_c: float | None = None
    age_h: float = 0.0


@dataclass(frozen=True)
class Used:
    """Share of a bath that is used up, grams of metal in it, and how many panels neither of them knows."""

    share: float
    metal_g: float
    not_counted: int
    panels: int


def metal_g(one: Taken) -> float | None:
    """Grams of metal of one panel; None while its area or depth is not known."""
    if not one.metal or one.open_cm2 is None or one.depth_um is None:
        return None
    return loading.metal_g(one.open_cm2, one.depth_um, density_g_cm3(one.metal))


def density_g_cm3(metal: str) -> float:
    """Of a metal; that of brass for the copper alloys that no table has."""
    return loading.METALS[metal].density_g_cm3 if metal in loading.METALS else plan.DENSITY_G_CM3


def share_of(bath: Contents, one: Taken) -> float | None:
    """Share of a bath that one panel takes; None where area or capacity are not known."""
    if one.open_cm2 is None:
        return None
    if bath.kind == "developer":
        return loading.developer_load(one.open_cm2 / 100, one.depth_um or USUAL_FILM_UM, bath.volume_l)
    if bath.kind == "stripper":
        return one.open_cm2 / 100 / (bath.volume_l * contents.STRIPPER_DM2_PER_L)
    grams, capacity = metal_g(one), contents.capacity_g_per_l(bath, one.metal)
    return None if grams is None or capacity is None else loading.load_share(grams, bath.volume_l, capacity)


def used(bath: Contents, taken: Iterable[Taken]) -> Used:
    """What all panels together took."""
    shares, grams, unknown, panels = 0.0, 0.0, 0, 0
    for one in taken:
        share = share_of(bath, one)
        shares += share or 0.0
        unknown += share is None
        grams += metal_g(one) or 0.0
        panels += 1
    return Used(shares, grams, unknown, panels)


def sentences(bath: Contents, taken: Sequence[Taken]) -> tuple[Message, ...]:
    """Say what it has taken, of how much, and who says so."""
    found = used(bath, taken)
    words = [say("bath_taken_metal", panels=found.panels, grams=found.metal_g) if found.metal_g else _count(found)]
    if found.panels and found.not_counted < found.panels:
        words.append(say("bath_share", percent=100 * found.share))
    if found.not_counted:
        words.append(say("bath_not_counted", panels=found.not_counted))
    return (*words, contents.source(bath))


def _count(found: Used) -> Message:
    return say("bath_taken", panels=found.panels) if found.panels else say("bath_fresh")
