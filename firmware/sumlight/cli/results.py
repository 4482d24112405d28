"""`sumlight recipes results`: what came of a recipe's panels, and one number of it put into the recipe."""

import argparse
from dataclasses import asdict
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.cli.metrology import on_running
from sumlight.cli.rigs import Bench, recipe_of
from sumlight.control.daemon import LOGBOOK, RECIPES
from sumlight.craft import learning
from sumlight.craft.learning import Learned, What
from sumlight.language import _
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.results import place, results_of
from sumlight.store.recipes import RecipeChangedError, RecipeStore, RecipeStoreError, StoredRecipe
from sumlight.store.rewriting import CommentsLostError, rewritten, same_light

APPLIED: dict[str, What] = {"dose": "dose", "break-point": "break_point", "etch-rates": "etch_rate"}


def add_results(command: argparse.ArgumentParser) -> None:
    """Declare the options of `results`."""
    command.add_argument("recipe", metavar="RECIPE")
    command.add_argument(
        "--apply",
        choices=tuple(APPLIED),
        metavar="WHAT",
        help=_("put it into the recipe: dose, break-point, etch-rates"),
    )
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_results)


def _results(options: argparse.Namespace) -> Answer:
    stored = recipe_of(options.data, options.recipe)
    found = _found(options, stored)
    if options.apply is not None:
        wanted = [each for each in found if each.what == APPLIED[options.apply]]
        if not wanted:
            raise ValueError(_("no panel of '{name}' says anything of that yet", name=stored.name))
        return on_running(options, lambda _options, bench: _put(options, bench, stored, wanted))
    lines = [learning.sentence(each) for each in found]
    return Answer(
        {"recipe": stored.name, "learned": [asdict(each) for each in found]},
        lines or [_("No panel of '{name}' says anything yet.", name=stored.name)],
    )


def _found(options: argparse.Namespace, stored: StoredRecipe) -> list[Learned]:
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        results = results_of(book, stored.name)
    recipe = stored.recipe
    return learning.of_recipe(results, recipe.dose_mj_cm2, recipe.break_point_share, recipe.etch_rates_um_min)


def _put(options: argparse.Namespace, bench: Bench, stored: StoredRecipe, found: list[Learned]) -> Answer:
    dose = next((each for each in found if each.what == "dose"), None)
    for scale in bench.ask("recipe_scales", recipe=stored.name)["recipes"]:
        if dose is not None and scale["moved"]:
            raise ValueError(
                _("its dose was found on another scale; first: sumlight recipes take-over {name}", name=stored.name)
            )
    values: dict[str, Any] = {place(each): float(f"{each.mid:.3g}") for each in found}
    if dose is not None:
        values = same_light(stored.recipe, values[place(dose)])
    try:
        saved = RecipeStore(options.data / RECIPES).save(stored.name, rewritten(stored, values), stored.sha256)
    except (RecipeChangedError, RecipeStoreError, CommentsLostError) as error:
        raise ValueError(in_words(error)) from error
    if dose is not None:
        before = {"before_mj_cm2": stored.recipe.dose_mj_cm2}
        bench.ask("keep_dose", recipe=stored.name, recipe_sha256=saved.sha256, **before)
    version = {"name": stored.name, "version": saved.sha256[:10]}
    told = [_("{name}: {key} {value:g}, version {version}", key=key, value=values[key], **version) for key in values]
    return Answer(version | {"values": values}, told)
