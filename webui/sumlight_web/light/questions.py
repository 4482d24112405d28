"""Routes of Light: its three questions with what is known of each today, and the one about the dose."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from flask import make_response, render_template, request
from werkzeug.wrappers import Response

from sumlight.text.message import NOTHING, Message
from sumlight_web.forms import Form, blank
from sumlight_web.language import N_, _, figure
from sumlight_web.light.asking import ask, recipe_named
from sumlight_web.light.blueprint import blueprint
from sumlight_web.light.runs import last_repeat, recent_runs
from sumlight_web.services import services, usable_recipes

ORIGINS = {
    "box.yaml": N_("a number that its builder wrote in"),
    "radiometer": N_("a reference radiometer"),
    "tablet": N_("a step tablet"),
    "teach": N_("a taught exposure"),
}

JOBS = (
    ("light.tablet", N_("Tablet run"), N_("Calibrate by the resist itself: expose, develop, read.")),
    ("light.radiometer", N_("Radiometer"), N_("Enter what a reference meter reads in steady light.")),
    ("light.teach", N_("Teach"), N_("Turn a time that is known to be good into a dose.")),
    ("light.self_check", N_("Self-check"), N_("Tell a dirty diffuser from ageing lamps.")),
    ("lamps.tubes", N_("New lamps"), N_("Record that lamps were changed.")),
    ("light.strip", N_("Test strip"), N_("Find a dose without a tablet.")),
    ("light.sheets", N_("Sheets"), N_("What film, foil and glass let through, and whether they block UV.")),
    ("light.window", N_("Safe dose window"), N_("How much room an artwork leaves.")),
    ("light.field", N_("Field"), N_("How even the light is over the glass.")),
    ("light.contact", N_("Contact"), N_("How far light creeps under the artwork's edges.")),
    ("light.reciprocity", N_("Weak and strong light"), N_("Whether the same dose does the same in weaker light.")),
)

NEWEST = {"dose": ("tablet", "teach"), "sheet": ("compare",), "even": ("field",)}
"""Per question the kinds of series that answered it."""


@dataclass(frozen=True)
class BankState:
    """What the page says of one bank's calibration; `absolute` is a share with k = 2, `repeat` is in words."""

    name: str
    sentence: Message
    origin: str
    age: str
    absolute: float
    repeat: str
    relative: bool
    check_due: bool
    self_check_due: bool
    lamp_set: int
    lamp_hours: float
    spectrum: Message


@blueprint.get("/")
def page() -> Response:
    """The three questions, and the workshop below."""
    named = recipe_named(request.args.get("written", ""))
    return overview(blank(()), named.name if named else "")


def overview(form: Form, written: str = "") -> Response:
    """The page of Light, with the mistakes of `form` and the recipe just written."""
    states, runs = _states(form, ""), recent_runs()
    newest = {
        question: next((run for run in runs if run["kind"] in kinds and run["outcome"]), None)
        for question, kinds in NEWEST.items()
    }
    body = render_template(
        "light/page.html",
        title=_("Light"),
        form=form,
        written=written,
        answers_today=[_today(state, alone=len(states) == 1) for state in states],
        newest=newest,
        runs=runs,
        jobs=JOBS,
    )
    return make_response(body, form.status)


@blueprint.get("/dose")
def dose() -> Response:
    """What a dose is worth today, and the ways to know it better."""
    form, judged = blank(()), request.args.get("recipe", "")
    states = _states(form, judged)
    body = render_template(
        "light/dose.html",
        title=_("Is my dose right?"),
        form=form,
        states=states,
        any_due=any(state.check_due for state in states),
        recipes=usable_recipes(),
        judged=judged,
    )
    return make_response(body, form.status)


def _today(state: BankState, *, alone: bool) -> str:
    if state.relative:
        told = _("Doses repeat, in units of this box: nothing outside it has checked them.")
    else:
        told = _("±{share} %, a check is due.") if state.check_due else _("±{share} %.")
        told = told.format(share=figure(100 * state.absolute, ".0f"))
    return told if alone else f"{state.name}: {told}"


def _states(form: Form, judged: str) -> list[BankState]:
    latest = services().watch.latest()
    if latest.snapshot is None or not latest.live:
        return []
    snapshot = cast(Mapping[str, Any], latest.snapshot)
    blocks = snapshot.get("calibration") or {}
    recipe = recipe_named(judged) if judged else None
    if recipe is not None:  # the number, not the name: control opens no file to show something
        asked = ask(form, "calibration", ("banks",), {"tolerance": recipe.recipe.tolerance})
        blocks = blocks if asked is None else asked["banks"]
    colours = {bank["name"]: (bank.get("spectrum") or {}).get("sentence", NOTHING) for bank in snapshot["banks"]}
    return [_state(name, block, colours.get(name, NOTHING)) for name, block in blocks.items()]


def _state(name: str, block: Mapping[str, Any], spectrum: Message) -> BankState:
    age_hours, repeat = block["age_hours"], last_repeat(name)
    return BankState(
        name,
        block["sentence"],
        ORIGINS.get(block["origin"], block["origin"]),
        _("never calibrated on this box")
        if age_hours is None
        else _("{hours} lamp hours", hours=figure(age_hours, ".1f")),
        block["expanded_relative"],
        _("known after the next exposure") if repeat is None else f"{figure(100 * repeat, '.1f')} %",
        block["relative"],
        block["check_due"],
        block["self_check_due"],
        block["lamp_set"],
        block["lamp_hours"],
        spectrum,
    )
