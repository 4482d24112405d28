"""The shelf of a box, as files: `sumlight recipes list`, `show`, `new`, `put-away`, `take-back`; it need not run."""

import argparse
from collections.abc import Callable
from pathlib import Path

from sumlight.checkedfile import FileProblemsError
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.control.daemon import RECIPES
from sumlight.language import _, named
from sumlight.store.new_recipe import slug, with_defaults
from sumlight.store.recipe import SIDE_NAMES, Recipe, StackTransmission
from sumlight.store.recipes import (
    NOT_THERE,
    RecipeChangedError,
    RecipeStore,
    RecipeStoreError,
    StoredRecipe,
    UnknownRecipeError,
    recipe_to_text,
)


def add_list(command: argparse.ArgumentParser) -> None:
    """Declare the options of `list`."""
    _add(command)
    command.add_argument("--put-away", action="store_true", help=_("those that were put away"))
    command.set_defaults(carry_out=_list)


def add_show(command: argparse.ArgumentParser) -> None:
    """Declare the options of `show`."""
    command.add_argument("name", metavar="RECIPE")
    _add(command)
    command.set_defaults(carry_out=_show)


def add_put_away(command: argparse.ArgumentParser) -> None:
    """Declare the options of `put-away`."""
    command.add_argument("name", metavar="RECIPE")
    _add(command)
    command.set_defaults(carry_out=_put_away)


def add_take_back(command: argparse.ArgumentParser) -> None:
    """Declare the options of `take-back`."""
    command.add_argument("name", metavar="RECIPE")
    _add(command)
    command.set_defaults(carry_out=_take_back)


def add_new(command: argparse.ArgumentParser) -> None:
    """Declare the options of `new`."""
    command.add_argument("name", metavar="NAME", help=_("as you call it, such as 'Brass 8 min'"))
    known = command.add_mutually_exclusive_group(required=True)
    shared.add_amount(
        known, "--time", Recipe, "draft_lit_s", "s", help=_("known to be good, from switching on: 8min, 8:00")
    )
    shared.add_amount(known, "--dose", Recipe, "dose_mj_cm2", "mJ/cm²", help=_("at the resist"))
    known.add_argument("--neither", action="store_true", help=_("a test strip finds it"))
    command.add_argument(
        "--sides", choices=SIDE_NAMES, default="one", help=_("one (default), turned by hand, or together")
    )
    for flag, side in (("--through", "a"), ("--through-b", "b")):
        words = _("light that passes what lies before side {side}: 90%%, 0.9", side=side.upper())
        shared.add_amount(command, flag, StackTransmission, side, "share", default=None, help=words)
    _add(command)
    command.set_defaults(carry_out=_new)


def _add(command: argparse.ArgumentParser) -> None:
    command.add_argument("--twin", action="store_true", help=_("those of the simulated box"))
    shared.add_data(command, twin=True)


def _shelf(options: argparse.Namespace) -> RecipeStore:
    data: Path = options.data or shared.default_data(twin=options.twin)
    if not (data / RECIPES).is_dir():
        raise ValueError(
            _("{data} has no folder {name}; name the box's data folder with --data", data=data, name=RECIPES)
        )
    return RecipeStore(data / RECIPES)


def _list(options: argparse.Namespace) -> Answer:
    found, lines = [], []
    shelf = _shelf(options)
    for entry in (shelf.away if options.put_away else shelf).list():
        if isinstance(entry, StoredRecipe):
            recipe = entry.recipe
            found.append({"name": entry.name, "usable": True} | recipe.model_dump(mode="json"))
            lines.append(f"{entry.name}: {recipe.resist}, {_ending(recipe)}, {named('sides_are', recipe.sides)}")
        else:
            problems = [str(problem) for problem in entry.problems]
            found.append({"name": entry.name, "usable": False, "problems": problems})
            why = in_words(FileProblemsError(list(entry.problems[:1])))
            lines.append(_("{name}: cannot be used; {why}", name=entry.name, why=why))
    none = _("No recipe was put away.") if options.put_away else _("There is no recipe yet.")
    return Answer({"recipes": found}, lines or [none])


def _put_away(options: argparse.Namespace) -> Answer:
    kept = _moved(_shelf(options).put_away, options.name)
    told = _("{name} is put away. Take it back with: sumlight recipes take-back {kept}", name=options.name, kept=kept)
    return Answer({"put_away": options.name, "kept_as": kept}, [told])


def _take_back(options: argparse.Namespace) -> Answer:
    _moved(_shelf(options).take_back, options.name)
    return Answer({"taken_back": options.name}, [_("{name} is on the shelf again.", name=options.name)])


def _moved(move: Callable[[str], str | None], name: str) -> str | None:
    try:
        return move(name)
    except (UnknownRecipeError, RecipeChangedError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error


def _new(options: argparse.Namespace) -> Answer:
    name = slug(options.name)
    told = {
        "sides": options.sides,
        "dose_mj_cm2": options.dose,
        "draft_lit_s": options.time,
        "dose_unknown": options.neither or None,
        "transmission.a": options.through,
        "transmission.b": options.through_b if options.sides != "one" else None,
    }
    text = recipe_to_text(with_defaults(told, options.name.strip()))
    try:
        stored = _shelf(options).save(name, text, NOT_THERE)
    except (RecipeChangedError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error
    found = {"name": stored.name, "sha256": stored.sha256, "recipe": stored.recipe.model_dump(mode="json")}
    return Answer(found, [f"{stored.name}: {_ending(stored.recipe)}, {named('sides_are', stored.recipe.sides)}"])


def _show(options: argparse.Namespace) -> Answer:
    try:
        stored = _shelf(options).load(options.name)
    except UnknownRecipeError as error:
        raise ValueError(in_words(error)) from error
    found = {"name": stored.name, "sha256": stored.sha256, "text": stored.text}
    return Answer(found | {"recipe": stored.recipe.model_dump(mode="json")}, stored.text.splitlines())


def _ending(recipe: Recipe) -> str:
    """What ends the light of a panel."""
    if recipe.draft_lit_s is not None:
        return _("draft, lit for {seconds:g} s", seconds=float(recipe.draft_lit_s))
    if recipe.dose_mj_cm2 is None:
        return _("no dose yet")
    return _("dose {dose_mj_cm2:g}", dose_mj_cm2=float(recipe.dose_mj_cm2))
