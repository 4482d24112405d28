"""The sum of neutralising: arithmetic only, and only after the question whether the waste authority allows it."""

from flask import Blueprint, make_response, render_template, request
from werkzeug.wrappers import Response

from sumlight.bounds import Bounds
from sumlight.craft.chemistry import gas, solutions
from sumlight.craft.chemistry.gas import Neutralising
from sumlight_web.baths.views import refuse_unoffered
from sumlight_web.forms import Input, blank, read
from sumlight_web.language import N_, _
from sumlight_web.texts import text_of

blueprint = Blueprint("neutralising", __name__, url_prefix="/baths", template_folder="templates")

ALLOWED = ("yes", "no", "unknown")
"""Only the first one leads to a sum."""
ASKED = (
    Input("allowed", N_("Does your waste authority allow treating it at home?"), "pick"),
    Input(
        "volume_l",
        N_("Volume of the bath, in litres"),
        "number",
        bounds=Bounds(0, gas.LARGEST_NEUTRALISED_L, above=True),
    ),
    Input("powder", N_("Powder"), "pick"),
    Input(
        "acid_mol_per_l",
        N_("Free acid in it, in mol a litre"),
        "number",
        optional=True,
        bounds=Bounds(0, gas.MOST_ACID_MOL_L),
    ),
    Input(
        "copper_g_per_l",
        N_("Copper dissolved in it, in grams a litre"),
        "number",
        optional=True,
        bounds=Bounds(0, gas.MOST_COPPER_G_L),
    ),
    Input(
        "iron_wt_percent",
        N_("Ferric chloride in it, % by mass"),
        "number",
        optional=True,
        bounds=Bounds(0, solutions.DENSITY_20C_G_CM3["FeCl3"][-1][0]),
    ),
)


@blueprint.get("/neutralise")
def page() -> Response:
    """Powder, gas and vessel; refused without a yes of the authority."""
    form = blank(ASKED)
    found: Neutralising | None = None
    if request.args:
        form = read(ASKED, request.args)
        refuse_unoffered(form, "allowed", ALLOWED)
        refuse_unoffered(form, "powder", tuple(gas.POWDERS))
        if not form.errors:
            iron = form.number("iron_wt_percent") or 0.0
            try:
                found = gas.neutralise(
                    form.required_number("volume_l"),
                    form.text("powder"),
                    authority_allows=form.text("allowed") == "yes",
                    acid_mol_per_l=form.number("acid_mol_per_l") or 0.0,
                    copper_g_per_l=form.number("copper_g_per_l") or 0.0,
                    iron_chloride_mol_per_l=solutions.strength("FeCl3", iron).mol_per_l if iron else 0.0,
                )
            except ValueError as error:
                form.add("", text_of(error.args[0]))
    body = render_template(
        "baths/neutralise.html",
        title=_("Neutralising"),
        form=form,
        found=found,
        allowed=((ALLOWED[0], _("Yes"), ""), (ALLOWED[1], _("No"), ""), (ALLOWED[2], _("I do not know"), "")),
        powders=gas.NAMES,
    )
    return make_response(body, form.status)
