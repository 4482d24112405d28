"""Routes of Jobs: the list, a new job, the card of a panel, the plan of a job, timers. Control keeps what is noted."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound, ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.craft import learning
from sumlight.craft.chemistry import hazards
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.craft.jobs import instructions, plans
from sumlight.craft.learning import Learned
from sumlight.protocol.fields import LARGEST_ID
from sumlight.store.logbook.results import results_of
from sumlight_web.access.gate import visitor
from sumlight_web.forms import Form, blank, proposals, read
from sumlight_web.jobs.inputs import BATH_C, NEW, TIMED, TIMER, WORD, WORDS, numbers_told, proposed
from sumlight_web.language import _
from sumlight_web.light.asking import ODD_ANSWER, ask, told_of
from sumlight_web.logbook import reader
from sumlight_web.panels.code import address_of, code_svg, leads_here_only
from sumlight_web.services import hear_of_it, services, usable_recipes
from sumlight_web.texts import text_of

blueprint = Blueprint("jobs", __name__, url_prefix="/jobs", template_folder="templates")

NUMBER = f"int(max={LARGEST_ID})"


@blueprint.get("/")
def index() -> str:
    """The open jobs, what is due on each panel, and the timers."""
    return _index(blank(TIMER))


def _index(timer: Form) -> str:
    form = blank(())
    told = ask(form, "jobs", ("jobs", "timers", "due"), {}) or {"jobs": [], "timers": [], "due": None}
    shown = {"told": told, "form": form, "timer": timer, "names": hazards.NAMES}
    return render_template("jobs/list.html", **shown, ended="ended" in request.args)


@blueprint.route("/new", methods=["GET", "POST"])
def new() -> Response:
    """Begin a job; everything is proposed."""
    recipes = usable_recipes()
    if request.method == "GET":
        form = blank(())
        told = ask(form, "jobs", ("last",), {}) or {}
        offer = services().hall.offers.now(None, anew=True).next()
        first = offer.name if offer is not None else ""
        known = proposals(NEW, proposed(numbers_told(told.get("last")), recipes, first))
        return _new(Form(NEW, known, form.errors, form.status), recipes)
    form = read(NEW, request.form)
    if not form.errors:
        fields: dict[str, object] = {key: form.text(key) for key in ("recipe", "plan", "metal", "artwork")}
        fields |= {"thickness_um": form.number("thickness_um"), "wanted": form.required_whole("wanted")}
        made = ask(form, "job_new", ("job_id", "panel_ids"), fields | {"who": str(visitor().operator)})
        if made is not None:
            hear_of_it()
            return redirect(url_for("jobs.card", panel_id=made["panel_ids"][0]), 303)
    return _new(form, recipes)


def _new(form: Form, recipes: list[Any]) -> Response:
    body = render_template(
        "jobs/new.html", form=form, recipes=recipes, plans=plans.PLAN_NAMES, metals=hazards.METALS, names=hazards.NAMES
    )
    return make_response(body, form.status)


@blueprint.get(f"/panels/<{NUMBER}:panel_id>")
def card(panel_id: int) -> Response:
    """The card of one panel; of one that is over, its exposures: its sheet may still lie beside the part."""
    try:
        return _card(panel_id, blank((WORD, BATH_C)))
    except NotFound:
        label = _label_of(panel_id)
        if label is None:
            raise
        return redirect(url_for("panels.index", panel=label), 303)


def _label_of(panel_id: int) -> str | None:
    """The label of a panel that had a card."""
    with reader() as logbook:
        sql = "SELECT label FROM job_panels WHERE job_panel_id = ?"
        rows = [] if logbook is None else logbook.page(sql, panel_id)
    return None if not rows else str(rows[0]["label"])


@blueprint.get(f"/panels/<{NUMBER}:panel_id>/sheet")
def sheet(panel_id: int) -> str:
    """The card for paper: every step with its cautions, room to write, and a code that leads back to the card."""
    told = told_of("card", ("steps", "job"), panel_id=panel_id)
    address = address_of("jobs.card", panel_id=panel_id)
    numbers = told["job"]["numbers"]
    panel = numbers_told(numbers)
    if panel is None:
        raise ServiceUnavailable(_(ODD_ANSWER))
    steps = [plans.Step(step["step_id"], step["kind"]) for step in told["steps"]]
    return render_template(
        "jobs/sheet.html",
        card=told,
        numbers=numbers,
        cautions={step.step_id: instructions.cautions(step, panel) for step in steps},
        names=hazards.NAMES,
        address=address,
        code=code_svg(address, _("Code that leads to the card of panel {name}", name=told["label"])),
        here_only=leads_here_only(address),
        printed_utc=datetime.now(UTC).isoformat(),
    )


def _card(panel_id: int, form: Form) -> Response:
    told = told_of("card", ("steps", "job", "timers"), panel_id=panel_id)
    now = next((step for step in told["steps"] if step["step_id"] == told["step_id"]), None)
    return make_response(render_template("jobs/card.html", card=told, now=now, form=form), form.status)


@blueprint.post(f"/panels/<{NUMBER}:panel_id>/step")
def step(panel_id: int) -> Response:
    """Note something of a step."""
    form = read((WORD, BATH_C), request.form)
    number = request.form.get("step_id", type=int)
    if number is None:
        form.add("", _("Choose one."))
    if not form.errors:
        fields = {
            "panel_id": panel_id,
            "step_id": number,
            "act": request.form.get("act", ""),
            "word": form.text("word"),
            "bath_c": form.number("bath_c"),
        }
        fields = {key: value for key, value in fields.items() if value is not None}
        found = ask(form, "job_step", ("panel_id", "outcome"), fields | {"who": str(visitor().operator)})
        if found is not None:
            hear_of_it()
            ended = found["outcome"] is not None
            return redirect(url_for("jobs.index", ended=1) if ended else url_for("jobs.card", panel_id=panel_id), 303)
    return _card(panel_id, form)


@blueprint.get(f"/<{NUMBER}:job_id>")
def job(job_id: int) -> Response:
    """One job: its panels, its plan, what was timed in its baths."""
    return _job(job_id, None)


def _job(job_id: int, timed: Form | None, planned: Form | None = None) -> Response:
    told = told_of("job", ("steps", "panels", "numbers"), job_id=job_id)
    numbers = told["numbers"]
    known = {key: f"{numbers[key]:g}" for key in ("clear_s", "rate_um_min", "open_cm2") if numbers.get(key) is not None}
    form = timed or blank(TIMED, etchant=numbers.get("etchant") or "", **known)
    planned = planned or blank((WORDS,))
    rate = _learned_rate(numbers)
    bench = services().artwork.bench
    shown: dict[str, Any] = {
        "rate": rate,
        "rate_told": None if rate is None else text_of(learning.sentence(rate)),
        "job": told,
        "compared": bench.offer(
            str(numbers["metal"]), float(numbers["thickness_um"] or 0), mine=lambda one: one.job_id == job_id
        ),
        "own": bench.of_job(job_id),
    }
    shown |= {"form": form, "planned": planned, "etchants": ETCHANTS, "names": hazards.NAMES}
    return make_response(render_template("jobs/job.html", **shown), max(form.status, planned.status))


def _learned_rate(numbers: Mapping[str, Any]) -> Learned | None:
    """What the panels of its recipe say of a job's metal in its etchant, or in the one that they went into last."""
    with reader() as logbook:
        results = [] if logbook is None else results_of(logbook, numbers["recipe"])
    seen = [r.etch for r in results if r.etch and r.etch[0] == numbers["metal"]]
    bath = numbers.get("etchant") or (seen[0][1] if seen else None)
    if bath is None:
        return None
    timed = numbers.get("rate_um_min") if numbers.get("etchant") else None
    now = timed or numbers.get("recipe_rates_um_min", {}).get(bath)
    return learning.etch_rate(results, (numbers["metal"], bath), now)


