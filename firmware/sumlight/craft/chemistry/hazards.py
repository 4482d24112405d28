"""What is refused, not warned about: metals in baths that run away with them, liquids that must not meet, strong stock.

Limits and pairs are common practice unless a source is named. A bath kind is a word; `KINDS` lists them. The cautions
of every station of the bench stand here.
"""

from dataclasses import dataclass

from sumlight.craft.checks import RefusedError, between, one_of
from sumlight.text.message import Message, say

KINDS = ("developer", "stripper", "caustic", "iron", "persulfate", "peroxide", "cupric")
"""Baths of a bench. `stripper` strips resist with lye, `caustic` etches with it, `cupric` is copper chloride on air."""
LIQUIDS = (*KINDS, "acid", "peroxide-stock", "bleach")
"""Baths, and the bottles beside them."""
METALS = ("copper", "brass", "bronze", "nickel-silver", "steel", "stainless", "nickel", "aluminium", "zinc", "tin-lead")
NAMES = {
    "developer": say("developer"),
    "stripper": say("stripper"),
    "caustic": say("caustic_bath"),
    "iron": say("iron_chloride"),
    "persulfate": say("persulfate"),
    "peroxide": say("peroxide_bath"),
    "cupric": say("copper_chloride"),
    "acid": say("acid"),
    "peroxide-stock": say("peroxide_stock"),
    "bleach": say("bleach"),
    "copper": say("copper"),
    "brass": say("brass"),
    "bronze": say("bronze"),
    "nickel-silver": say("nickel_silver"),
    "steel": say("steel"),
    "stainless": say("stainless_steel"),
    "nickel": say("nickel"),
    "aluminium": say("aluminium"),
    "zinc": say("zinc"),
    "tin-lead": say("tin_lead"),
}
"""What a word stands for, for people."""

PEROXIDE_STOCK_WT_PERCENT = (0.5, 100.0)
"""What bottles can hold at all; what may be mixed from is less."""
PEROXIDE_STOCK_LIMIT_WT_PERCENT = 12.0
PEROXIDE_BATH_LIMIT_WT_PERCENT = 2.5
ACID_BATH_LIMIT_WT_PERCENT = 12.0
"""Common practice, no source: above them heat and chlorine come faster than a hand can act."""
ROUNDING = 1e-9

CHLORINE = say("caution_chlorine")
CUT_EDGES, HOT_ROLLERS, UV_LIGHT = say("caution_cut_edges"), say("caution_hot_rollers"), say("caution_uv_light")
ANY_ETCHANT = (say("caution_etchant"),)
"""Cautions of the stations beside the baths."""
CAUTIONS = {
    "developer": (
        say("caution_soda"),
        say("caution_developer_waste"),
    ),
    "stripper": (
        say("caution_lye"),
        say("caution_lye_into_water"),
    ),
    "caustic": (
        say("caution_lye"),
        say("caution_lye_into_water"),
        say("caution_lye_hydrogen"),
    ),
    "iron": (*ANY_ETCHANT, say("caution_stains")),
    "persulfate": (
        *ANY_ETCHANT,
        say("caution_gasses"),
    ),
    "peroxide": (
        CHLORINE,
        say("caution_gasses_faster"),
        say("caution_warms_up"),
        say("caution_peroxide"),
    ),
    "cupric": (
        say("caution_acid_fumes"),
        say("caution_vented_cap"),
    ),
}
WASTE_WORDS = say("waste_authority")

_CAUSTIC = ("stripper", "caustic")
_NOT_ALUMINIUM = say("aluminium_boils_over")
# 690 kJ per mole in ferric chloride, sixteen times what copper gives: handbook on etching, p. 42 (craft reference S20).
_NOT_IN_LYE = say("dissolves_in_lye")
_METAL_IN_BATH = {
    **{("aluminium", bath): _NOT_ALUMINIUM for bath in ("peroxide", "iron", *_CAUSTIC, "cupric", "persulfate")},
    **{(metal, bath): _NOT_IN_LYE for metal in ("zinc", "tin-lead") for bath in _CAUSTIC},
}
_RUNAWAY = say("iron_and_peroxide")
_ACID_LYE = say("acid_and_lye")
_ACID_BLEACH = say("acid_and_bleach")
_COPPER = say("copper_and_peroxide")
_IRON_PERSULFATE = say("iron_and_persulfate")
_OXIDANTS = say("two_oxidants")
_ACID_PERSULFATE = say("acid_and_persulfate")
_ACID_PEROXIDE = say("acid_and_peroxide")
_ACID_SODA = say("acid_and_soda")
_BURSTS = say("peroxide_and_bleach")
_WITH_ETCHANT = say("alkali_and_etchant")
_ALKALI_PEROXIDE = say("alkali_and_peroxide")
_ACIDIC = ("iron", "persulfate", "peroxide", "cupric")

