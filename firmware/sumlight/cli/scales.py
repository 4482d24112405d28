"""`sumlight recipes scales` and `take-over`: what doses that were found on another scale are called now."""

import argparse
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.cli.metrology import on_running
from sumlight.cli.rigs import Bench, recipe_of
from sumlight.control.daemon import RECIPES
from sumlight.language import _, text_of
from sumlight.store.recipes import RecipeChangedError, RecipeStore, RecipeStoreError
from sumlight.store.rewriting import CommentsLostError, rewritten, same_light
from sumlight.text.doseunit import unit_of_dose


def add_scales(command: argparse.ArgumentParser) -> None:
    """Declare the options of `scales`."""
    command.add_argument("recipe", nargs="?", metavar="RECIPE", help=_("this one alone"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=lambda options: on_running(options, _scales))


def add_take_over(command: argparse.ArgumentParser) -> None:
    """Declare the options of `take-over`."""
    command.add_argument("recipe", metavar="RECIPE")
    command.add_argument("--keep", action="store_true", help=_("its dose stays: a data sheet gives it"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=lambda options: on_running(options, _take_over))


def _scales(options: argparse.Namespace, bench: Bench) -> Answer:
    asked = {"recipe": options.recipe} if options.recipe else {}
    found = bench.ask("recipe_scales", **asked)
    lines = [line for scale in found["recipes"] for line in _lines(scale)]
    return Answer(found, lines or [_("No recipe has a dose yet.")])


def _lines(scale: dict[str, Any]) -> list[str]:
    told = _("{name}: {told}", name=scale["name"], told=text_of(scale["sentence"]))
    if scale["same_light_mj_cm2"] is None:
        return [told]
    return [told, _("  To take it over: sumlight recipes take-over {name}", name=scale["name"])]


def _take_over(options: argparse.Namespace, bench: Bench) -> Answer:
    data = options.data or shared.default_data(twin=False)
    stored = recipe_of(data, options.recipe)
    (scale,) = bench.ask("recipe_scales", recipe=stored.name)["recipes"] or [None]
    if scale is None:
        raise ValueError(_("recipe '{name}' has no dose yet", name=stored.name))
    if not scale["moved"]:
        raise ValueError(_("there is nothing to take over: {told}", told=text_of(scale["sentence"])))
    if scale["sha256"] != stored.sha256:
        raise ValueError(_("recipe '{name}' was changed meanwhile; look at it, then try again", name=stored.name))
    before = {}
    if not options.keep:
        dose = scale["same_light_mj_cm2"]
        if dose is None:
            raise ValueError(text_of(scale["sentence"]))
        before = {"before_mj_cm2": scale["dose_mj_cm2"]}
        try:
            text = rewritten(stored, same_light(stored.recipe, dose))
            stored = RecipeStore(data / RECIPES).save(stored.name, text, stored.sha256)
        except (RecipeChangedError, RecipeStoreError, CommentsLostError) as error:
            raise ValueError(in_words(error)) from error
    kept = bench.ask("keep_dose", recipe=stored.name, recipe_sha256=stored.sha256, **before)
    unit = unit_of_dose(relative=kept["relative"])
    told = _("{name}: {dose:g} {unit} from now on", name=kept["name"], dose=kept["dose_mj_cm2"], unit=unit)
    return Answer(kept, [told])
