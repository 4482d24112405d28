"""`sumlight setup check` and `recipes check`: look through files before anything is run with them."""

import argparse
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from sumlight.box.assembly import real_pin_factory
from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.box.description import BoxDescription, load_box
from sumlight.box.inputs import contacts_closed, troubles
from sumlight.box.pin_rules import PI_LIBRARY, BoxOnPi
from sumlight.checkedfile import FileProblemsError
from sumlight.checkedfile import load as load_checked
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.cli.trial import tried_hz
from sumlight.control.exposure.plan import PlanError, make_plan
from sumlight.language import _, text_of
from sumlight.light.tubesight import MARGIN_DEG
from sumlight.store.datalock import DataInUseError, DataLock
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import RECIPE_BYTES
from sumlight.text.message import Message, say
from sumlight.twin.scenario import load_scenario

INSTALLED = Path("/var/lib/sumlight")
"""The data folder of the units in hardware/systemd."""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--box", type=Path, metavar="FILE", help=_("a box.yaml; recipes are then checked against it"))
    command.add_argument("--recipe", type=Path, action="append", default=[], metavar="FILE", help=_("may be repeated"))
    command.add_argument("--recipes", type=Path, metavar="DIR", help=_("a folder of recipes"))
    command.add_argument("--scenario", type=Path, metavar="FILE", help=_("a scenario of the twin"))
    command.add_argument(
        "--measure",
        action="store_true",
        help=_("try for 3 s, without pins, whether this computer is fast enough"),
    )
    command.add_argument(
        "--inputs",
        action="store_true",
        help=_("on the box, controller stopped: read its contacts once, say what is wrong"),
    )
    command.add_argument(
        "--data",
        type=Path,
        metavar="DIR",
        help=_("with --measure or --inputs: the box's data folder, if it is not a usual one"),
    )
    command.set_defaults(carry_out=carry_out)


def add_recipes(command: argparse.ArgumentParser) -> None:
    """Declare the options of `recipes check`."""
    command.add_argument("recipe", type=Path, nargs="+", metavar="FILE")
    command.add_argument("--box", type=Path, metavar="FILE", help=_("check them against this box.yaml"))
    command.set_defaults(carry_out=carry_out, recipes=None, scenario=None, measure=False, inputs=False, data=None)


class Checked:
    """Files looked through so far: what is told of each, mistakes at once on standard error."""

    def __init__(self) -> None:
        self.files: list[dict[str, Any]] = []
        self.lines: list[str] = []
        self.bad = 0

    def usable(self, file: Path, remark: Message | None = None) -> None:
        """Nothing is wrong with it; `remark` is what should be known all the same."""
        self.files.append({"file": str(file), "usable": True} | ({"remark": remark} if remark else {}))
        self.lines.append(
            _("{file}: usable, but {remark}", file=file, remark=remark) if remark else _("{file}: usable", file=file)
        )

    def unusable(self, file: Path, error: Exception) -> None:
        """With every mistake."""
        where = f"{file}: " if isinstance(error, PlanError) else ""  # the others say it themselves
        self.files.append({"file": str(file), "usable": False, "problem": f"{where}{error}"})
        self.bad += _tell(where + in_words(error))


def carry_out(options: argparse.Namespace) -> Answer:
    """Check every file named; 0 if all are usable, 1 with every mistake told otherwise."""
    recipes: list[Path] = list(options.recipe)
    if options.recipes:
        recipes += sorted(options.recipes.glob("*.yaml"))
    if options.inputs and not options.box:
        raise ValueError(_("--inputs needs --box FILE: it says which pin is which contact"))
    if not (options.box or recipes or options.scenario):
        raise ValueError(_("nothing to check: name --box, --recipe, --recipes or --scenario"))
    if options.measure and not options.box:
        raise ValueError(_("--measure needs --box FILE: what is enough depends on the box"))
    checked = Checked()
    box: BoxDescription | None = None
    if options.box:
        try:
            box = load_box(options.box)
            if box.pin_library == PI_LIBRARY:
                load_checked(options.box, BoxOnPi)
            checked.usable(options.box)
            checked.lines += _sight(box)
        except FileProblemsError as error:
            checked.unusable(options.box, error)
    for path in recipes:
        try:
            remark = _check_recipe(path, box)
            checked.usable(path, remark)
        except FileProblemsError as error:
            checked.unusable(path, error)
        except PlanError as error:
            checked.unusable(path, error)
    if options.scenario:
        try:
            scenario = load_scenario(options.scenario)
            if box is not None:
                scenario.check_against(box)
            checked.usable(options.scenario)
        except ValueError as error:
            checked.unusable(options.scenario, error)
    found: dict[str, Any] = {"files": checked.files}
    folders = [options.data] if options.data else [shared.default_data(twin=False), INSTALLED]
    if options.inputs and box is not None and not checked.bad:
        found["inputs"] = _inputs(box, folders, checked)
    if options.measure and box is not None:
        found["rate"] = _measure(box, folders, checked)
    return Answer(found, checked.lines, 1 if checked.bad else 0)


