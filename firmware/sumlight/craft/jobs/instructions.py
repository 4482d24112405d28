"""What a step asks for now: one sentence with this panel's numbers, and the cautions where the danger is.

Temperatures and passes of laminating, and the drying before it, are those of a film's data sheet (trade notes E1); that
the panel cools before it is lit is common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from sumlight.craft import developing
from sumlight.craft.baths.life import Within, expectation
from sumlight.craft.chemistry import hazards
from sumlight.craft.etching import plan as etching
from sumlight.craft.etching import times
from sumlight.craft.jobs.plans import BOARDS, Step, etched_sides
from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import Message, as_written, say

DRY_MIN, DRY_C = (15.0, 20.0), 110.0
ROLLERS_C, PASSES = (110.0, 115.0), 2
SETTLE_S = 900.0


@dataclass(frozen=True)
class PanelNumbers:
    """What is known of a panel: its job and its recipe, and what was timed in its baths.

    `dose_mj_cm2` is None for a recipe that knows only a time. `clear_s` is the developer's time to the break point,
    `rate_um_min` what the etchant eats on each side; None while nobody has timed it. `open_cm2` is opened over all
    faces, as it will be etched; `film_um` and `resist` the film. `break_point_share` is the recipe's, None for the
    usual one. `baths` and `stock` are those chosen where several could do. `recipe_rates_um_min` is what the recipe
    knows of the metal, by kind of bath. `dose_in_box_units`: nothing outside the box has checked what its doses are.
    """

    plan: str
    metal: str
    thickness_um: float
    recipe: str
    dose_mj_cm2: float | None
    hold_s: float
    hold_limit_s: float | None = None
    clear_s: float | None = None
    etchant: str | None = None
    rate_um_min: float | None = None
    open_cm2: float | None = None
    film_um: float | None = None
    baths: tuple[int, ...] = ()
    resist: str = ""
    break_point_share: float | None = None
    stock: tuple[int, ...] = ()
    recipe_rates_um_min: Mapping[str, float] = field(default_factory=dict)
    dose_in_box_units: bool = False


def etch_plan(panel: PanelNumbers) -> etching.Plan | None:
    """Work the etch out; None while etchant or rate are not known.

    Raises checks.RefusedError for a metal that must not go into the bath, ValueError for numbers that cannot be.
    """
    bath = etchant(panel)
    rate = None if bath is None else rate_um_min(panel, bath)
    if bath is None or rate is None:
        return None
    return etching.plan(panel.metal, bath, panel.thickness_um, rate, sides=etched_sides(panel.plan))


def etchant(panel: PanelNumbers) -> str | None:
    """The kind of bath that a panel is etched in: its job's, or the only one that its recipe knows for the metal."""
    known = list(panel.recipe_rates_um_min)
    return panel.etchant or (known[0] if len(known) == 1 else None)


def rate_um_min(panel: PanelNumbers, bath: str) -> float | None:
    """What a fresh bath of a kind eats on each side: as timed for the job, else as the recipe says; None: not known."""
    timed = panel.rate_um_min if panel.etchant == bath else None
    return panel.recipe_rates_um_min.get(bath) if timed is None else timed


def sentence(step: Step, panel: PanelNumbers, within: Within | None = None) -> Message:
    """Say what to do now; a person's own words come first. `within` is the bath that the step goes into."""
    if step.own:
        return as_written(step.own)
    match step.kind:
        case "laminate":
            low, high = ROLLERS_C
            return say("do_laminate", side=step.side, passes=PASSES, low=low, high=high)
        case "dry_bare":
            return say("do_dry_bare", low=DRY_MIN[0], high=DRY_MIN[1], warm=DRY_C)
        case "settle":
            return say("do_settle", minutes=SETTLE_S / 60)
        case "expose":
            return _expose(step, panel)
        case "hold":
            return _hold(panel)
        case "develop":
            return _develop(panel, within)
        case "etch":
            return _etch(panel, within)
        case "look":
            return say("do_look_board") if panel.plan in BOARDS else say("do_look_through")
    return _PLAIN[step.kind]


