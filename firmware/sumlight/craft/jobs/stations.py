"""Which step of a panel goes into which kind of bath, and what it takes there."""

from sumlight.craft.baths.load import USUAL_FILM_UM, Taken
from sumlight.craft.etching import compensation
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import etched_sides

SHORTEST_S = 2.0
"""Shorter, and a tap was a slip."""
STATIONS = {"developer": "develop", "stripper": "strip", **dict.fromkeys(ETCHANTS, "etch")}
USUAL = {
    "developer": Taken(depth_um=USUAL_FILM_UM),
    "stripper": Taken(),
    **{kind: Taken("copper" if kind != "caustic" else "", None, 35.0) for kind in ETCHANTS},
}
"""A panel as it is likely until one has been in the bath: a board of usual copper (common practice, no source)."""


def of(kind: str) -> str:
    """The kind of step that goes into a kind of bath."""
    return STATIONS[kind]


def fits(step_kind: str, bath_kind: str, etchant: str | None) -> bool:
    """Whether a step goes into this kind; of etchants only into the one that its job names, if it names one."""
    return STATIONS[bath_kind] == step_kind and (step_kind != "etch" or etchant in (None, bath_kind))


def depth_um(numbers: PanelNumbers) -> float:
    """How deep each open face is etched until the metal is through."""
    sides = etched_sides(numbers.plan)
    return compensation.growth(numbers.thickness_um, 1.0, sides=sides, over_etch=1.0).reach_um


def taken(bath_kind: str, numbers: PanelNumbers) -> Taken:
    """What a panel of a job takes in a kind of bath: film where it was not lit, metal under that."""
    match STATIONS[bath_kind]:
        case "develop":
            return Taken("", numbers.open_cm2, numbers.film_um or USUAL_FILM_UM)
        case "strip":
            return Taken()
    return Taken(numbers.metal, numbers.open_cm2, depth_um(numbers))
