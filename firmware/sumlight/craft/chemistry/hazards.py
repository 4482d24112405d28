"""What is refused, not warned about: metals in baths that run away with them, liquids that must not meet, strong stock.

Limits and pairs are common practice unless a source is named. A bath kind is a word; `KINDS` lists them.
"""

from dataclasses import dataclass

from sumlight.craft.bounds import RefusedError, between, one_of

KINDS = ("developer", "stripper", "caustic", "iron", "persulfate", "peroxide", "cupric")
"""Baths of a bench. `stripper` strips resist with lye, `caustic` etches with it, `cupric` is copper chloride on air."""
LIQUIDS = (*KINDS, "acid", "peroxide-stock", "bleach")
"""Baths, and the bottles beside them."""
METALS = ("copper", "brass", "bronze", "nickel-silver", "steel", "stainless", "nickel", "aluminium", "zinc", "tin-lead")

PEROXIDE_STOCK_LIMIT_WT_PERCENT = 12.0
PEROXIDE_BATH_LIMIT_WT_PERCENT = 2.5
ACID_BATH_LIMIT_WT_PERCENT = 12.0
"""Common practice, no source: above them heat and chlorine come faster than a hand can act."""
ROUNDING = 1e-9

CHLORINE = (
    "Chlorine: strong acid with peroxide, and any acid with bleach, give off a poisonous yellow-green gas. Outdoors or "
    "under a hood only. If it smells sharp, leave, and let the air clear."
)
CAUTIONS = {
    "developer": ("Gloves and goggles: soda at this strength burns eyes.", "Used developer holds resist: no drain."),
    "stripper": ("Gloves and goggles: lye burns do not hurt at first.", "Lye into water, never water onto lye."),
    "caustic": (
        "Gloves and goggles: lye burns do not hurt at first.",
        "Lye into water, never water onto lye.",
        "With aluminium it gives off hydrogen: no flame, open air, a vented cap.",
    ),
    "iron": ("Gloves, goggles, and no metal tools.", "It stains skin, steel and stone for good."),
    "persulfate": ("Gloves, goggles, and no metal tools.", "It gasses while it stands: vented cap, never a tight lid."),
    "peroxide": (
        CHLORINE,
        "It gasses while it stands, faster when warm or with metal in it: open tray or vented cap, never a tight lid.",
        "It warms up by itself. Above 35 °C take the panel out and set the tray in cold water.",
        "Gloves, goggles, apron, open air, no metal tools.",
    ),
    "cupric": ("Gloves, goggles, open air, no metal tools: it fumes of acid.", "A vented cap, never a tight lid."),
}
WASTE_WORDS = (
    "Metal-bearing waste never goes into the drain. Your local waste authority decides how it is treated and taken."
)

_CAUSTIC = ("stripper", "caustic")
_NOT_ALUMINIUM = "aluminium in {bath} heats it until it boils over, and gives off hydrogen. Take another metal"
# 690 kJ per mole in iron chloride, sixteen times what copper gives: handbook on etching, p. 42 (craft reference S20).
_METAL_IN_BATH = {
    **{("aluminium", bath): _NOT_ALUMINIUM for bath in ("peroxide", "iron", *_CAUSTIC, "cupric")},
    **{
        (metal, bath): "{metal} dissolves in lye ({bath}) and gives off hydrogen. Use a resist that comes off otherwise"
        for metal in ("zinc", "tin-lead")
        for bath in _CAUSTIC
    },
}
_RUNAWAY = "iron or copper makes peroxide fall apart at once: oxygen, heat and acid spray"
_ACID_LYE = "acid and lye together boil and spit"
_ACID_BLEACH = "any acid with bleach gives off chlorine"
_WITH_ETCHANT = "alkali in an etchant foams, throws out metal sludge and spoils both"
_ACIDIC = ("iron", "persulfate", "peroxide", "cupric")

