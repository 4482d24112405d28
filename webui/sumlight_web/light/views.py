"""Routes of Light: the state of calibration, and what needs no series of several legs."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.checkedfile import PLAIN_NUMBER
from sumlight.protocol.amounts import SteadyLeg, TeachLeg
from sumlight.protocol.commands import DoseWindow, Radiometer
from sumlight_web.desk import desk, usable_recipes
from sumlight_web.forms import Form, Input, blank, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light import field, sheets, strip, tablet, workings
from sumlight_web.light.asking import RECIPE, ask, begin_series, recipe_named
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.runs import KINDS, any_run, last_repeat, recent_runs, run_of
from sumlight_web.light.writing import NotWrittenError, put
from sumlight_web.link import CommandRefusedError, LinkDownError

__all__ = ["blueprint", "field", "sheets", "strip", "tablet", "workings"]

ORIGINS = {
    "box.yaml": N_("the number in box.yaml"),
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

WINDOW_VERDICTS = {"safe": N_("Safe"), "thin": N_("Thin"), "bleeds": N_("It bleeds")}
VERDICTS = {
    "reference": N_("First look"),
    "steady": N_("Nothing has changed"),
    "diffuser_dirty": N_("The diffuser is dirty"),
    "diffuser_cleaned": N_("The diffuser was cleaned"),
    "sensor_changed": N_("The sensor itself has changed"),
    "lamp_ages": N_("The lamps have aged"),
}

BANK = Input("bank", N_("Lamps"), "pick", optional=True)
TEACH = (RECIPE, quantity(TeachLeg, "seconds", N_("Time known to be good"), "s"))
STEADY = (RECIPE, quantity(SteadyLeg, "seconds", N_("How long the lamps stay on"), "s"))
READING = (
    BANK,
    quantity(
        Radiometer,
        "mw_cm2",
        N_("The radiometer reads"),
        "mW/cm²",
        N_("At the glass, where the panel lies."),
    ),
    quantity(
        Radiometer,
        "relative_uncertainty",
        N_("Its uncertainty"),
        "%",
        N_("Standard uncertainty. A certificate that says ± 8 % with k = 2 means 4 here."),
        key="percent",
    ),
)
STANDARD = N_("Standard uncertainty.")
WINDOW = (
    quantity(DoseWindow, "clear", N_("Clear film passes"), "%"),
    quantity(DoseWindow, "clear_standard", N_("± of that"), "%", STANDARD, optional=True),
    quantity(DoseWindow, "opaque", N_("Black film passes"), "%"),
    quantity(DoseWindow, "opaque_standard", N_("± of that"), "%", STANDARD, optional=True),
    quantity(DoseWindow, "dose_mj_cm2", N_("Dose of the tablet panel"), "mJ/cm²"),
    quantity(DoseWindow, "held_step", N_("Last step held on it")),
    quantity(DoseWindow, "clean_step", N_("First step without any residue")),
    quantity(
        DoseWindow,
        "target_step",
        N_("Step that the job needs held"),
        help=N_("The held one if left out."),
        optional=True,
    ),
)


@dataclass(frozen=True)
class BankState:
    """What the page says of one bank's calibration; `absolute` is a share with k = 2, `repeat` is in words."""

    name: str
    sentence: str
    origin: str
    age: str
    absolute: float
    repeat: str
    relative: bool
    check_due: bool
    self_check_due: bool
    lamp_set: int
    lamp_hours: float
    spectrum: str


@blueprint.get("/")
def page() -> Response:
    """The state of calibration, what to do about it, and the way to every measurement."""
    named = recipe_named(request.args.get("written", ""))
    return _overview(blank(()), named.name if named else "")


def _overview(form: Form, written: str = "") -> Response:
    judged = request.args.get("recipe", "")
    states = _states(form, judged)
    body = render_template(
        "light/page.html",
        title=_("Light"),
        form=form,
        written=written,
        states=states,
        any_due=any(state.check_due for state in states),
        recipes=usable_recipes(),
        judged=judged,
        runs=recent_runs(),
        jobs=JOBS,
    )
    return make_response(body, form.status)


