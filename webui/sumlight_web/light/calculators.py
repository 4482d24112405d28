"""Routes of what needs no light now: growth of lines by gap and film, and whether weak light does what strong does."""

from flask import make_response, render_template, request
from werkzeug.exceptions import ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.craft.contact import LineGrowth, line_growth, source_half_angle_deg
from sumlight.light.reciprocity import fit_exponent, in_words
from sumlight.protocol.amounts import ContactStack, ThresholdLight
from sumlight.quantity import shown
from sumlight.store.logbook.threshold_runs import ThresholdDose, threshold_doses
from sumlight.text.message import NOTHING, Message
from sumlight_web import scale
from sumlight_web.forms import MISSING, Form, Input, blank, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light.blueprint import blueprint
from sumlight_web.logbook import reader
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

# -- contact ----------------------------------------------------------------------------------------------------------

CONTACT = (
    quantity(ContactStack, "half_width_mm", N_("Half the width of the lamps"), "mm"),
    quantity(ContactStack, "distance_mm", N_("From the lamps to the panel"), "mm"),
    quantity(ContactStack, "gap_um", N_("Air between artwork and panel"), "µm", N_("0 under a good vacuum.")),
    Input("image", N_("Image side of the artwork"), "pick"),
    quantity(ContactStack, "base_um", N_("Thickness of the artwork's film"), "µm"),
    quantity(ContactStack, "cover_um", N_("Cover sheet of the resist"), "µm"),
    quantity(ContactStack, "resist_um", N_("Thickness of the resist"), "µm"),
)


@blueprint.route("/contact", methods=["GET", "POST"])
def contact() -> Response:
    """How far light creeps under the edges of the artwork."""
    found: LineGrowth | None = None
    form = blank(CONTACT, gap_um="0", image="down", base_um="100", cover_um="25")
    if request.method == "POST":
        form = read(CONTACT, request.form)
        if not form.errors:
            found = line_growth(
                source_half_angle_deg(form.required_number("half_width_mm"), form.required_number("distance_mm")),
                gap_um=form.required_number("gap_um"),
                image_towards_resist=form.text("image") != "up",
                base_um=form.required_number("base_um"),
                cover_um=form.required_number("cover_um"),
                resist_um=form.required_number("resist_um"),
            )
    body = render_template("light/contact.html", title=_("Contact"), form=form, found=found)
    return make_response(body, form.status)


# -- weak and strong light --------------------------------------------------------------------------------------------

ROWS = 4
NEEDED = 2
KEYS = {"mw_cm2": "mw_cm2", "dose_mj_cm2": "dose", "percent": "percent"}
"""What the columns are called in the form."""
PERCENT = "10"
"""Proposed standard uncertainty: one tablet read to a whole step, ln 10 * 0.15 / sqrt 12 (even spread, JCGM 100)."""
SHOWN_STEP = 8
"""Doses of tablet runs are told for this step; the exponent is the same for any."""


def _readings() -> tuple[Input, ...]:
    found: list[Input] = []
    for row in range(1, ROWS + 1):
        more = row > NEEDED
        for name, label, unit in (
            ("mw_cm2", _("Irradiance, light {n}", n=row), "mW/cm²"),
            ("dose_mj_cm2", _("Dose that holds, light {n}", n=row), "mJ/cm²"),
            ("percent", _("Its uncertainty, light {n}", n=row), "%"),
        ):
            found.append(quantity(ThresholdLight, name, label, unit, key=f"{KEYS[name]}_{row}", optional=more))
    return scale.counted(found, *(f"{KEYS['dose_mj_cm2']}_{row}" for row in range(1, ROWS + 1)))


@blueprint.get("/reciprocity")
def reciprocity() -> Response:
    """The form, with the runs that were chosen filled in."""
    wanted = [int(number) for number in request.args.getlist("run") if number.isascii() and number.isdigit()][:ROWS]
    runs = _runs()
    values = {f"percent_{row}": PERCENT for row in range(1, NEEDED + 1)}
    chosen = [held for held in runs if held.exposure_id in wanted][:ROWS]
    for row, held in enumerate(chosen, start=1):
        values |= {
            f"mw_cm2_{row}": shown(held.mw_cm2, 3),
            f"dose_{row}": shown(held.dose_mj_cm2, 2),
            f"percent_{row}": shown(100 * held.ln_sigma, 1),
        }
    return _reciprocity_page(blank(_readings(), **values), runs, {held.exposure_id for held in chosen})


@blueprint.post("/reciprocity")
def reciprocity_fit() -> Response:
    """Work the exponent out."""
    form, told, points = read(_readings(), request.form), NOTHING, []
    for row in range(1, ROWS + 1):
        keys = [f"mw_cm2_{row}", f"dose_{row}", f"percent_{row}"]
        if any(form.text(key) for key in keys):
            for key in keys:
                if not form.text(key) and key not in form.errors:
                    form.add(key, _(MISSING))
            if not any(key in form.errors for key in keys):
                light, dose, percent = (form.required_number(key) for key in keys)
                points.append((light, dose, percent / 100))
    if not form.errors:
        try:
            told = in_words(fit_exponent(points))
        except ValueError as error:
            form.add("", sentence(text_of(error.args[0])))
    return _reciprocity_page(form, _runs(), set(), told)


def _runs() -> list[ThresholdDose]:
    try:
        with reader() as logbook:
            return [] if logbook is None else threshold_doses(logbook, SHOWN_STEP)
    except ServiceUnavailable:  # what is typed in can be worked out all the same
        return []


def _reciprocity_page(form: Form, runs: list[ThresholdDose], chosen: set[int], told: Message = NOTHING) -> Response:
    body = render_template(
        "light/reciprocity.html",
        title=_("Weak and strong light"),
        form=form,
        runs=runs,
        chosen=chosen,
        told=told,
    )
    return make_response(body, form.status)
