"""`sumlight check`: look through box.yaml, recipes and scenarios before anything is run with them."""

import argparse
import sys
from pathlib import Path
from typing import Any

from sumlight.box.description import BoxDescription, load_box
from sumlight.checkedfile import FileProblemsError
from sumlight.checkedfile import load as load_checked
from sumlight.control.plan import PlanError, make_plan
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import RECIPE_BYTES
from sumlight.twin.scenario import load_scenario


def add(commands: Any) -> None:
    """Declare the command."""
    command = commands.add_parser("check", help="check box.yaml, recipes and scenarios")
    command.add_argument("--box", type=Path, metavar="FILE", help="a box.yaml; recipes are then checked against it")
    command.add_argument("--recipe", type=Path, action="append", default=[], metavar="FILE", help="may be repeated")
    command.add_argument("--recipes", type=Path, metavar="DIR", help="a folder of recipes")
    command.add_argument("--scenario", type=Path, metavar="FILE", help="a scenario of the twin")
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Check every file named; 0 if all are usable, 1 with every mistake told otherwise."""
    recipes: list[Path] = list(options.recipe)
    if options.recipes:
        recipes += sorted(options.recipes.glob("*.yaml"))
    if not (options.box or recipes or options.scenario):
        raise ValueError("nothing to check: name --box, --recipe, --recipes or --scenario")
    bad = 0
    box: BoxDescription | None = None
    if options.box:
        try:
            box = load_box(options.box)
            print(f"{options.box}: usable")
        except FileProblemsError as error:
            bad += _tell(error)
    for path in recipes:
        try:
            _check_recipe(path, box)
            print(f"{path}: usable")
        except FileProblemsError as error:
            bad += _tell(error)
        except PlanError as error:
            bad += _tell(f"{path}: {error}")
    if options.scenario:
        try:
            scenario = load_scenario(options.scenario)
            if box is not None:
                scenario.check_against(box)
            print(f"{options.scenario}: usable")
        except ValueError as error:
            bad += _tell(error)
    return 1 if bad else 0


def _check_recipe(path: Path, box: BoxDescription | None) -> None:
    recipe = load_checked(path, Recipe, RECIPE_BYTES)
    if box is not None:
        make_plan(recipe, name=path.stem, text="", sha256="", panel="", note="", box=box, leads_s={})


def _tell(what: object) -> int:
    print(what, file=sys.stderr)
    return 1