def _states(form: Form, judged: str) -> list[BankState]:
    latest = desk().watch.latest()
    if latest.snapshot is None or not latest.live:
        return []
    snapshot = cast(Mapping[str, Any], latest.snapshot)
    blocks = snapshot.get("calibration") or {}
    recipe = recipe_named(judged) if judged else None
    if recipe is not None:  # the number, not the name: control opens no file to show something
        asked = ask(form, "calibration", ("banks",), {"tolerance": recipe.recipe.tolerance})
        blocks = blocks if asked is None else asked["banks"]
    colours = {bank["name"]: (bank.get("spectrum") or {}).get("sentence", "") for bank in snapshot["banks"]}
    return [_state(name, block, colours.get(name, "")) for name, block in blocks.items()]


def _state(name: str, block: Mapping[str, Any], spectrum: str) -> BankState:
    age_hours, repeat = block["age_hours"], last_repeat(name)
    return BankState(
        name,
        block["sentence"],
        ORIGINS.get(block["origin"], block["origin"]),
        _("never calibrated on this box")
        if age_hours is None
        else _("{hours} lamp hours", hours=format(age_hours, ".1f")),
        block["expanded_relative"],
        _("known after the next exposure") if repeat is None else f"{100 * repeat:.1f} %",
        block["relative"],
        block["check_due"],
        block["self_check_due"],
        block["lamp_set"],
        block["lamp_hours"],
        spectrum,
    )


@blueprint.get(f"/series/{ID}")
def series(exposure_id: int) -> Response:
    """The page that reads this series."""
    kind = any_run(exposure_id)["kind"]
    if kind not in KINDS:
        return redirect(url_for("panels.record", exposure_id=exposure_id), 303)
    target = KINDS[kind][1]
    return redirect(url_for(target) if kind == "steady" else url_for(target, exposure_id=exposure_id), 303)


@blueprint.post("/recipe")
def write_recipe() -> Response:
    """Put a dose into a recipe: one press."""
    name, value = request.form.get("recipe", ""), request.form.get("value", "")
    form = blank(())
    if request.form.get("key") != "dose_mj_cm2" or not PLAIN_NUMBER.fullmatch(value):
        form.add("", _("That was no dose for a recipe. Work the measurement out again."))
        return _overview(form)
    try:
        put(desk().shelf, name, "dose_mj_cm2", float(value), request.form.get("sha256", ""))
    except NotWrittenError as error:
        form.add("", str(error), 409)
        return _overview(form)
    return redirect(url_for("light.page", written=name), 303)


# -- teach ------------------------------------------------------------------------------------------------------------


@blueprint.route("/teach", methods=["GET", "POST"])
def teach() -> Response:
    """Expose for a time that is known to be good."""
    form = blank(TEACH, recipe=request.args.get("recipe", ""))
    form = form if request.method == "GET" else read(TEACH, request.form)
    if request.method == "POST" and not form.errors:
        begun = begin_series(form, "teach", {"seconds": form.sure_number("seconds")}, panel="taught")
        if begun is not None:
            return begun
    return _timed(form, "teach", _("Teach"))


def _timed(form: Form, job: str, title: str) -> Response:
    body = render_template(
        "light/timed.html", title=title, job=job, action=f"light.{job}", form=form, recipes=usable_recipes()
    )
    return make_response(body, form.status)


@blueprint.get(f"/teach/{ID}")
def taught(exposure_id: int) -> Response:
    """A taught exposure, before it is made a dose."""
    return _taught(run_of(exposure_id, "teach"), blank(()), None)


@blueprint.post(f"/teach/{ID}")
def teach_read(exposure_id: int) -> Response:
    """Make it a dose."""
    run, form = run_of(exposure_id, "teach"), blank(())
    result = ask(form, "teach", ("recipe_dose_mj_cm2", "relative", "sentence"), {"exposure_id": exposure_id})
    return _taught(run, form, result)