_PAIRS = {
    frozenset((one, other)): why
    for one, other, why in (
        ("iron", "peroxide", _RUNAWAY),
        ("iron", "peroxide-stock", _RUNAWAY),
        *((used, "peroxide-stock", _COPPER) for used in ("cupric", "peroxide")),
        ("persulfate", "iron", _IRON_PERSULFATE),
        ("persulfate", "peroxide", _OXIDANTS),
        ("persulfate", "peroxide-stock", _OXIDANTS),
        ("persulfate", "acid", _ACID_PERSULFATE),
        ("persulfate", "cupric", _ACID_PERSULFATE),
        *(("acid", peroxide, _ACID_PEROXIDE) for peroxide in ("peroxide-stock", "peroxide")),
        *(("acid", lye, _ACID_LYE) for lye in _CAUSTIC),
        ("acid", "developer", _ACID_SODA),
        *((sour, "bleach", _ACID_BLEACH) for sour in ("acid", *_ACIDIC)),
        ("peroxide-stock", "bleach", _BURSTS),
        *((alkali, sour, _WITH_ETCHANT) for alkali in ("developer", *_CAUSTIC) for sour in _ACIDIC),
        *((alkali, "peroxide-stock", _ALKALI_PEROXIDE) for alkali in ("developer", *_CAUSTIC)),
    )
}
_VESSEL = say("waste_vessel")


@dataclass(frozen=True)
class Container:
    """What one kind of waste is kept in, and what stands on it."""

    kind: str
    vessel: Message
    label: tuple[Message, ...]


def refuse_metal(metal: str, bath: str) -> None:
    """Raise RefusedError when this metal must not go into this bath; ValueError for a word that is none."""
    one_of("metal", metal, METALS)
    one_of("bath", bath, KINDS)
    why = _METAL_IN_BATH.get((metal, bath))
    if why is not None:
        raise RefusedError(say("metal_not_in_bath", metal=NAMES[metal], bath=NAMES[bath], why=why))


def why_apart(one: str, other: str) -> Message | None:
    """Why two liquids must not meet; None where nothing is known against it. Raises ValueError for an unknown word."""
    one_of("liquid", one, LIQUIDS)
    one_of("liquid", other, LIQUIDS)
    return _PAIRS.get(frozenset((one, other)))


def groups_apart() -> list[tuple[tuple[str, ...], tuple[str, ...], Message]]:
    """All pairs that must not meet, put together to be read: any of the first, any of the second, and why."""
    partners: dict[tuple[str, str], tuple[str, ...]] = {}
    reasons = dict.fromkeys(_PAIRS.values())
    for why in reasons:
        for one in LIQUIDS:
            found = tuple(other for other in LIQUIDS if _PAIRS.get(frozenset((one, other))) == why)
            if found:
                partners[why, one] = found
    groups = []
    for why in reasons:
        for others in dict.fromkeys(found for (reason, _one), found in partners.items() if reason == why):
            ones = tuple(one for one in LIQUIDS if partners.get((why, one)) == others)
            if (others, ones, why) not in groups:
                groups.append((ones, others, why))
    return groups


def refuse_meeting(one: str, other: str) -> None:
    """Raise RefusedError for a pair that must not meet; ValueError for a word that is none."""
    why = why_apart(one, other)
    if why is not None:
        raise RefusedError(say("must_not_meet", one=NAMES[one], other=NAMES[other], why=why))


def container(kind: str) -> Container:
    """Say what the waste of a bath is kept in, with the label's lines. Raises ValueError for a word that is none."""
    one_of("bath", kind, KINDS)
    what = say("waste_label", bath=NAMES[kind])
    return Container(kind, _VESSEL, (what, say("waste_label_cap"), *CAUTIONS[kind], WASTE_WORDS))


def refuse_waste(kind: str, container_kind: str) -> None:
    """Raise RefusedError when a bath is moved to the container of another kind; the reason first if they react."""
    one_of("bath", kind, KINDS)
    one_of("container_kind", container_kind, KINDS)
    refuse_meeting(kind, container_kind)
    if kind != container_kind:
        told = say(
            "waste_of_another_kind",
            other=NAMES[container_kind],
            bath=NAMES[kind],
        )
        raise RefusedError(told)


def check_peroxide_stock(wt_percent: float) -> None:
    """Raise RefusedError for hydrogen peroxide too strong to mix from; ValueError for what is no strength."""
    between("peroxide_stock_wt_percent", wt_percent, *PEROXIDE_STOCK_WT_PERCENT)
    if wt_percent > PEROXIDE_STOCK_LIMIT_WT_PERCENT:
        told = say(
            "peroxide_stock_too_strong",
            wt=wt_percent,
            limit=PEROXIDE_STOCK_LIMIT_WT_PERCENT,
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
            "peroxide_bath_too_strong",
            peroxide=peroxide_wt_percent,
            peroxide_limit=PEROXIDE_BATH_LIMIT_WT_PERCENT,
            acid=acid_wt_percent,
            acid_limit=ACID_BATH_LIMIT_WT_PERCENT,
        )
        raise RefusedError(told)