_PAIRS: dict[frozenset[str], str] = {}
for _one, _other, _why in (
    ("iron", "peroxide", _RUNAWAY),
    ("iron", "peroxide-stock", _RUNAWAY),
    ("cupric", "peroxide-stock", "copper makes peroxide fall apart, and with the acid there it gives off chlorine"),
    ("persulfate", "iron", "persulfate and iron chloride react: heat and gas"),
    ("persulfate", "peroxide", "two oxidants with copper between them fall apart: heat and gas"),
    ("persulfate", "peroxide-stock", "two oxidants together fall apart: heat and gas"),
    ("persulfate", "acid", "hydrochloric acid with persulfate gives off chlorine"),
    (
        "acid",
        "peroxide-stock",
        "strong acid with peroxide gives off chlorine; only the bath's own recipe may join them",
    ),
    *(("acid", lye, _ACID_LYE) for lye in _CAUSTIC),
    ("acid", "developer", "acid and soda foam over"),
    *((sour, "bleach", _ACID_BLEACH) for sour in ("acid", *_ACIDIC)),
    ("peroxide-stock", "bleach", "peroxide and bleach give off oxygen so fast that it bursts a bottle"),
    *((alkali, sour, _WITH_ETCHANT) for alkali in ("developer", *_CAUSTIC) for sour in _ACIDIC),
    *((lye, "peroxide-stock", "lye makes peroxide fall apart: heat and oxygen") for lye in _CAUSTIC),
):
    _PAIRS[frozenset((_one, _other))] = _why


@dataclass(frozen=True)
class Container:
    """What one kind of waste is kept in, and what stands on it."""

    kind: str
    vessel: str
    label: tuple[str, ...]


def refuse_metal(metal: str, bath: str) -> None:
    """Raise RefusedError when this metal must not go into this bath; ValueError for a word that is none."""
    one_of("metal", metal, METALS)
    one_of("bath", bath, KINDS)
    why = _METAL_IN_BATH.get((metal, bath))
    if why is not None:
        raise RefusedError(f"Refused: {why.format(metal=metal, bath=f'the {bath} bath')}.")


def why_apart(one: str, other: str) -> str | None:
    """Why two liquids must not meet; None where nothing is known against it. Raises ValueError for an unknown word."""
    one_of("liquid", one, LIQUIDS)
    one_of("liquid", other, LIQUIDS)
    return _PAIRS.get(frozenset((one, other)))


def refuse_meeting(one: str, other: str) -> None:
    """Raise RefusedError for a pair that must not meet; ValueError for a word that is none."""
    why = why_apart(one, other)
    if why is not None:
        raise RefusedError(f"Refused: {one} and {other} must not meet: {why}.")


def container(kind: str) -> Container:
    """Say what the waste of a bath is kept in, with the label's lines. Raises ValueError for a word that is none."""
    one_of("bath", kind, KINDS)
    label = (f"WASTE: {kind} bath, used", "Vented cap. Never a tight lid.", *CAUTIONS[kind], WASTE_WORDS)
    return Container(kind, "plastic (polyethylene) with a vented cap, no more than three quarters full", label)


def refuse_waste(kind: str, container_kind: str) -> None:
    """Raise RefusedError when a bath is moved to the container of another kind; the reason first if they react."""
    one_of("bath", kind, KINDS)
    one_of("container_kind", container_kind, KINDS)
    refuse_meeting(kind, container_kind)
    if kind != container_kind:
        raise RefusedError(
            f"Refused: the {container_kind} container takes no {kind} bath. Each kind has its own: mixed waste costs "
            "more to take, and nobody knows any more what is in it."
        )


def check_peroxide_stock(wt_percent: float) -> None:
    """Raise RefusedError for hydrogen peroxide too strong to mix from; ValueError for what is no strength."""
    between("peroxide_stock_wt_percent", wt_percent, 0.5, 100)
    if wt_percent > PEROXIDE_STOCK_LIMIT_WT_PERCENT:
        raise RefusedError(
            f"Refused: peroxide of {wt_percent:g} wt% is too strong to mix from; at most "
            f"{PEROXIDE_STOCK_LIMIT_WT_PERCENT:g} wt%. Buy it weaker: do not thin it at home."
        )


def check_peroxide_bath(peroxide_wt_percent: float, acid_wt_percent: float) -> None:
    """Raise RefusedError for a finished peroxide bath beyond its limits; ValueError for what is no strength."""
    between("peroxide_wt_percent", peroxide_wt_percent, 0, 100)
    between("acid_wt_percent", acid_wt_percent, 0, 100)
    told = []
    if peroxide_wt_percent > PEROXIDE_BATH_LIMIT_WT_PERCENT + ROUNDING:
        told.append(f"{peroxide_wt_percent:.2g} wt% peroxide (at most {PEROXIDE_BATH_LIMIT_WT_PERCENT:g})")
    if acid_wt_percent > ACID_BATH_LIMIT_WT_PERCENT + ROUNDING:
        told.append(f"{acid_wt_percent:.3g} wt% hydrochloric acid (at most {ACID_BATH_LIMIT_WT_PERCENT:g})")
    if told:
        raise RefusedError(
            f"Refused: the finished bath would hold {' and '.join(told)}. Add water, or take less of it."
        )