@blueprint.post(f"/<{NUMBER}:job_id>/numbers")
def numbers(job_id: int) -> Response:
    """Keep what was timed in the baths."""
    form = read(TIMED, request.form)
    if not form.errors:
        fields = {key: form.number(key) for key in ("clear_s", "rate_um_min", "open_cm2")}
        if ask(form, "job_numbers", (), fields | {"job_id": job_id, "etchant": form.text("etchant")}) is not None:
            return redirect(url_for("jobs.job", job_id=job_id), 303)
    return _job(job_id, form)


@blueprint.post(f"/<{NUMBER}:job_id>/bath")
def bath(job_id: int) -> Response:
    """Choose one of several baths for a job."""
    form = blank(TIMED)
    fields = {"job_id": job_id, "bath_id": request.form.get("bath_id", type=int)}
    if ask(form, "job_bath", (), fields) is not None:
        return redirect(url_for("jobs.job", job_id=job_id), 303)
    return _job(job_id, form)


@blueprint.post(f"/<{NUMBER}:job_id>/stock")
def stock(job_id: int) -> Response:
    """Choose what a job takes from the shelf."""
    form = blank(TIMED)
    if ask(form, "job_stock", (), {"job_id": job_id, "stock_id": request.form.get("stock_id", type=int)}) is not None:
        return redirect(url_for("jobs.job", job_id=job_id), 303)
    return _job(job_id, form)


@blueprint.post(f"/<{NUMBER}:job_id>/plan")
def plan(job_id: int) -> Response:
    """Move, word, leave out or put in a step."""
    form = read((WORDS,), request.form)
    if not form.errors:
        fields = {"job_id": job_id, "step_id": request.form.get("step_id", type=int), "words": form.text("words")}
        if ask(form, "job_plan", (), fields | {"act": request.form.get("act", "")}) is not None:
            return redirect(url_for("jobs.job", job_id=job_id, planned=1) + "#plan", 303)
    return _job(job_id, None, form)


@blueprint.post(f"/<{NUMBER}:job_id>/end")
def end(job_id: int) -> Response:
    """End a job, or give up one of its panels."""
    form = blank(())
    found = ask(form, "job_end", ("open",), {"job_id": job_id, "panel_id": request.form.get("panel_id", type=int)})
    if found is None:
        return _refused(form)
    hear_of_it()
    return redirect(url_for("jobs.job", job_id=job_id) if found["open"] else url_for("jobs.index"), 303)


@blueprint.post("/timers")
def timers() -> Response:
    """Start a timer by hand."""
    form = read(TIMER, request.form)
    if not form.errors:
        fields = {"seconds": form.number("seconds"), "title": form.text("title")}
        if ask(form, "timer_start", (), fields) is not None:
            hear_of_it()
            return redirect(url_for("jobs.index"), 303)
    return make_response(_index(form), form.status)


@blueprint.post(f"/timers/<{NUMBER}:timer_id>")
def answer(timer_id: int) -> Response:
    """Answer a timer that rings, or stop it; back to where it rang."""
    form = blank(())
    if ask(form, "timer_answer", (), {"timer_id": timer_id, "stop": "stop" in request.form}) is None:
        return _refused(form)
    hear_of_it()
    panel_id = request.form.get("panel_id", type=int)
    return redirect(url_for("jobs.index") if panel_id is None else url_for("jobs.card", panel_id=panel_id), 303)


def _refused(form: Form) -> Response:
    """The list, with what control said."""
    return make_response(_index(Form(TIMER, {}, form.errors, form.status)), form.status)