def more(step: Step, panel: PanelNumbers, within: Within | None = None) -> tuple[Message, ...]:
    """What else is worth knowing at a step, to be read when wanted."""
    which = (say("several_baths"),) if within is not None and within.several else ()
    forecast = None if within is None else within.forecast
    if within is not None and forecast is not None:
        which = (expectation(forecast, within.kind),)
    if step.kind != "etch":
        return which
    found = etch_plan(panel) if forecast is None else None
    through = (say("board_is_seen"),) if panel.plan in BOARDS else (say("through_is_seen"), say("look_where_last"))
    half = (times.half_etch(panel.thickness_um).sentence,) if panel.plan == "half_etched" else ()
    return (*which, *(found.sentences[:1] if found else ()), *through, *half)


def cautions(step: Step, panel: PanelNumbers, within: Within | None = None) -> tuple[Message, ...]:
    """The cautions of a step. Those of baths are the same that the page Baths shows."""
    if within is not None and within.refused is not None:
        return (within.refused,)
    match step.kind:
        case "develop":
            return hazards.CAUTIONS["developer"]
        case "strip":
            return hazards.CAUTIONS["stripper"]
        case "etch":
            bath = within.kind if within is not None and within.kind else etchant(panel)
            return hazards.CAUTIONS[bath] if bath else (*hazards.ANY_ETCHANT, hazards.WASTE_WORDS)
        case "cut" | "part":
            return (hazards.CUT_EDGES,)
        case "dry_bare" | "laminate":
            return (hazards.HOT_ROLLERS,)
        case "expose":
            return (hazards.UV_LIGHT,)
    return ()


def _expose(step: Step, panel: PanelNumbers) -> Message:
    if panel.dose_mj_cm2 is None:
        both = say("do_expose_both_draft", recipe=panel.recipe)
        return both if step.side == "A+B" else say("do_expose_draft", side=step.side, recipe=panel.recipe)
    dose, unit = panel.dose_mj_cm2, unit_of_dose(relative=panel.dose_in_box_units)
    if step.side == "A+B":
        return say("do_expose_both", recipe=panel.recipe, dose_mj_cm2=dose, unit=unit)
    return say("do_expose", side=step.side, recipe=panel.recipe, dose_mj_cm2=dose, unit=unit)


def _hold(panel: PanelNumbers) -> Message:
    minutes = panel.hold_s / 60
    if panel.hold_limit_s is None:
        return say("do_hold", minutes=minutes)
    return say("do_hold_within", minutes=minutes, hours=panel.hold_limit_s / 3600)


def clear_s(panel: PanelNumbers, within: Within | None) -> float | None:
    """When it is likely to be clear: as its bath has learned, else as timed on a strip; None while nobody knows."""
    if within is not None and within.forecast is not None and within.forecast.timed:
        return within.forecast.mid_s
    return panel.clear_s


def break_point_share(panel: PanelNumbers) -> float:
    """Where the break point of a panel is to lie, as a share of its dwell."""
    return panel.break_point_share or developing.BEST


def _develop(panel: PanelNumbers, within: Within | None) -> Message:
    expected_s, share = clear_s(panel, within), break_point_share(panel)
    if expected_s is None:
        told = say("do_develop_unknown", share=share)
    else:
        found = developing.dwell(expected_s, share)
        whole = say("dwell_in_all", dwell=found.dwell_s, shortest=found.shortest_s, longest=found.longest_s)
        told = say("do_develop", clear_s=expected_s, dwell=whole)
    return told if within is None or within.bath_id is None else say("do_in_bath", bath=within.name, told=told)


def _etch(panel: PanelNumbers, within: Within | None) -> Message:
    if within is not None and within.bath_id is not None and within.forecast is not None:
        forecast = within.forecast
        told = say("do_etch", first_min=forecast.call_s / 60, every_min=forecast.look_every_s / 60)
        return say("do_in_bath", bath=within.name, told=told)
    found = etch_plan(panel)
    if found is None:
        return say("do_etch_unknown")
    first_s, second_s = found.looks_s[:2]
    return say("do_etch", first_min=first_s / 60, every_min=(second_s - first_s) / 60)


_PLAIN = {
    "cut": say("do_cut"),
    "degrease": say("do_degrease"),
    "water_break": say("do_water_break"),
    "outer_film": say("do_outer_film"),
    "outer_films": say("do_outer_films"),
    "rinse": say("do_rinse"),
    "dry": say("do_dry"),
    "touch_up": say("do_touch_up"),
    "seal_edges": say("do_seal_edges"),
    "mask_back": say("do_mask_back"),
    "strip": say("do_strip"),
    "part": say("do_part"),
}
