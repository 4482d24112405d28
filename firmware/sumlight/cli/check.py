"""`sumlight setup check` and `recipes check`: look through files before anything is run with them."""

import argparse
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.box.description import BoxDescription, load_box
from sumlight.box.pin_rules import PI_LIBRARY, BoxOnPi
from sumlight.checkedfile import FileProblemsError
from sumlight.checkedfile import load as load_checked
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.trial import tried_hz
from sumlight.control.exposure.plan import PlanError, make_plan
from sumlight.store.datalock import DataInUseError, DataLock
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import RECIPE_BYTES
from sumlight.twin.scenario import load_scenario

INSTALLED = Path("/var/lib/sumlight")
"""The data folder of the units in hardware/systemd."""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--box", type=Path, metavar="FILE", help="a box.yaml; recipes are then checked against it")
    command.add_argument("--recipe", type=Path, action="append", default=[], metavar="FILE", help="may be repeated")
    command.add_argument("--recipes", type=Path, metavar="DIR", help="a folder of recipes")
    command.add_argument("--scenario", type=Path, metavar="FILE", help="a scenario of the twin")
    command.add_argument(
        "--measure",
        action="store_true",
        help="try for 3 s, without pins, whether this computer is fast enough",
    )
    command.add_argument(
        "--data", type=Path, metavar="DIR", help="with --measure: the box's data folder, if it is not a usual one"
    )
    command.set_defaults(carry_out=carry_out)


def add_recipes(command: argparse.ArgumentParser) -> None:
    """Declare the options of `recipes check`."""
    command.add_argument("recipe", type=Path, nargs="+", metavar="FILE")
    command.add_argument("--box", type=Path, metavar="FILE", help="check them against this box.yaml")
    command.set_defaults(carry_out=carry_out, recipes=None, scenario=None, measure=False)


class Checked:
    """Files looked through so far: what is told of each, mistakes at once on standard error."""

    def __init__(self) -> None:
        self.files: list[dict[str, Any]] = []
        self.lines: list[str] = []
        self.bad = 0

    def usable(self, file: Path) -> None:
        """Nothing is wrong with it."""
        self.files.append({"file": str(file), "usable": True})
        self.lines.append(f"{file}: usable")

    def unusable(self, file: Path, what: object) -> None:
        """With every mistake."""
        self.files.append({"file": str(file), "usable": False, "problem": str(what)})
        self.bad += _tell(what)


def carry_out(options: argparse.Namespace) -> Answer:
    """Check every file named; 0 if all are usable, 1 with every mistake told otherwise."""
    recipes: list[Path] = list(options.recipe)
    if options.recipes:
        recipes += sorted(options.recipes.glob("*.yaml"))
    if not (options.box or recipes or options.scenario):
        raise ValueError("nothing to check: name --box, --recipe, --recipes or --scenario")
    if options.measure and not options.box:
        raise ValueError("--measure needs --box FILE: what is enough depends on the box")
    checked = Checked()
    box: BoxDescription | None = None
    if options.box:
        try:
            box = load_box(options.box)
            if box.pin_library == PI_LIBRARY:
                load_checked(options.box, BoxOnPi)
            checked.usable(options.box)
        except FileProblemsError as error:
            checked.unusable(options.box, error)
    for path in recipes:
        try:
            _check_recipe(path, box)
            checked.usable(path)
        except FileProblemsError as error:
            checked.unusable(path, error)
        except PlanError as error:
            checked.unusable(path, f"{path}: {error}")
    if options.scenario:
        try:
            scenario = load_scenario(options.scenario)
            if box is not None:
                scenario.check_against(box)
            checked.usable(options.scenario)
        except ValueError as error:
            checked.unusable(options.scenario, error)
    found: dict[str, Any] = {"files": checked.files}
    if options.measure and box is not None:
        folders = [options.data] if options.data else [shared.default_data(twin=False), INSTALLED]
        found["rate"] = _measure(box, folders, checked)
    return Answer(found, checked.lines, 1 if checked.bad else 0)


def _measure(box: BoxDescription, folders: list[Path], checked: Checked) -> dict[str, float | bool | None]:
    """Try this computer; refused while control works with one of these folders, since each would slow the other."""
    if box.enable_pin is None:
        checked.lines.append("no rate is needed: this box has no charge pump (enable_pin)")
        return {"measured_hz": None, "needed_hz": None, "enough": True}
    with ExitStack() as held:
        for folder in folders:
            try:
                if folder.exists():
                    held.enter_context(DataLock(folder))
            except (OSError, DataInUseError) as error:
                checked.bad += _tell(f"not measured: {error} Control must not run on this box meanwhile.")
                return {"measured_hz": None, "needed_hz": needed_ticks_hz(), "enough": None}
        rate_hz, needed_hz = tried_hz(box, needed_ticks_hz()), needed_ticks_hz()
    enough = rate_hz is not None and rate_hz >= needed_hz
    figures = f"{rate_hz or 0:.0f} ticks a second, {needed_hz:.0f} needed"
    if enough:
        checked.lines.append(f"fast enough: {figures}")
    else:
        checked.bad += _tell(f"this computer is too slow: {figures}")
    return {"measured_hz": rate_hz, "needed_hz": needed_hz, "enough": enough}


def _check_recipe(path: Path, box: BoxDescription | None) -> None:
    recipe = load_checked(path, Recipe, RECIPE_BYTES)
    if box is not None:
        make_plan(recipe, name=path.stem, text="", sha256="", panel="", note="", box=box, leads_s={})


def _tell(what: object) -> int:
    print(what, file=sys.stderr)
    return 1
