"""Routes of the baths in use: one that was mixed, what it has taken, and its way to waste. Control keeps them."""

from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import Conflict
from werkzeug.wrappers import Response

from sumlight.craft.chemistry import hazards
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.protocol import bath_commands as commands
from sumlight.protocol.fields import LARGEST_ID
from sumlight_web.access.gate import visitor
from sumlight_web.baths.mixing import VOLUME
from sumlight_web.forms import Form, Input, blank, quantity, read, text
from sumlight_web.language import N_, _
from sumlight_web.light.asking import ask, told_of
from sumlight_web.services import services

TOLD_FOR_UM = 150.0
"""Factor and over-etch are told of a bath; what to draw hangs on the thickness and is not."""
blueprint = Blueprint("inuse", __name__, url_prefix="/baths", template_folder="templates")

NUMBER = f"int(max={LARGEST_ID})"
STRENGTHS = ("wt_percent", "peroxide_wt_percent", "acid_wt_percent", "g_per_l", "bottle_percent", "acid_bottle_percent")
MIXED = (
    Input("kind", N_("Bath"), "pick"),
    VOLUME,
    *(
        quantity(commands.BathNew, name, label, optional=True)
        for name, label in (
            ("wt_percent", N_("Strength of the finished bath, % by mass")),
            ("peroxide_wt_percent", N_("Peroxide in the finished bath, %")),
            ("acid_wt_percent", N_("Acid in the finished bath, %")),
            ("g_per_l", N_("Grams in a litre of finished bath")),
            ("bottle_percent", N_("Strength of the stock, or dry share of the powder, %")),
            ("acid_bottle_percent", N_("Acid: strength on the bottle, %")),
        )
    ),
)
BY_HAND = (
    Input("metal", N_("Metal"), "pick", optional=True),
    quantity(commands.BathPanel, "open_cm2", N_("Opened area, in cm²"), "", N_("All faces together."), optional=True),
    quantity(commands.BathPanel, "depth_um", N_("Depth on each face"), "µm", N_("Of film, or metal."), optional=True),
    quantity(commands.BathPanel, "took_s", N_("Time it took"), "s", N_("To through, or to clear."), optional=True),
    quantity(commands.BathPanel, "bath_c", N_("Temperature of the bath"), "°C", optional=True),
    text(commands.BathPanel, "label", N_("Panel"), optional=True),
)
INTO = (Input("into", N_("Which container stands before you?"), "pick"),)


@blueprint.route("/new", methods=["GET", "POST"])
def new() -> Response:
    """A bath that is mixed is in use from now on."""
    if request.method == "GET":
        return _new(blank(MIXED))
    form = read(MIXED, request.form)
    if not form.errors:
        fields = {key: form.number(key) for key in STRENGTHS} | {"volume_l": form.number("volume_l")}
        fields = {key: value for key, value in fields.items() if value is not None}
        who = str(visitor().operator)
        made = ask(form, "bath_new", ("bath_id",), fields | {"kind": form.text("kind"), "who": who})
        if made is not None:
            return redirect(url_for("inuse.bath", bath_id=made["bath_id"]), 303)
    return _new(form)


def _new(form: Form) -> Response:
    body = render_template(
        "baths/new.html", title=_("A bath that is mixed"), form=form, kinds=hazards.KINDS, names=hazards.NAMES
    )
    return make_response(body, form.status)


@blueprint.get(f"/<{NUMBER}:bath_id>")
def bath(bath_id: int) -> Response:
    """One bath: how it stands, what it has taken, where it goes."""
    return _bath(bath_id, blank(BY_HAND), blank(INTO))


def _bath(bath_id: int, form: Form, into: Form) -> Response:
    told = told_of("bath", ("kind", "taken", "sentences"), bath_id=bath_id)
    kind = told["kind"] if told["kind"] in hazards.KINDS else hazards.KINDS[0]
    shown = {"bath": told, "form": form, "into": into, "container": hazards.container(kind), "names": hazards.NAMES}
    shown |= {"kinds": hazards.KINDS, "metals": hazards.METALS if kind in ETCHANTS else ()}
    bench = services().artwork.bench
    etched = dict.fromkeys(one["metal"] for one in told["taken"] if one["metal"])
    labels = {one["label"] for one in told["taken"] if one["label"]}
    offers = []
    if kind in ETCHANTS:
        offers = [bench.offer(metal, TOLD_FOR_UM, mine=lambda one: bool(labels & {*one.labels})) for metal in etched]
    shown["compared"] = [one for one in offers if one is not None and one.parts]
    body = render_template("baths/bath.html", title="", cautions=hazards.CAUTIONS[kind], **shown)
    return make_response(body, max(form.status, into.status))


@blueprint.post(f"/<{NUMBER}:bath_id>/panel")
def panel(bath_id: int) -> Response:
    """Note a panel that has no card."""
    form = read(BY_HAND, request.form)
    if not form.errors:
        fields: dict[str, Any] = {key: form.number(key) for key in ("open_cm2", "depth_um", "took_s", "bath_c")}
        fields = {key: value for key, value in fields.items() if value is not None}
        fields |= {"bath_id": bath_id, "metal": form.text("metal"), "label": form.text("label")}
        if ask(form, "bath_panel", (), fields | {"who": str(visitor().operator)}) is not None:
            return redirect(url_for("inuse.bath", bath_id=bath_id), 303)
    return _bath(bath_id, form, blank(INTO))


@blueprint.post(f"/<{NUMBER}:bath_id>/take-back")
def take_back(bath_id: int) -> Response:
    """Take the last panel back."""
    form = blank(BY_HAND)
    if ask(form, "bath_take_back", (), {"bath_id": bath_id}) is not None:
        return redirect(url_for("inuse.bath", bath_id=bath_id), 303)
    return _bath(bath_id, form, blank(INTO))


@blueprint.post(f"/<{NUMBER}:bath_id>/waste")
def waste(bath_id: int) -> Response:
    """Into a container; a wrong one is refused."""
    form = read(INTO, request.form)
    if not form.errors:
        fields = {"bath_id": bath_id, "into": form.text("into"), "who": str(visitor().operator)}
        if ask(form, "bath_waste", (), fields) is not None:
            return redirect(url_for("inuse.bath", bath_id=bath_id), 303)
    return _bath(bath_id, blank(BY_HAND), form)


@blueprint.post("/emptied")
def emptied() -> Response:
    """The waste container of a kind was taken away."""
    form = blank(())
    fields = {"kind": request.form.get("kind", ""), "who": str(visitor().operator)}
    if ask(form, "waste_emptied", (), fields) is None:
        raise Conflict(" ".join(form.errors.get("", [])))
    return redirect(url_for("baths.page"), 303)
