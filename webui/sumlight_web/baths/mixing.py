"""The forms of mixing: what each bath asks for, and the sum that answers it."""

from collections.abc import Callable
from dataclasses import dataclass

from sumlight.bounds import Bounds
from sumlight.craft.chemistry import hazards, mixing, peroxide, powder, solutions
from sumlight.craft.chemistry.mixing import Mix
from sumlight.text.message import Message
from sumlight_web.forms import MISSING, Form, Input
from sumlight_web.language import N_, _

VOLUME = Input(
    "volume_l",
    N_("Volume wanted, in litres"),
    "number",
    help=N_("What the tray or the tank holds."),
    bounds=Bounds(mixing.SMALLEST_L, mixing.LARGEST_L),
)
ACID = Bounds(peroxide.WEAKEST_ACID_WT_PERCENT, peroxide.STRONGEST_ACID_WT_PERCENT)
GRAMS = Bounds(*powder.WEIGHED_G, above=True)


@dataclass(frozen=True)
class Asked:
    """One bath to mix: its title, its inputs with proposals, and the sum; None while an answer asks for more first."""

    title: str
    inputs: tuple[Input, ...]
    proposed: dict[str, str]
    mix: Callable[[Form], tuple[Mix | None, Message | None]]


def _strength(bath: str) -> Input:
    recipe = mixing.RECIPES[bath]
    return Input(
        "wt_percent",
        N_("Strength of the bath, dry substance in the finished solution"),
        "number",
        "%",
        bounds=Bounds(recipe.low_wt_percent, recipe.high_wt_percent),
    )


def _developer(form: Form) -> tuple[Mix | None, Message | None]:
    """The powder first: by its answer, or by the oven check."""
    before, after = form.number("before_g"), form.number("after_g")
    for key, own, other in (("before_g", before, after), ("after_g", after, before)):
        if own is None and other is not None:
            form.add(key, _(MISSING))
            return None, None
    if before is not None and after is not None:
        found = powder.powder_of_oven(before, after)
    else:
        found = powder.powder_of(form.text("powder"))
    if found.share is None:
        return None, found.sentence
    mixed = mixing.mix_powder(
        "developer", form.required_number("volume_l"), form.required_number("wt_percent"), dry_share=found.share
    )
    return mixed, found.sentence


def _stripper(form: Form) -> tuple[Mix, None]:
    return mixing.mix_powder("stripper", form.required_number("volume_l"), form.required_number("wt_percent")), None


def _iron(form: Form) -> tuple[Mix | None, None]:
    value, kind = form.required_number("stock"), form.text("said")
    if kind == "baume":
        modulus = form.number("modulus")
        if modulus is None:
            form.add("modulus", _(MISSING))
            return None, None
        stock = solutions.wt_percent_of_baume("FeCl3", value, modulus)
    elif kind == "density":
        stock = solutions.wt_percent_of_density("FeCl3", value)
    elif kind == "hydrate":
        stock = solutions.wt_percent_of_hexahydrate(value)
    else:
        stock = value
    return mixing.mix_stock("iron", form.required_number("volume_l"), stock, form.required_number("wt_percent")), None


def _persulfate(form: Form) -> tuple[Mix, None]:
    return mixing.mix_persulfate(form.required_number("volume_l"), form.required_number("g_per_l")), None


def _peroxide(form: Form) -> tuple[Mix, None]:
    mixed = peroxide.mix_peroxide(
        form.required_number("volume_l"),
        form.required_number("bottle"),
        form.required_number("acid"),
        peroxide_wt_percent=form.required_number("peroxide_wt_percent"),
        acid_wt_percent=form.required_number("acid_wt_percent"),
    )
    return mixed, None


BATHS = {
    "developer": Asked(
        N_("Developer"),
        (
            Input("powder", N_("Which soda powder is it?"), "pick"),
            Input("before_g", N_("Oven check: grams before"), "number", optional=True, bounds=GRAMS),
            Input("after_g", N_("Oven check: grams after"), "number", optional=True, bounds=GRAMS),
            VOLUME,
            _strength("developer"),
        ),
        {"volume_l": "1", "wt_percent": "0.85"},
        _developer,
    ),
    "stripper": Asked(N_("Stripper"), (VOLUME, _strength("stripper")), {"volume_l": "1", "wt_percent": "3"}, _stripper),
    "iron": Asked(
        N_("Ferric chloride"),
        (
            VOLUME,
            _strength("iron"),
            Input("said", N_("What does the can say?"), "pick"),
            Input("stock", N_("The number on the can"), "number", bounds=Bounds(0, 100, above=True)),
            Input(
                "modulus",
                N_("Modulus of the Baumé scale"),
                "number",
                help=N_("145 in the USA; 144, 144.3 and 146.78 are in use. Ask the maker."),
                optional=True,
                bounds=Bounds(min(solutions.BAUME_MODULI), max(solutions.BAUME_MODULI)),
            ),
        ),
        {"volume_l": "1", "wt_percent": "36", "said": "wt"},
        _iron,
    ),
    "persulfate": Asked(
        N_("Persulfate"),
        (
            VOLUME,
            Input(
                "g_per_l", N_("Grams in a litre of finished bath"), "number", bounds=Bounds(*mixing.PERSULFATE_G_PER_L)
            ),
        ),
        {"volume_l": "1", "g_per_l": "250"},
        _persulfate,
    ),
    "peroxide": Asked(
        N_("Peroxide and acid"),
        (
            VOLUME,
            Input(
                "bottle",
                N_("Peroxide: strength on the bottle"),
                "number",
                "%",
                bounds=Bounds(*hazards.PEROXIDE_STOCK_WT_PERCENT),
            ),
            Input("acid", N_("Hydrochloric acid: strength on the bottle"), "number", "%", bounds=ACID),
            Input(
                "peroxide_wt_percent",
                N_("Peroxide in the finished bath"),
                "number",
                "%",
                bounds=Bounds(0, 100, above=True),
            ),
            Input("acid_wt_percent", N_("Acid in the finished bath"), "number", "%", bounds=Bounds(0, 100, above=True)),
        ),
        {"volume_l": "1", "peroxide_wt_percent": "1.8", "acid_wt_percent": "11"},
        _peroxide,
    ),
}
