"""`sumlight recipes shared`, `adopt` and `share`: a folder of recipes for several boxes, perhaps a git work tree."""

import argparse
import difflib
from pathlib import Path

from sumlight.checkedfile import FileProblemsError
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.clock import SystemClock
from sumlight.control.daemon import LOGBOOK, RECIPES
from sumlight.language import _, text_of
from sumlight.store import worktree
from sumlight.store.lamplight import cautions, lamplight_of
from sumlight.store.recipes import RecipeChangedError, RecipeStore, RecipeStoreError, UnknownRecipeError
from sumlight.store.sharing import Compared, NotAdoptedError, Origin, SharedRecipes
from sumlight.text.message import say_named

SHOWN = 10
"""Characters of a version."""


def add_shared(command: argparse.ArgumentParser) -> None:
    """Declare the options of `shared`."""
    _add_folder(command)
    command.add_argument("--pull", action="store_true", help=_("let git fetch what is new there first"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_shared)


def add_adopt(command: argparse.ArgumentParser) -> None:
    """Declare the options of `adopt`."""
    command.add_argument("recipe", metavar="RECIPE")
    _add_folder(command)
    command.add_argument("--replace", action="store_true", help=_("even where this box's recipe was changed"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_adopt)


def add_share(command: argparse.ArgumentParser) -> None:
    """Declare the options of `share`."""
    command.add_argument("recipe", metavar="RECIPE")
    _add_folder(command)
    command.add_argument("--replace", action="store_true", help=_("even where the folder's recipe was changed"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_share)


def _add_folder(command: argparse.ArgumentParser) -> None:
    command.add_argument("folder", type=Path, metavar="FOLDER", help=_("the shared folder"))


def _places(options: argparse.Namespace) -> SharedRecipes:
    if not options.folder.is_dir():
        raise ValueError(_("{folder} is no folder", folder=options.folder))
    return SharedRecipes(RecipeStore(options.data / RECIPES), options.folder)


def _shared(options: argparse.Namespace) -> Answer:
    places = _places(options)
    if options.pull:
        _pull(options.folder)
    kept, lines, found = places.adopted(), [], []
    try:
        compared = places.compared()
    except RecipeStoreError as error:
        raise ValueError(in_words(error)) from error
    for one in compared:
        told = {"name": one.name, "standing": one.standing, "problems": [str(problem) for problem in one.problems]}
        if one.name in kept:
            told |= {"adopted_sha256": kept[one.name].sha256, "adopted_version": kept[one.name].version}
        lines += _stands(one)
        found.append(told)
    return Answer({"recipes": found}, lines or [_("There is no recipe yet.")])


def _adopt(options: argparse.Namespace) -> Answer:
    places, now = _places(options), SystemClock().utc()
    version = worktree.version_of(options.folder, f"{options.recipe}.yaml")
    try:
        was, there = places.adopt(options.recipe, now, version, replace=options.replace)
    except NotAdoptedError as error:
        lost = _("What stands on this box would be lost: --replace does it all the same.")
        raise ValueError("\n".join([*_stands(error.compared), lost])) from error
    except (FileProblemsError, UnknownRecipeError, RecipeChangedError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error
    warnings = list(map(text_of, cautions(there, places.origin(there), lamplight_of(options.data / LOGBOOK))))
    lines = _difference(was) if was.standing != "same" else []
    lines += [_("{name}: adopted, version {version}", name=there.name, version=(version or there.sha256)[:SHOWN])]
    found = {"name": there.name, "was": was.standing, "sha256": there.sha256, "version": version, "warnings": warnings}
    return Answer(found, [*lines, *warnings])


def _share(options: argparse.Namespace) -> Answer:
    places, now, light = _places(options), SystemClock().utc(), lamplight_of(options.data / LOGBOOK)
    origin = Origin(
        recipe_sha256="",
        lamps=list(light.lamps),
        wavelengths=list(light.wavelengths),
        calibrated=light.calibrated,
        shared_utc=now.isoformat(),
    )
    try:
        was, here = places.share(options.recipe, origin, now, replace=options.replace)
    except NotAdoptedError as error:
        lost = _("What stands in the folder would be lost: --replace does it all the same.")
        raise ValueError("\n".join([*_stands(error.compared), lost])) from error
    except (FileProblemsError, UnknownRecipeError, RecipeChangedError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error
    except OSError as error:
        raise ValueError(_("{folder}: {why}", folder=options.folder, why=error.strerror or error)) from error
    told = _("{name}: shared, version {version}", name=here.name, version=here.sha256[:SHOWN])
    return Answer({"name": here.name, "was": was.standing, "sha256": here.sha256}, [told])


def _stands(one: Compared) -> list[str]:
    """How a recipe stands, what is wrong with its file, and what differs."""
    lines = [_("{name}: {told}", name=one.name, told=text_of(say_named(f"standing_{one.standing}")))]
    if one.problems:
        lines += [f"  {line}" for line in in_words(FileProblemsError(list(one.problems))).splitlines()]
    return lines + _difference(one)


def _difference(one: Compared) -> list[str]:
    """What the folder's text takes out of this box's (-) and puts in (+)."""
    if one.here is None or one.there is None or one.standing == "same":
        return []
    lines = difflib.unified_diff(one.here.text.splitlines(), one.there.text.splitlines(), lineterm="", n=0)
    return [f"  {line}" for line in lines if not line.startswith(("---", "+++", "@@"))]


def _pull(folder: Path) -> None:
    """Let git fetch what is new. Raises ValueError with its last word."""
    why = worktree.pull(folder)
    if why == "":
        raise ValueError(_("{program} is missing: apt-get install {package}", program="git", package="git"))
    if why is not None:
        raise ValueError(_("{folder}: {why}", folder=folder, why=why))
