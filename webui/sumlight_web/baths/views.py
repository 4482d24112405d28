"""Routes of Baths. They are read only: every sum is asked for by its address, so anybody at the bench may do it."""

from collections.abc import Sequence
from dataclasses import asdict

from flask import Blueprint, abort, make_response, render_template, request
from werkzeug.wrappers import Response

from sumlight.bounds import Bounds
from sumlight.craft.baths import gassing
from sumlight.craft.baths.contents import contents_of
from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry import hazards
from sumlight.craft.chemistry.mixing import Mix
from sumlight.craft.etching import factor, times
from sumlight.craft.etching.plan import ETCHANTS, Charge, Plan, plan
from sumlight.text.message import Message
from sumlight_web.baths.mixing import BATHS
from sumlight_web.forms import MISSING, Form, Input, blank, read
from sumlight_web.language import N_, _
from sumlight_web.light.asking import ask
from sumlight_web.texts import text_of

blueprint = Blueprint("baths", __name__, url_prefix="/baths", template_folder="templates")

POWDERS = (
    ("dry-powder", N_("Dry powder"), N_("the label says sodium carbonate")),
    ("clear-crystals", N_("Clear crystals"), N_("like coarse ice")),
    ("white-and-crumbly", N_("White and crumbly"), N_("crystals that have lain open")),
    ("unknown", N_("I do not know"), ""),
)
SAID_WAYS = (
    ("wt", N_("% ferric chloride"), N_("dry, by mass")),
    ("density", N_("Density"), N_("g/cm³ at 20 °C")),
    ("baume", N_("Degrees Baumé"), N_("with their modulus")),
    ("hydrate", N_("% hexahydrate"), N_("above 50 % it is this")),
)

ETCH = (
    Input("metal", N_("Metal"), "pick"),
    Input("bath", N_("Bath"), "pick"),
    Input("thickness_um", N_("Thickness of the sheet"), "number", "µm", bounds=Bounds(*factor.SHEET_UM)),
    Input("sides", N_("Open sides"), "pick"),
    Input(
        "rate_um_min",
        N_("What the fresh bath eats, in µm a minute"),
        "number",
        help=N_("On each side, as timed on a coupon."),
        bounds=Bounds(0, times.FASTEST_UM_MIN, above=True),
    ),
    Input(
        "known_c",
        N_("Temperature at which that was timed"),
        "number",
        "°C",
        optional=True,
        bounds=Bounds(*times.BATH_C),
    ),
    Input("bath_c", N_("Temperature of the bath now"), "number", "°C", optional=True, bounds=Bounds(*times.BATH_C)),
    Input(
        "open_cm2",
        N_("Opened area, in cm²"),
        "number",
        help=N_("All faces together, as it will be etched."),
        optional=True,
        bounds=Bounds(0, times.LARGEST_CM2, above=True),
    ),
    Input(
        "volume_l",
        N_("Volume of the bath, in litres"),
        "number",
        optional=True,
        bounds=Bounds(0, times.LARGEST_L, above=True),
    ),
    Input(
        "capacity_g_l",
        N_("What the fresh bath can dissolve, in grams a litre"),
        "number",
        help=N_(
            "By its strength: ferric chloride of 40 % takes up 111 g of copper; half of that is usable in practice."
        ),
        optional=True,
        bounds=Bounds(0, times.LARGEST_G_PER_L, above=True),
    ),
    Input("load", N_("Share of it used already"), "number", "%", bounds=Bounds(0, 100)),
)
WASTE = (Input("bath", N_("What is to be thrown away?"), "pick"), Input("into", N_("Into the container for"), "pick"))


@blueprint.get("/")
def page() -> str:
    """The baths in use, what can be worked out, and what must not meet."""
    form = blank(())
    told = ask(form, "baths", ("baths", "wasted"), {}) or {"baths": [], "wasted": []}
    return render_template(
        "baths/page.html",
        title=_("Baths"),
        baths=BATHS,
        groups=[(_named(ones), _named(others), why) for ones, others, why in hazards.groups_apart()],
        waste=hazards.WASTE_WORDS,
        in_use=told["baths"],
        wasted=told["wasted"],
        containers=told.get("containers", []),
        down=" ".join(form.errors.get("", [])),
    )


