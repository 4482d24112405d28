"""What is refused, not warned about: metals in baths that run away with them, liquids that must not meet, strong stock.

Limits and pairs are common practice unless a source is named. A bath kind is a word; `KINDS` lists them.
"""

from dataclasses import dataclass

from sumlight.craft.bounds import RefusedError, between, one_of
from sumlight.craft.saying import Said, say

KINDS = ("developer", "stripper", "caustic", "iron", "persulfate", "peroxide", "cupric")
"""Baths of a bench. `stripper` strips resist with lye, `caustic` etches with it, `cupric` is copper chloride on air."""
LIQUIDS = (*KINDS, "acid", "peroxide-stock", "bleach")
"""Baths, and the bottles beside them."""
METALS = ("copper", "brass", "bronze", "nickel-silver", "steel", "stainless", "nickel", "aluminium", "zinc", "tin-lead")
NAMES = {
    "developer": say("developer"),
    "stripper": say("stripper"),
    "caustic": say("caustic bath"),
    "iron": say("iron chloride"),
    "persulfate": say("persulfate"),
    "peroxide": say("peroxide bath"),
    "cupric": say("copper chloride"),
    "acid": say("acid"),
    "peroxide-stock": say("peroxide from the bottle"),
    "bleach": say("bleach"),
    "copper": say("copper"),
    "brass": say("brass"),
    "bronze": say("bronze"),
    "nickel-silver": say("nickel silver"),
    "steel": say("steel"),
    "stainless": say("stainless steel"),
    "nickel": say("nickel"),
    "aluminium": say("aluminium"),
    "zinc": say("zinc"),
    "tin-lead": say("tin-lead"),
}
"""What a word stands for, for people."""

PEROXIDE_STOCK_LIMIT_WT_PERCENT = 12.0
PEROXIDE_BATH_LIMIT_WT_PERCENT = 2.5
ACID_BATH_LIMIT_WT_PERCENT = 12.0
"""Common practice, no source: above them heat and chlorine come faster than a hand can act."""
ROUNDING = 1e-9

CHLORINE = say(
    "Chlorine: strong acid with peroxide, and any acid with bleach, give off a poisonous yellow-green gas. Outdoors or "
    "under a hood only. If it smells sharp, leave, and let the air clear."
)
CAUTIONS = {
    "developer": (
        say("Gloves and goggles: soda at this strength burns eyes."),
        say("Used developer holds resist: no drain."),
    ),
    "stripper": (
        say("Gloves and goggles: lye burns do not hurt at first."),
        say("Lye into water, never water onto lye."),
    ),
    "caustic": (
        say("Gloves and goggles: lye burns do not hurt at first."),
        say("Lye into water, never water onto lye."),
        say("With aluminium it gives off hydrogen: no flame, open air, a vented cap."),
    ),
    "iron": (say("Gloves, goggles, and no metal tools."), say("It stains skin, steel and stone for good.")),
    "persulfate": (
        say("Gloves, goggles, and no metal tools."),
        say("It gasses while it stands: vented cap, never a tight lid."),
    ),
    "peroxide": (
        CHLORINE,
        say(
            "It gasses while it stands, faster when warm or with metal in it: open tray or vented cap, never a tight "
            "lid."
        ),
        say("It warms up by itself. Above 35 °C take the panel out and set the tray in cold water."),
        say("Gloves, goggles, apron, open air, no metal tools."),
    ),
    "cupric": (
        say("Gloves, goggles, open air, no metal tools: it fumes of acid."),
        say("A vented cap, never a tight lid."),
    ),
}
WASTE_WORDS = say(
    "Metal-bearing waste never goes into the drain. Your local waste authority decides how it is treated and taken."
)

_CAUSTIC = ("stripper", "caustic")
_NOT_ALUMINIUM = say("it heats the bath until it boils over, and gives off hydrogen. Take another metal")
# 690 kJ per mole in iron chloride, sixteen times what copper gives: handbook on etching, p. 42 (craft reference S20).
_NOT_IN_LYE = say("it dissolves in lye and gives off hydrogen. Take another bath")
_METAL_IN_BATH = {
    **{("aluminium", bath): _NOT_ALUMINIUM for bath in ("peroxide", "iron", *_CAUSTIC, "cupric")},
    **{(metal, bath): _NOT_IN_LYE for metal in ("zinc", "tin-lead") for bath in _CAUSTIC},
}
_RUNAWAY = say("iron or copper makes peroxide fall apart at once: oxygen, heat and acid spray")
_ACID_LYE = say("acid and lye together boil and spit")
_ACID_BLEACH = say("any acid with bleach gives off chlorine")
_COPPER = say("copper makes peroxide fall apart, and with the acid there it gives off chlorine")
_IRON_PERSULFATE = say("persulfate and iron chloride react: heat and gas")
_OXIDANTS = say("two oxidants together, with copper between them, fall apart: heat and gas")
_ACID_PERSULFATE = say("hydrochloric acid with persulfate gives off chlorine")
_ACID_PEROXIDE = say("strong acid with peroxide gives off chlorine; only the bath's own recipe may join them")
_ACID_SODA = say("acid and soda foam over")
_BURSTS = say("peroxide and bleach give off oxygen so fast that it bursts a bottle")
_WITH_ETCHANT = say("alkali in an etchant foams, throws out metal sludge and spoils both")
_LYE_PEROXIDE = say("lye makes peroxide fall apart: heat and oxygen")
_ACIDIC = ("iron", "persulfate", "peroxide", "cupric")