def _taught(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    stored = recipe_named(run["recipe_name"])
    body = render_template("light/taught.html", title=_("Teach"), run=run, form=form, result=result, stored=stored)
    return make_response(body, form.status)


# -- radiometer -------------------------------------------------------------------------------------------------------


@blueprint.get("/radiometer")
def radiometer() -> Response:
    """Steady light, and the reading."""
    return _radiometer(blank(STEADY + READING, seconds="60"))


@blueprint.post("/radiometer/steady")
def steady() -> Response:
    """Light the lamps and keep them."""
    form = read(STEADY, request.form)
    if not form.errors:
        legs, go_to = {"seconds": form.sure_number("seconds")}, url_for("light.radiometer")
        begun = begin_series(form, "steady", legs, panel="steady light", go_to=go_to)
        if begun is not None:
            return begun
    form.inputs = STEADY + READING
    return _radiometer(form)


@blueprint.post("/radiometer/reading")
def radiometer_read() -> Response:
    """Take the reading in."""
    form = read(READING, request.form)
    result = None
    if not form.errors:
        reading = {"mw_cm2": form.sure_number("mw_cm2"), "relative_uncertainty": form.sure_number("percent") / 100}
        at = {"relative_uncertainty": "percent"}
        result = ask(form, "radiometer", ("sentence",), {**_bank(form), **reading}, at)
    form.inputs = STEADY + READING
    form.values.setdefault("seconds", "60")
    return _radiometer(form, "" if result is None else result["sentence"])


def _bank(form: Form) -> dict[str, str]:
    return {"bank": form.text("bank")} if form.text("bank") else {}


def _radiometer(form: Form, told: str = "") -> Response:
    latest = desk().watch.latest()
    snapshot = cast(Mapping[str, Any] | None, latest.snapshot)
    exposure = snapshot["exposure"] if snapshot and latest.live else None
    lit = bool(exposure and exposure.get("kind") == "steady" and any(b["commanded"] for b in snapshot["banks"]))  # type: ignore[index]
    body = render_template(
        "light/radiometer.html",
        title=_("Radiometer"),
        form=form,
        recipes=usable_recipes(),
        banks=snapshot["banks"] if snapshot else [],
        lit=lit,
        told=told,
    )
    return make_response(body, form.status)


# -- self-check and new lamps -----------------------------------------------------------------------------------------


@blueprint.get("/self-check")
def self_check() -> Response:
    """What the sensor's own LED tells, per bank."""
    return _self_check(blank(()))


@blueprint.post("/self-check")
def self_check_start() -> Response:
    """Start a look, or apply the correction that the last one offers."""
    form = read((BANK,), request.form)
    apply = {"apply": True} if request.form.get("apply") == "yes" else {}
    if ask(form, "self_check", (), {**_bank(form), **apply}) is None:
        return _self_check(form)
    return redirect(url_for("light.self_check"), 303)


def _self_check(form: Form) -> Response:
    try:  # asked now: what the watch heard last may be older than the press
        banks = desk().link.ask("state").get("banks", [])
    except (LinkDownError, CommandRefusedError):
        banks = []
    banks = [bank for bank in banks if bank.get("self_check")]
    looking = any(bank["self_check"]["phase"] == "running" for bank in banks)
    body = render_template(
        "light/self_check.html", title=_("Self-check"), form=form, banks=banks, looking=looking, verdicts=VERDICTS
    )
    return make_response(body, form.status)


# -- safe dose window -------------------------------------------------------------------------------------------------

SHARES = ("clear", "clear_standard", "opaque", "opaque_standard")


@blueprint.route("/window", methods=["GET", "POST"])
def window() -> Response:
    """Between which doses an artwork works."""
    form, result = blank(WINDOW), None
    if request.method == "POST":
        form = read(WINDOW, request.form)
        if not form.errors:
            typed = {each.key: form.number(each.key) for each in WINDOW}
            values = {k: v / 100 if k in SHARES else v for k, v in typed.items() if v is not None}
            keys = ("verdict", "sentence", "low_mj_cm2", "high_mj_cm2", "margin_steps")
            result = ask(form, "dose_window", keys, values)
    body = render_template(
        "light/window.html", title=_("Safe dose window"), form=form, result=result, verdicts=WINDOW_VERDICTS
    )
    return make_response(body, form.status)
