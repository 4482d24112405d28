"""The recipe form: its fields, what was typed into them, and every mistake beside the field it belongs to. Pure."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import NAME_PATTERN, RECIPE_BYTES, recipe_from_text, recipe_to_text
from sumlight_web.language import N_, _
from sumlight_web.words import sentence

NAME_RULE = re.compile(NAME_PATTERN + r"\Z")
NUMBER = re.compile(r"-?(0|[1-9]\d{0,8})(\.\d{1,9})?\Z", re.ASCII)
WHOLE = re.compile(r"-?(0|[1-9]\d{0,8})\Z", re.ASCII)


@dataclass(frozen=True)
class Field:
    """One input. `key` is its dotted place in the file, `kind` text, long, number, whole or sides."""

    key: str
    label: str
    kind: str
    unit: str = ""
    help: str = ""
    optional: bool = False

    @property
    def html_id(self) -> str:
        """An id for the page."""
        return "f-" + self.key.replace(".", "-").replace("_", "-")


FIELDS = (
    Field("resist", N_("Resist"), "text", help=N_("Maker's name or your own.")),
    Field("thickness_um", N_("Thickness of the resist"), "number", "µm"),
    Field("sides", N_("Sides"), "sides"),
    Field(
        "dose_mj_cm2",
        N_("Dose at the resist"),
        "number",
        "mJ/cm²",
        N_("What reaches the resist, behind film and sheet."),
    ),
    Field(
        "transmission.a",
        N_("Light that passes the stack, side A"),
        "number",
        "",
        N_("A share: 0.82 means 82 %. 1 for none."),
    ),
    Field(
        "transmission.b",
        N_("Light that passes the stack, side B"),
        "number",
        "",
        N_("Only needed for two sides."),
        True,
    ),
    Field("time_guard_s", N_("Time guard per side"), "number", "s", N_("Far longer than the light ever takes.")),
    Field("hold_s", N_("Rest before developing"), "number", "s"),
    Field("hold_limit_s", N_("Longest rest"), "number", "s", N_("Leave empty for no limit."), True),
    Field(
        "interruptions.forgiven",
        N_("Pauses the resist forgives"),
        "whole",
        "",
        N_("More than this: the panel is doubtful."),
    ),
    Field("interruptions.longest_gap_s", N_("Longest pause it forgives"), "number", "s"),
    Field(
        "tolerance",
        N_("Error of the dose that is tolerated"),
        "number",
        "",
        N_("A share, k = 2: from here on the box asks for a check. 0.1 if left empty."),
        True,
    ),
    Field(
        "found_at_mw_cm2",
        N_("Light at the resist at which the dose was found"),
        "number",
        "mW/cm²",
        N_("A factor of two away is told. May stay empty."),
        True,
    ),
    Field(
        "reciprocity_p",
        N_("Exponent p for weak and strong light"),
        "number",
        "",
        N_("1 if left empty: dose alone counts. Light works it out."),
        True,
    ),
    Field("note", N_("Note"), "long", "", "", True),
)


def name_help() -> str:
    """What a recipe may be called."""
    return _("Small letters, digits and hyphens, up to 48; it becomes the name of the file.")


@dataclass
class FilledForm:
    """What was typed, the mistakes by field key (`""`: the form as a whole), and the file's text when it is sound."""

    values: dict[str, str]
    errors: dict[str, list[str]] = field(default_factory=dict)
    text: str = ""

    def add(self, key: str, message: str) -> None:
        """Note a mistake."""
        self.errors.setdefault(key, []).append(message)

    def wrong(self) -> list[Field]:
        """The fields that need attention, in order."""
        return [f for f in FIELDS if f.key in self.errors]


def empty_form() -> FilledForm:
    """A new recipe: nothing about a resist is proposed, for nothing about it is known."""
    return FilledForm({f.key: "" for f in FIELDS} | {"sides": "one"})


def form_of(recipe: Recipe) -> FilledForm:
    """The form that shows an existing recipe."""
    flat: dict[str, str] = {}
    for key, value in recipe.model_dump().items():
        inner = {f"{key}.{name}": part for name, part in value.items()} if isinstance(value, dict) else {key: value}
        flat |= {name: _shown(part) for name, part in inner.items()}
    return FilledForm({f.key: flat.get(f.key, "") for f in FIELDS})


def read_form(typed: Mapping[str, str], name: str) -> FilledForm:
    """Check what was typed for the recipe `name`: numbers first, then everything by the recipe's own rules."""
    form = FilledForm({f.key: typed.get(f.key, "").replace("\r\n", "\n").strip() for f in FIELDS})
    if sum(map(len, form.values.values())) > RECIPE_BYTES:  # before anything is made of it
        form.add("", _("That is more than a recipe may hold: {n} KiB.", n=RECIPE_BYTES // 1024))
        return form
    fields: dict[str, Any] = {}
    for each in FIELDS:
        value = _value(each, form)
        if value is None:
            continue
        group, __, part = each.key.rpartition(".")
        if group:
            fields.setdefault(group, {})[part] = value
        else:
            fields[part] = value
    text = recipe_to_text(fields)
    try:
        recipe_from_text(text, name)
    except FileProblemsError as error:
        _sort_in(error, form)
    if not form.errors:
        form.text = text
    return form


def _value(each: Field, form: FilledForm) -> str | int | float | None:
    """The value of one field, or None when it is empty or wrong (then the mistake is noted)."""
    typed = form.values[each.key]
    if not typed:
        if not each.optional:
            form.add(each.key, _("Fill this in."))
        return None
    if each.kind == "whole":
        if WHOLE.match(typed):
            return int(typed)
        form.add(each.key, _("'{typed}' is not a whole number. Write one such as 2.", typed=_cut(typed)))
        return None
    if each.kind == "number":
        if NUMBER.match(typed):
            return float(typed)
        form.add(each.key, _("'{typed}' is not a number. Write it with a point, such as 12.5.", typed=_cut(typed)))
        return None
    return typed


def _sort_in(error: FileProblemsError, form: FilledForm) -> None:
    """Put each problem beside its field; one about a field that has its own message already is not repeated."""
    keys = [f.key for f in FIELDS]
    for problem in error.problems:
        key = problem.field if problem.field in keys else ""
        parents = [k for k in form.errors if k and (k == problem.field or k.startswith(problem.field + "."))]
        if problem.field and parents:
            continue
        message = sentence(problem.message)
        form.add(key, message if key or not problem.field else f"{problem.field}: {message}")


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        text = format(Decimal(repr(value)), "f")
        return text.rstrip("0").rstrip(".") if "." in text else text
    return str(value)


def _cut(text: str) -> str:
    return text if len(text) <= 30 else text[:29] + "…"
