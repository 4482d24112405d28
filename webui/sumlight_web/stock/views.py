"""Routes of Stock: the shelf, something new on it, and one thing with its steps and measurements."""

from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.clock import SystemClock
from sumlight.craft.chemistry import hazards
from sumlight.protocol.fields import LARGEST_ID
from sumlight.text.message import say
from sumlight_web.access.gate import visitor
from sumlight_web.forms import Form, blank, read
from sumlight_web.language import _
from sumlight_web.light.asking import ask, told_of
from sumlight_web.services import usable_recipes
from sumlight_web.stock.inputs import HOLDS, MEASURED, METAL, READS, ROLL, STENCIL, STORED

blueprint = Blueprint("stock", __name__, url_prefix="/stock", template_folder="templates")

SHEETS = say("sheets_pass_uv")
NUMBER = f"int(max={LARGEST_ID})"


@blueprint.get("/")
def page() -> str:
    """What is on the shelf, what is wrong with it first."""
    form = blank(())
    told = ask(form, "stock", ("things", "ended"), {}) or {"things": [], "ended": []}
    return render_template("stock/shelf.html", told=told, form=form)


@blueprint.route("/roll", methods=["GET", "POST"])
def roll() -> Response:
    """A new roll of resist; how thick it is its recipe knows."""
    if request.method == "GET":
        return _new("roll", blank(ROLL, opened_on=f"{SystemClock().utc():%Y-%m-%d}", storage="cool"))
    form = read(ROLL, request.form)
    fields: dict[str, Any] = {key: form.text(key) for key in ("resist", "storage")}
    fields |= {key: form.day(key) for key in ("opened_on", "expires_on")}
    known = [each.recipe.thickness_um for each in usable_recipes() if each.recipe.resist == fields["resist"]]
    film_um = next((thickness for thickness in known if thickness is not None), None)
    return _put("roll", form, fields | {"film_um": film_um, "storage": fields["storage"] or None})


@blueprint.route("/metal", methods=["GET", "POST"])
def metal() -> Response:
    """New metal."""
    if request.method == "GET":
        return _new("metal", blank(METAL))
    form = read(METAL, request.form)
    fields = {"metal": form.text("metal"), "remark": form.text("remark"), "thickness_um": form.number("thickness_um")}
    pieces = form.number("pieces")
    return _put("metal", form, fields | {"pieces": None if pieces is None else int(pieces)})


@blueprint.route("/stencil", methods=["GET", "POST"])
def stencil() -> Response:
    """A stencil that is to be made."""
    if request.method == "GET":
        return _new("stencil", blank(STENCIL, sides="2", held="hinge"))
    form = read(STENCIL, request.form)
    fields = {"artwork": form.text("artwork"), "held": form.text("held"), "spacer_um": form.number("spacer_um")}
    return _put("stencil", form, fields | {"sides": 1 if form.text("sides") == "1" else 2})


def _put(kind: str, form: Form, fields: dict[str, Any]) -> Response:
    if not form.errors:
        known = {key: value for key, value in fields.items() if value is not None}
        made = ask(form, f"{kind}_new", ("stock_id",), known | {"who": str(visitor().operator)})
        if made is not None:
            return redirect(url_for("stock.thing", stock_id=made["stock_id"]), 303)
    return _new(kind, form)


def _new(kind: str, form: Form) -> Response:
    shown: dict[str, Any] = {"metals": hazards.METALS, "names": hazards.NAMES, "stored": STORED, "holds": HOLDS}
    shown["resists"] = list(dict.fromkeys(each.recipe.resist for each in usable_recipes()))
    titles = {"roll": _("A new roll of resist"), "metal": _("New metal"), "stencil": _("A new stencil")}
    body = render_template("stock/new.html", kind=kind, title=titles[kind], form=form, **shown)
    return make_response(body, form.status)


@blueprint.get(f"/<{NUMBER}:stock_id>")
def thing(stock_id: int) -> Response:
    """One thing: how it stands; a stencil with its steps and what was measured."""
    return _thing(stock_id, blank(MEASURED))


def _thing(stock_id: int, form: Form) -> Response:
    told = told_of("stock_thing", ("name", "sentences", "stencil"), stock_id=stock_id)
    films = told["stencil"]["sides"] if told["stencil"] else 0
    recipes = [each.name for each in usable_recipes() if len(each.recipe.side_names()) == films]
    shown = {"thing": told, "form": form, "reads": READS, "sheets": SHEETS, "recipes": recipes}
    return make_response(render_template("stock/thing.html", **shown), form.status)


@blueprint.post(f"/<{NUMBER}:stock_id>/step")
def step(stock_id: int) -> Response:
    """A step of a stencil is done, or is not after all."""
    fields = {"step": request.form.get("step", ""), "done": request.form.get("done") != "no"}
    return _asked(stock_id, blank(MEASURED), "stencil_done", fields | {"who": str(visitor().operator)})


@blueprint.post(f"/<{NUMBER}:stock_id>/measured")
def measured(stock_id: int) -> Response:
    """What was measured of a stencil today."""
    form = read(MEASURED, request.form)
    fields: dict[str, Any] = dict(form.numbers)
    fields |= {key: form.text(key) == "yes" for key in ("readable_a", "readable_b") if form.text(key)}
    if form.errors:
        return _thing(stock_id, form)
    return _asked(stock_id, form, "stencil_measured", fields | {"who": str(visitor().operator)})


@blueprint.post(f"/<{NUMBER}:stock_id>/recipe")
def recipe(stock_id: int) -> Response:
    """Whose panels without a card count for a stencil."""
    name = request.form.get("recipe", "")
    return _asked(stock_id, blank(MEASURED), "stencil_recipe", {"recipe": name} if name else {})


@blueprint.post(f"/<{NUMBER}:stock_id>/end")
def end(stock_id: int) -> Response:
    """Off the shelf, or back on it."""
    return _asked(stock_id, blank(MEASURED), "stock_end", {"ended": request.form.get("ended") != "no"})


def _asked(stock_id: int, form: Form, command: str, fields: dict[str, Any]) -> Response:
    if ask(form, command, (), {"stock_id": stock_id, **fields}) is not None:
        return redirect(url_for("stock.thing", stock_id=stock_id), 303)
    return _thing(stock_id, form)
