"""The recipe form: its fields, what was typed into them, and every mistake beside the field it belongs to. Pure."""

import re
from collections.abc import Container, Mapping
from dataclasses import dataclass
from typing import Any

from sumlight.checkedfile import FileProblemsError
from sumlight.quantity import shown
from sumlight.store.new_recipe import with_defaults
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import NAME_PATTERN, RECIPE_BYTES, recipe_from_text, recipe_to_text
from sumlight_web.forms import Form, Input, quantity, read, text
from sumlight_web.language import N_, _
from sumlight_web.recipes import rates
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

NAME_RULE = re.compile(NAME_PATTERN + r"\Z")

NAME = Input("name", N_("Name"), longest=48)
ASKED = (
    Input("sides", N_("Sides"), "pick"),
    Input("known", N_("What do you know?"), "pick"),
    quantity(
        Recipe,
        "draft_lit_s",
        N_("Time under the lamps"),
        "s",
        N_("From switching on, warm-up included, such as 8 min, 8:00 or 480 s. The dose is measured meanwhile."),
        optional=True,
    ),
    quantity(
        Recipe,
        "dose_mj_cm2",
        N_("Dose at the resist"),
        "mJ/cm²",
        N_("What reaches the resist, behind film and sheet."),
        optional=True,
    ),
)
"""What a new recipe asks for beside its name."""

MORE = (
    text(
        Recipe,
        "resist",
        N_("Resist"),
        N_("Maker's name or your own; the recipe's name if left empty."),
        optional=True,
    ),
    quantity(Recipe, "thickness_um", N_("Thickness of the resist"), "µm", optional=True),
    quantity(
        Recipe,
        "transmission.a",
        N_("Light that passes glass and film, side A"),
        "share",
        N_("A share, such as 0.82 or 82 %. 1 for none."),
        optional=True,
    ),
    quantity(
        Recipe,
        "transmission.b",
        N_("Light that passes glass and film, side B"),
        "share",
        N_("As side A if left empty."),
        optional=True,
    ),
    quantity(
        Recipe,
        "time_guard_s",
        N_("Time guard per side"),
        "s",
        N_("Far longer than the light ever takes. Twice the known time, or 30 min, if left empty."),
        optional=True,
    ),
    quantity(Recipe, "hold_s", N_("Rest before developing"), "s", N_("15 min if left empty."), optional=True),
    quantity(Recipe, "hold_limit_s", N_("Longest rest"), "s", N_("Leave empty for no limit."), optional=True),
    quantity(
        Recipe,
        "interruptions.forgiven",
        N_("Pauses the resist forgives"),
        help=N_("More than this: the panel is doubtful. 2 if left empty."),
        optional=True,
    ),
    quantity(
        Recipe,
        "interruptions.longest_gap_s",
        N_("Longest pause it forgives"),
        "s",
        N_("1 min if left empty."),
        optional=True,
    ),
    quantity(
        Recipe,
        "tolerance",
        N_("Error of the dose that is tolerated"),
        "share",
        N_("A share: from here on the box asks for a check. 0.1 if left empty."),
        optional=True,
    ),
    quantity(
        Recipe,
        "found_at_mw_cm2",
        N_("Light at the resist at which the dose was found"),
        "mW/cm²",
        N_("The box says so when the light is a factor of two away."),
        optional=True,
    ),
    quantity(
        Recipe,
        "reciprocity_p",
        N_("Exponent p for weak and strong light"),
        help=N_("1 if left empty: dose alone counts. Light works it out."),
        optional=True,
    ),
    quantity(
        Recipe,
        "break_point_share",
        N_("Break point, as a share of the dwell"),
        "share",
        N_("When the panel is clear in the developer. 0.6 if left empty."),
        optional=True,
    ),
    text(Recipe, "note", N_("Note"), kind="long", optional=True),
)
"""What has a default."""

FIELDS = (*ASKED, *MORE)

KNOWN = (("time", N_("A time"), "draft_lit_s"), ("dose", N_("A dose"), "dose_mj_cm2"), ("neither", N_("Neither"), ""))
"""What a person may know of the light, and the field that it is typed into."""
MISSING = {
    "draft_lit_s": N_("Give the time, such as 8 min, 8:00 or 480 s."),
    "dose_mj_cm2": N_("Give the dose, such as 60 mJ/cm²."),
}


def name_help() -> str:
    """What a recipe may be called."""
    return _("Small letters, digits and hyphens, up to 48; it becomes the name of the file.")


def new_name_help() -> str:
    """The same of a form that makes a name of what people write."""
    return _("As you call it, such as Brass 8 min.")