@blueprint.get("/mix/<bath>")
def mix(bath: str) -> Response:
    """Mix one bath to a volume."""
    asked = BATHS.get(bath) or abort(404)
    form = blank(asked.inputs, **asked.proposed)
    mixed: Mix | None = None
    first: Message | None = None
    if request.args:
        form = read(asked.inputs, request.args)
        for key, offered in (("powder", POWDERS), ("said", SAID_WAYS)):
            refuse_unoffered(form, key, [value for value, _label, _small in offered])
        if not form.errors:
            try:
                mixed, first = asked.mix(form)
            except ValueError as error:
                form.add("", text_of(error.args[0]))
    body = render_template(
        "baths/mix.html",
        title=_(asked.title),
        bath=bath,
        form=form,
        mixed=mixed,
        first=first,
        kept={} if mixed is None else _kept(mixed, form),
        cautions=hazards.CAUTIONS[bath],
        waste=hazards.WASTE_WORDS,
        lid=None if mixed is None else gassing.tight_lid(contents_of(mixed)),
        powders=POWDERS,
        said_ways=SAID_WAYS,
    )
    return make_response(body, form.status)


@blueprint.get("/etch-time")
def etch_time() -> Response:
    """How long, and when to look."""
    form = blank(ETCH, sides="2", load="0")
    found: Plan | None = None
    if request.args:
        form = read(ETCH, request.args)
        for key, offered in (("metal", hazards.METALS), ("bath", ETCHANTS), ("sides", ("1", "2"))):
            refuse_unoffered(form, key, offered)
        _together(form, "known_c", "bath_c")
        _together(form, "open_cm2", "volume_l")
        if form.number("capacity_g_l") is not None and form.number("open_cm2") is None:
            form.add("open_cm2", _(MISSING))
        if not form.errors:
            try:
                found = _etched(form)
            except ValueError as error:
                form.add("", text_of(error.args[0]))
    bath = form.text("bath") if form.text("bath") in ETCHANTS else "iron"
    body = render_template(
        "baths/etch_time.html",
        title=_("Etch time"),
        form=form,
        found=found,
        metals=hazards.METALS,
        etchants=ETCHANTS,
        names=hazards.NAMES,
        cautions=hazards.CAUTIONS[bath],
    )
    return make_response(body, form.status)


@blueprint.get("/waste")
def waste() -> Response:
    """A container for each kind of bath with its label, and whether a bath may go into one."""
    form = blank(WASTE)
    may_go = False
    if request.args:
        form = read(WASTE, request.args)
        for key in ("bath", "into"):
            refuse_unoffered(form, key, hazards.KINDS)
        if not form.errors:
            try:
                hazards.refuse_waste(form.text("bath"), form.text("into"))
                may_go = True
            except RefusedError as error:
                form.add("", text_of(error.args[0]))
    body = render_template(
        "baths/waste.html",
        title=_("Waste"),
        form=form,
        may_go=may_go,
        containers=[hazards.container(kind) for kind in hazards.KINDS],
        lids={kind: gassing.tight_lid_usually(kind) for kind in hazards.KINDS},
        names=hazards.NAMES,
    )
    return make_response(body, form.status)


def _kept(mixed: Mix, form: Form) -> dict[str, str]:
    """The mix as the form of a new bath takes it, with what it was mixed from."""
    found = {key: value for key, value in asdict(contents_of(mixed)).items() if value is not None}
    bottle, acid = form.number("bottle"), form.number("acid")
    if form.text("said") == "wt":
        bottle = form.number("stock")
    found |= {"bottle_percent": bottle} if bottle is not None else {}
    found |= {"acid_bottle_percent": acid} if acid is not None else {}
    return {key: f"{value:.6g}" if isinstance(value, float) else str(value) for key, value in found.items()}


def _named(liquids: Sequence[str]) -> str:
    """Liquids by their names, one after the other."""
    return ", ".join(text_of(hazards.NAMES[liquid]) for liquid in liquids)


def refuse_unoffered(form: Form, key: str, offered: Sequence[str]) -> None:
    """Note a choice that the form does not offer: somebody may have written the address."""
    if form.text(key) and form.text(key) not in offered:
        form.add(key, _("Choose one."))


def _together(form: Form, *keys: str) -> None:
    """Two fields that only say something together."""
    if any(form.number(key) is not None for key in keys):
        for key in keys:
            if form.number(key) is None and key not in form.errors:
                form.add(key, _(MISSING))


def _etched(form: Form) -> Plan:
    """What is typed as the plan's own numbers; temperatures and what lies in the bath come in pairs or not at all."""
    known_c, bath_c = form.number("known_c"), form.number("bath_c")
    area, volume = form.number("open_cm2"), form.number("volume_l")
    return plan(
        form.text("metal"),
        form.text("bath"),
        form.required_number("thickness_um"),
        form.required_number("rate_um_min"),
        sides=int(form.text("sides")),
        warmth_c=None if known_c is None or bath_c is None else (known_c, bath_c),
        charge=None if area is None or volume is None else Charge(area, volume, form.number("capacity_g_l")),
        load=form.required_number("load") / 100,
    )