_PAIRS = {
    frozenset((one, other)): why
    for one, other, why in (
        ("iron", "peroxide", _RUNAWAY),
        ("iron", "peroxide-stock", _RUNAWAY),
        ("cupric", "peroxide-stock", _COPPER),
        ("persulfate", "iron", _IRON_PERSULFATE),
        ("persulfate", "peroxide", _OXIDANTS),
        ("persulfate", "peroxide-stock", _OXIDANTS),
        ("persulfate", "acid", _ACID_PERSULFATE),
        ("acid", "peroxide-stock", _ACID_PEROXIDE),
        *(("acid", lye, _ACID_LYE) for lye in _CAUSTIC),
        ("acid", "developer", _ACID_SODA),
        *((sour, "bleach", _ACID_BLEACH) for sour in ("acid", *_ACIDIC)),
        ("peroxide-stock", "bleach", _BURSTS),
        *((alkali, sour, _WITH_ETCHANT) for alkali in ("developer", *_CAUSTIC) for sour in _ACIDIC),
        *((lye, "peroxide-stock", _LYE_PEROXIDE) for lye in _CAUSTIC),
    )
}
_VESSEL = say("plastic (polyethylene) with a vented cap, no more than three quarters full")


@dataclass(frozen=True)
class Container:
    """What one kind of waste is kept in, and what stands on it."""

    kind: str
    vessel: Said
    label: tuple[Said, ...]


def refuse_metal(metal: str, bath: str) -> None:
    """Raise RefusedError when this metal must not go into this bath; ValueError for a word that is none."""
    one_of("metal", metal, METALS)
    one_of("bath", bath, KINDS)
    why = _METAL_IN_BATH.get((metal, bath))
    if why is not None:
        words = {"metal": NAMES[metal], "bath": NAMES[bath], "why": why}
        raise RefusedError(say("Refused: {metal} does not go into {bath}: {why}.", **words))


def why_apart(one: str, other: str) -> Said | None:
    """Why two liquids must not meet; None where nothing is known against it. Raises ValueError for an unknown word."""
    one_of("liquid", one, LIQUIDS)
    one_of("liquid", other, LIQUIDS)
    return _PAIRS.get(frozenset((one, other)))


def refuse_meeting(one: str, other: str) -> None:
    """Raise RefusedError for a pair that must not meet; ValueError for a word that is none."""
    why = why_apart(one, other)
    if why is not None:
        words = {"one": NAMES[one], "other": NAMES[other], "why": why}
        raise RefusedError(say("Refused: {one} and {other} must not meet: {why}.", **words))


def container(kind: str) -> Container:
    """Say what the waste of a bath is kept in, with the label's lines. Raises ValueError for a word that is none."""
    one_of("bath", kind, KINDS)
    what = say("WASTE: {bath}, used", bath=NAMES[kind])
    return Container(kind, _VESSEL, (what, say("Vented cap. Never a tight lid."), *CAUTIONS[kind], WASTE_WORDS))


def refuse_waste(kind: str, container_kind: str) -> None:
    """Raise RefusedError when a bath is moved to the container of another kind; the reason first if they react."""
    one_of("bath", kind, KINDS)
    one_of("container_kind", container_kind, KINDS)
    refuse_meeting(kind, container_kind)
    if kind != container_kind:
        told = say(
            "Refused: the container for {other} takes nothing else, no {bath}. Each kind has its own: mixed waste "
            "costs more to take, and nobody knows any more what is in it.",
            other=NAMES[container_kind],
            bath=NAMES[kind],
        )
        raise RefusedError(told)


def check_peroxide_stock(wt_percent: float) -> None:
    """Raise RefusedError for hydrogen peroxide too strong to mix from; ValueError for what is no strength."""
    between("peroxide_stock_wt_percent", wt_percent, 0.5, 100)
    if wt_percent > PEROXIDE_STOCK_LIMIT_WT_PERCENT:
        told = say(
            "Refused: peroxide of {wt} wt% is too strong to mix from; at most {limit} wt%. Buy it weaker: do not thin "
            "it at home.",
            wt=f"{wt_percent:g}",
            limit=f"{PEROXIDE_STOCK_LIMIT_WT_PERCENT:g}",
        )
        raise RefusedError(told)


def check_peroxide_bath(peroxide_wt_percent: float, acid_wt_percent: float) -> None:
    """Raise RefusedError for a finished peroxide bath beyond its limits; ValueError for what is no strength."""
    between("peroxide_wt_percent", peroxide_wt_percent, 0, 100)
    between("acid_wt_percent", acid_wt_percent, 0, 100)
    if (
        peroxide_wt_percent > PEROXIDE_BATH_LIMIT_WT_PERCENT + ROUNDING
        or acid_wt_percent > ACID_BATH_LIMIT_WT_PERCENT + ROUNDING
    ):
        told = say(
            "Refused: the finished bath would hold {peroxide} wt% peroxide (at most {peroxide_limit}) and {acid} wt% "
            "hydrochloric acid (at most {acid_limit}). Add water, or take less of it.",
            peroxide=f"{peroxide_wt_percent:.3g}",
            peroxide_limit=f"{PEROXIDE_BATH_LIMIT_WT_PERCENT:g}",
            acid=f"{acid_wt_percent:.4g}",
            acid_limit=f"{ACID_BATH_LIMIT_WT_PERCENT:g}",
        )
        raise RefusedError(told)