@dataclass
class RecipeForm(Form):
    """Its inputs are NAME, FIELDS and those of etching rates; `label` is the recipe's name as the person wrote it.

    `comments_go` says that saving once more drops the file's comments.
    """

    comments_go: bool = False
    label: str = ""

    @property
    def known(self) -> str:
        """What the person knows: time, dose or neither. Where a form does not say it, its dose is meant."""
        return self.values.get("known") or ("time" if self.values.get("draft_lit_s") else "dose")

    @property
    def rates(self) -> tuple[Input, ...]:
        """The etching rates that it holds."""
        return tuple(each for each in self.inputs if each.key.startswith(f"{rates.GROUP}."))

    @property
    def rate_wrong(self) -> bool:
        """Whether one more etching rate needs attention."""
        return any(each.key in self.errors for each in rates.ONE_MORE)

    @property
    def more_wrong(self) -> bool:
        """Whether a field with a default needs attention."""
        return self.rate_wrong or any(each.key in self.errors for each in (*MORE, *self.rates))

    @property
    def fields(self) -> dict[str, Any]:
        """Values as the file is to say them, by their dotted places; what was left empty is None or has its default."""
        found: dict[str, Any] = {}
        for each in (*FIELDS, *self.rates):
            value: Any = self.values.get(each.key) or None
            if each.numeric:
                value = self.number(each.key)
                value = int(value) if each.kind == "whole" and value is not None else value
            if each.key != "known":
                found[each.key] = value
        found["dose_unknown"] = True if self.known == "neither" else None
        if (place := rates.new_place(self.values)) and self.number(rates.RATE) is not None:
            found[place] = self.number(rates.RATE)
        return with_defaults(found, self.label)


def empty_form() -> RecipeForm:
    """A new recipe: nothing about a resist is proposed, for nothing about it is known."""
    inputs = _inputs()
    return RecipeForm(inputs, {f.key: "" for f in inputs} | {"sides": "one", "known": "time"})


def _inputs(held: Container[str] = ()) -> tuple[Input, ...]:
    """Those of a form for a recipe that says something at these places."""
    return (NAME, *FIELDS, *rates.held(held), *rates.ONE_MORE)


def form_of(recipe: Recipe) -> RecipeForm:
    """The form that shows an existing recipe."""
    flat: dict[str, str] = {}
    for key, value in recipe.model_dump().items():
        inner = {f"{key}.{name}": part for name, part in value.items()} if isinstance(value, dict) else {key: value}
        flat |= {name: _shown(part) for name, part in inner.items()}
    flat |= {
        rates.place(metal, bath): _shown(rate)
        for metal, baths in (recipe.etch_rates_um_min or {}).items()
        for bath, rate in baths.items()
    }
    flat["known"] = "time" if recipe.is_draft else "neither" if recipe.dose_unknown else "dose"
    inputs = _inputs(flat)
    return RecipeForm(inputs, {f.key: f.proposed(flat.get(f.key, "")) for f in inputs if f is not NAME})


def read_form(typed: Mapping[str, str], name: str, label: str = "") -> RecipeForm:
    """Check what was typed for the recipe `name`: each field, then everything by the recipe's own rules.

    `label` is the name as the person wrote it.
    """
    inputs = _inputs(typed)
    asked = inputs[1:]
    form = RecipeForm(inputs, {f.key: typed.get(f.key, "") for f in asked}, label=label or name)
    if sum(map(len, form.values.values())) > RECIPE_BYTES:  # before anything is made of it
        form.add("", _("That is more than a recipe may hold: {n} KiB.", n=RECIPE_BYTES // 1024))
        return form
    form.values["sides"] = form.values["sides"] or "one"
    form.values["known"] = form.known
    unasked = {key: "" for known, _label, key in KNOWN if key and known != form.known}
    found = read(asked, form.values | unasked)
    form.values, form.errors, form.numbers, form.status = found.values, found.errors, found.numbers, found.status
    wanted = next((key for known, _label, key in KNOWN if known == form.known), "")
    if wanted and not form.text(wanted):
        form.add(wanted, _(MISSING[wanted]))
    rates.check_one_more(form)
    try:
        recipe_from_text(recipe_to_text(form.fields), name)
    except FileProblemsError as error:
        _sort_in(error, form)
    return form


def _sort_in(error: FileProblemsError, form: RecipeForm) -> None:
    """Put each problem beside its field; one about a field that has its own message already is not repeated."""
    keys = [f.key for f in form.inputs if f is not NAME]
    one_more = rates.new_place(form.values)
    for problem in error.problems:
        key = problem.field if problem.field in keys else rates.BATH if one_more and problem.field == one_more else ""
        parents = [k for k in form.errors if k and (k == problem.field or k.startswith(problem.field + "."))]
        if problem.field and parents:
            continue
        message = sentence(text_of(problem.message))
        form.add(key, message if key or not problem.field else f"{problem.field}: {message}")


def _shown(value: object) -> str:
    return "" if value is None else shown(value) if isinstance(value, float) else str(value)