def _measure(box: BoxDescription, folders: list[Path], checked: Checked) -> dict[str, float | bool | None]:
    """Try this computer; refused while control works with one of these folders, since each would slow the other."""
    if box.enable_pin is None:
        checked.lines.append(_("no rate is needed: this box has no charge pump (enable_pin)"))
        return {"measured_hz": None, "needed_hz": None, "enough": True}
    with ExitStack() as held:
        if not _control_rests(held, folders, checked, _("not measured")):
            return {"measured_hz": None, "needed_hz": needed_ticks_hz(), "enough": None}
        rate_hz, needed_hz = tried_hz(box, needed_ticks_hz()), needed_ticks_hz()
    enough = rate_hz is not None and rate_hz >= needed_hz
    rates = {"measured_hz": rate_hz or 0.0, "needed_hz": needed_hz}
    if enough:
        checked.lines.append(_("fast enough: {measured_hz:.0f} ticks a second, {needed_hz:.0f} needed", **rates))
    else:
        told = _("this computer is too slow: {measured_hz:.0f} ticks a second, {needed_hz:.0f} needed", **rates)
        checked.bad += _tell(told)
    return {"measured_hz": rate_hz, "needed_hz": needed_hz, "enough": enough}


def _control_rests(held: ExitStack, folders: list[Path], checked: Checked, instead: str) -> bool:
    """Hold the folders' locks until the end; told and false if control works with one of them."""
    for folder in folders:
        try:
            if folder.exists():
                held.enter_context(DataLock(folder))
        except (OSError, DataInUseError) as error:
            told = _(
                "{instead}: {why} The controller must not run on this box meanwhile.",
                instead=instead,
                why=in_words(error),
            )
            checked.bad += _tell(told)
            return False
    return True


def _inputs(box: BoxDescription, folders: list[Path], checked: Checked) -> dict[str, bool] | None:
    """Each contact as it is now; what is wrong goes to standard error."""
    with ExitStack() as held:
        if not _control_rests(held, folders, checked, _("contacts not read")):
            return None
        try:
            factory = real_pin_factory(box.pin_library)
            held.callback(factory.close)
            closed = contacts_closed(box, factory)
        except Exception as error:  # noqa: BLE001 - the pin library has errors of its own: no chip, a pin in use
            checked.bad += _tell(_("contacts not read: {why}", why=in_words(error)))
            return None
    is_now = {True: _("closed"), False: _("open")}
    checked.lines += [f"{key}: {is_now[is_closed]}" for key, is_closed in closed.items()]
    for trouble in troubles(closed):
        checked.bad += _tell(text_of(trouble))
    return closed


def _sight(box: BoxDescription) -> list[str]:
    """Which tubes each sensor sees, as far as box.yaml says how it looks at them."""
    found = []
    for meter in box.meters:
        if meter.sight is None:
            continue
        looks = meter.sight.of_tubes()
        count = {"sensor": meter.name, "seen": looks.seen, "tubes": looks.tubes}
        if looks.unseen:
            told = _(
                "sensor {sensor} sees {seen} of {tubes} tubes; not seen: {unseen}, and nothing is claimed about those. "
                "To see them all it must accept {needs_deg:.0f}° or more",
                unseen=", ".join(map(str, looks.unseen)),
                needs_deg=looks.farthest_deg + MARGIN_DEG,
                **count,
            )
        else:
            told = _("sensor {sensor} sees {seen} of {tubes} tubes", **count)
        found.append(told)
    return found


def _check_recipe(path: Path, box: BoxDescription | None) -> Message | None:
    """What should be known of a recipe that can be used; mostly nothing."""
    recipe = load_checked(path, Recipe, RECIPE_BYTES)
    if box is None:
        return None
    make_plan(recipe, name=path.stem, text="", sha256="", panel="", note="", box=box, leads_s={})
    wanted_s, limit_s = recipe.time_guard_s, box.limits.lit_limit_s
    if wanted_s <= limit_s:
        return None
    return say("lit_limit_counts", wanted_s=wanted_s, limit_s=limit_s)


def _tell(what: object) -> int:
    print(what, file=sys.stderr)
    return 1
