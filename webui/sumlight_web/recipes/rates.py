"""Etching rates in the form of a recipe: a field for each that it holds, and room for one more. Pure."""

from collections.abc import Container, Mapping

from sumlight.craft.chemistry import hazards
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.store.recipe import Recipe
from sumlight_web.forms import MISSING, Form, Input, quantity
from sumlight_web.language import N_, _

GROUP = "etch_rates_um_min"
UNIT = "µm/min"
METAL, BATH, RATE = "etch_metal", "etch_bath", "etch_rate"
ONE_MORE = (
    Input(METAL, N_("Metal"), "pick", optional=True),
    Input(BATH, N_("Etching bath"), "pick", optional=True),
    quantity(
        Recipe, GROUP, N_("What a fresh bath eats of it"), UNIT, N_("On each side, as timed."), key=RATE, optional=True
    ),
)
"""A rate that the recipe does not hold yet: all three, or none."""


def place(metal: str, bath: str) -> str:
    """Where a recipe keeps a rate."""
    return f"{GROUP}.{metal}.{bath}"


def label(metal: str, bath: str) -> str:
    """What a rate is called."""
    return _("Etching rate of {metal} in {bath}", metal=hazards.NAMES[metal], bath=hazards.NAMES[bath])


def held(keys: Container[str]) -> tuple[Input, ...]:
    """An input for each of the known metals and baths whose place is among the keys."""
    return tuple(
        quantity(
            *(Recipe, GROUP, label(metal, bath), UNIT, N_("On each side. Empty: it goes out of the recipe.")),
            key=place(metal, bath),
            optional=True,
        )
        for metal in hazards.METALS
        for bath in ETCHANTS
        if place(metal, bath) in keys
    )


def new_place(values: Mapping[str, str]) -> str:
    """Where the one more would be kept; empty while metal or bath are not chosen."""
    metal, bath = values.get(METAL, ""), values.get(BATH, "")
    return place(metal, bath) if metal in hazards.METALS and bath in ETCHANTS else ""


def check_one_more(form: Form) -> None:
    """Note what is missing of one more rate, and one that the form holds already."""
    typed = [each for each in ONE_MORE if form.text(each.key)]
    if not typed:
        return
    for each in ONE_MORE:
        offered = {METAL: hazards.METALS, BATH: ETCHANTS}.get(each.key)
        if each not in typed:
            form.add(each.key, _(MISSING) if offered is None else _("Choose one."))
        elif offered is not None and form.text(each.key) not in offered:
            form.add(each.key, _("Choose one."))
    if any(each.key == new_place(form.values) for each in form.inputs):
        form.add(RATE, _("It stands above already: change it there."))
