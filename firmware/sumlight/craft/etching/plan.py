"""An etch before it begins: what is refused, how long it takes, when to look, and what it does to the bath."""

from dataclasses import dataclass

from sumlight.craft.checks import above, one_of
from sumlight.craft.chemistry import hazards, loading, peroxide
from sumlight.craft.etching import compensation, times
from sumlight.text.message import Message, say

ETCHANTS = ("iron", "persulfate", "peroxide", "cupric", "caustic")
SPREAD = 0.2
"""How far off a time may be before a bath's own times are known (common practice, no source)."""
DENSITY_G_CM3 = 8.5
"""Brass; copper alloys lie within 6 % of it."""


@dataclass(frozen=True)
class Charge:
    """A panel in its bath: `open_cm2` opened over all faces, in `volume_l` of bath.

    `capacity_g_per_l` is what the fresh bath can dissolve, None if nobody knows; `peroxide_wt_percent` is what is left
    in a peroxide bath.
    """

    open_cm2: float
    volume_l: float
    capacity_g_per_l: float | None = None
    peroxide_wt_percent: float = peroxide.USUAL_PEROXIDE_WT_PERCENT


@dataclass(frozen=True)
class Plan:
    """What is expected: time, depth on each open side, rate there, share of the bath used after it, and when to look.

    `sentences` say so; `warmth` is what a peroxide bath's heat asks for, None for other baths.
    """

    time_s: float
    depth_um: float
    rate_um_min: float
    load_after: float
    looks_s: tuple[float, ...]
    sentences: tuple[Message, ...]
    warmth: Message | None


def plan(
    metal: str,
    bath: str,
    thickness_um: float,
    rate_um_min: float,
    *,
    sides: int = 2,
    depth_um: float | None = None,
    warmth_c: tuple[float, float] | None = None,
    charge: Charge | None = None,
    load: float = 0.0,
) -> Plan:
    """Plan an etch: refuse first, then work out the time.

    `rate_um_min` is the fresh bath's on each side; `warmth_c` the temperatures at which it was timed and of the bath
    now. Without `depth_um` the sheet goes through. Raises RefusedError for a metal that must not go in or a batch that
    heats a peroxide bath too much, NeverFinishesError for a bath used up, ValueError for what cannot be.
    """
    one_of("bath", bath, ETCHANTS)
    hazards.refuse_metal(metal, bath)
    rate = rate_um_min if warmth_c is None else times.rate_at(rate_um_min, *warmth_c)
    through = compensation.growth(thickness_um, 1.0, sides=sides, over_etch=1.0).reach_um
    depth = through if depth_um is None else above("depth_um", depth_um, 0, 5000)
    if depth > through:
        raise ValueError(say("deeper_than_through", depth=depth, through=through))
    density = loading.METALS[metal].density_g_cm3 if metal in loading.METALS else DENSITY_G_CM3
    share, warmth = 0.0, None
    if charge is not None:
        if charge.capacity_g_per_l is not None:
            share = times.share_per_um(charge.open_cm2, density, charge.volume_l, charge.capacity_g_per_l)
        if bath == "peroxide":
            grams = loading.metal_g(charge.open_cm2, depth, density)
            warmth = peroxide.heat(charge.volume_l, grams, charge.peroxide_wt_percent).sentence
    seconds = times.etch_time_s(depth, rate, share_per_um=share, load=load)
    looks = times.looks_s(seconds * (1 - SPREAD))
    used = load + share * depth
    first, *others = (round(look / 60, 1) for look in looks)
    words = [
        say("etch_about", depth=depth, rate=rate, minutes=seconds / 60),
        say("look_after", first=first, others=others, percent=100 * SPREAD),
    ]
    words += [say("through_is_seen"), say("look_where_last")] if depth == through else []
    words += [say("bath_then_used", percent=100 * used)] if share else []
    return Plan(seconds, depth, rate, used, looks, tuple(words), warmth)
