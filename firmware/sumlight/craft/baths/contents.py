"""What a bath was mixed of, and what that can take: by stoichiometry for etchants, by practice for the others.

A bath that nobody can do the sum for has no capacity: its own times decide alone.
"""

from dataclasses import dataclass

from sumlight.craft.checks import above, between, one_of
from sumlight.craft.chemistry import hazards, loading, mixing, peroxide
from sumlight.craft.chemistry.mixing import Mix
from sumlight.text.message import Message, joined, say

STRIPPER_DM2_PER_L = 50.0
"""Resist stripped by a litre of lye (common practice, no source): it turns slow before."""
SOLUTES = {"developer": "Na2CO3", "stripper": "NaOH", "caustic": "NaOH", "iron": "FeCl3", "cupric": "CuCl2"}
"""What the strength of a bath of one substance counts."""
OXIDISED_BY_AIR = ("cupric",)


@dataclass(frozen=True)
class Contents:
    """A bath as mixed. Strengths are those of the finished bath, None where nobody knows.

    `bottle_percent` is what it was mixed from: stock in wt%, or the dry share of a powder; `acid_bottle_percent` that
    of the acid of a peroxide bath.
    """

    kind: str
    volume_l: float
    wt_percent: float | None = None
    peroxide_wt_percent: float | None = None
    acid_wt_percent: float | None = None
    g_per_l: float | None = None
    bottle_percent: float | None = None
    acid_bottle_percent: float | None = None


def checked(bath: Contents) -> Contents:
    """Give the same back when it may be. Raises RefusedError for what can hurt, ValueError for what cannot be."""
    one_of("kind", bath.kind, hazards.KINDS)
    between("volume_l", bath.volume_l, mixing.SMALLEST_L, mixing.LARGEST_L, say("hint_vessel_holds"))
    if bath.kind == "peroxide":
        if bath.bottle_percent is not None:
            hazards.check_peroxide_stock(bath.bottle_percent)
        for field in ("peroxide_wt_percent", "acid_wt_percent"):
            if getattr(bath, field) is None:
                raise ValueError(say("field_missing", field=field))
        hazards.check_peroxide_bath(bath.peroxide_wt_percent or 0.0, bath.acid_wt_percent or 0.0)
    if bath.wt_percent is not None:
        above("wt_percent", bath.wt_percent, 0, 100)
    if bath.g_per_l is not None:
        between("g_per_l", bath.g_per_l, *mixing.PERSULFATE_G_PER_L, say("hint_persulfate"))
    return bath


def contents_of(mix: Mix) -> Contents:
    """What a worked out mix is, once it is mixed."""
    kind = mix.bath.partition("-")[0]
    if kind == "peroxide":
        return Contents(
            kind, mix.volume_l, peroxide_wt_percent=mix.wt_percent["H2O2"], acid_wt_percent=mix.wt_percent["HCl"]
        )
    if kind == "persulfate":
        return Contents(kind, mix.volume_l, g_per_l=mix.portions[0].mass_g / mix.volume_l)
    return Contents(kind, mix.volume_l, wt_percent=next(iter(mix.wt_percent.values())))


def capacity_g_per_l(bath: Contents, metal: str) -> float | None:
    """Grams of metal that a litre of the fresh etchant can dissolve by stoichiometry; None where nobody knows."""
    try:
        if bath.kind == "iron" and bath.wt_percent is not None:
            return loading.capacity_iron_g_per_l(bath.wt_percent, metal)
        if bath.kind == "peroxide" and bath.peroxide_wt_percent is not None and bath.acid_wt_percent is not None:
            return loading.capacity_peroxide_g_per_l(
                bath.peroxide_wt_percent, bath.acid_wt_percent, peroxide.BATH_G_CM3, metal
            )
        if bath.kind == "persulfate" and bath.g_per_l is not None and metal == "copper":
            return loading.capacity_persulfate_g_per_l(bath.g_per_l)
    except ValueError:  # a metal or a strength outside the tables
        return None
    return None


def source(bath: Contents) -> Message:
    """What the share used is a share of, and who says so."""
    if bath.kind == "developer":
        return say("share_of_chart")
    if bath.kind == "stripper":
        return say("share_of_practice", dm2=STRIPPER_DM2_PER_L)
    if bath.kind in OXIDISED_BY_AIR:
        return say("share_air")
    return say("share_of_sum") if capacity_g_per_l(bath, "copper") is not None else say("share_unknown")


def told(bath: Contents) -> Message:
    """Say what it was mixed of."""
    strength = None
    if bath.kind == "peroxide":
        strength = say("made_peroxide", peroxide=bath.peroxide_wt_percent or 0, acid=bath.acid_wt_percent or 0)
    elif bath.g_per_l is not None:
        strength = say("made_g_per_l", grams=bath.g_per_l)
    elif bath.wt_percent is not None:
        strength = say("made_wt", wt=bath.wt_percent)
    bottle = None
    if bath.bottle_percent is not None and bath.acid_bottle_percent is not None:
        bottle = say("made_from_two", percent=bath.bottle_percent, acid=bath.acid_bottle_percent)
    elif bath.bottle_percent is not None:
        bottle = say("made_from", percent=bath.bottle_percent)
    return joined(say("made_volume", litres=bath.volume_l), strength, bottle)
