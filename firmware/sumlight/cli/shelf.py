"""`sumlight recipes list` and `show`: what is on the shelf of a box; read from its files, whether it runs or not."""

import argparse
from pathlib import Path

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import RECIPES
from sumlight.store.recipes import RecipeShelf, StoredRecipe, UnknownRecipeError


def add_list(command: argparse.ArgumentParser) -> None:
    """Declare the options of `list`."""
    _add(command)
    command.set_defaults(carry_out=_list)


def add_show(command: argparse.ArgumentParser) -> None:
    """Declare the options of `show`."""
    command.add_argument("name", metavar="RECIPE")
    _add(command)
    command.set_defaults(carry_out=_show)


def _add(command: argparse.ArgumentParser) -> None:
    command.add_argument("--twin", action="store_true", help="those of the simulated box")
    shared.add_data(command, twin=True)


def _shelf(options: argparse.Namespace) -> RecipeShelf:
    data: Path = options.data or shared.default_data(twin=options.twin)
    if not (data / RECIPES).is_dir():
        raise ValueError(f"{data} has no folder {RECIPES}; name the box's data folder with --data")
    return RecipeShelf(data / RECIPES)


def _list(options: argparse.Namespace) -> Answer:
    found, lines = [], []
    for entry in _shelf(options).list():
        if isinstance(entry, StoredRecipe):
            recipe = entry.recipe
            found.append({"name": entry.name, "usable": True} | recipe.model_dump(mode="json"))
            lines.append(f"{entry.name}: {recipe.resist}, {recipe.dose_mj_cm2:g} mJ/cm², sides {recipe.sides}")
        else:
            problems = [str(problem) for problem in entry.problems]
            found.append({"name": entry.name, "usable": False, "problems": problems})
            lines.append(f"{entry.name}: cannot be used; {problems[0]}")
    return Answer({"recipes": found}, lines or ["There is no recipe yet."])


def _show(options: argparse.Namespace) -> Answer:
    try:
        stored = _shelf(options).load(options.name)
    except UnknownRecipeError as error:
        raise ValueError(str(error)) from error
    found = {"name": stored.name, "sha256": stored.sha256, "text": stored.text}
    return Answer(found | {"recipe": stored.recipe.model_dump(mode="json")}, stored.text.splitlines())
