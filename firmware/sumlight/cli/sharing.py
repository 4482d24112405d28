"""`sumlight recipes shared`, `adopt` and `share`: a folder of recipes for several boxes, perhaps a git work tree."""

import argparse
import difflib
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sumlight.checkedfile import FileProblemsError
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.clock import SystemClock
from sumlight.control.calibration.old_scale import BOX_UNITS
from sumlight.control.daemon import LOGBOOK, RECIPES
from sumlight.language import N_, _
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.recipes import RecipeChangedError, RecipeStore, RecipeStoreError, StoredRecipe, UnknownRecipeError
from sumlight.store.sharing import Compared, NotAdoptedError, Origin, SharedRecipes, Standing

STANDS: dict[Standing, str] = {
    "same": N_("the same"),
    "new": N_("new there"),
    "newer_there": N_("changed there"),
    "newer_here": N_("changed here"),
    "apart": N_("different; nobody knows which is newer"),
    "only_here": N_("only here"),
    "unusable": N_("cannot be used"),
}
GIT_LIMIT_S = 120.0
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
    version = _git_version(options.folder, f"{options.recipe}.yaml")
    try:
        was = places.adopt(options.recipe, now, version, replace=options.replace)
        there = RecipeStore(options.folder).load(options.recipe)
    except NotAdoptedError as error:
        lost = _("What stands on this box would be lost: --replace does it all the same.")
        raise ValueError("\n".join([*_stands(error.compared), lost])) from error
    except (FileProblemsError, UnknownRecipeError, RecipeChangedError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error
    warnings = list(_warnings(there, places.origin(there), light_of(options.data)))
    lines = _difference(was) if was.standing != "same" else []
    lines += [_("{name}: adopted, version {version}", name=there.name, version=(version or there.sha256)[:SHOWN])]
    found = {"name": there.name, "was": was.standing, "sha256": there.sha256, "version": version, "warnings": warnings}
    return Answer(found, [*lines, *warnings])


def _share(options: argparse.Namespace) -> Answer:
    places, now, light = _places(options), SystemClock().utc(), light_of(options.data)
    origin = Origin(
        recipe_sha256="",
        lamps=list(light.lamps),
        wavelengths=list(light.wavelengths),
        calibrated=light.calibrated,
        shared_utc=now.isoformat(),
    )
    try:
        was = places.share(options.recipe, origin, now, replace=options.replace)
        here = RecipeStore(options.data / RECIPES).load(options.recipe)
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
    lines = [_("{name}: {told}", name=one.name, told=_(STANDS[one.standing]))]
    if one.problems:
        lines += [f"  {line}" for line in in_words(FileProblemsError(list(one.problems))).splitlines()]
    return lines + _difference(one)


def _difference(one: Compared) -> list[str]:
    """What the folder's text takes out of this box's (-) and puts in (+)."""
    if one.here is None or one.there is None or one.standing == "same":
        return []
    lines = difflib.unified_diff(one.here.text.splitlines(), one.there.text.splitlines(), lineterm="", n=0)
    return [f"  {line}" for line in lines if not line.startswith(("---", "+++", "@@"))]


@dataclass(frozen=True)
class Light:
    """What a box's doses are found under: lamp types and wavelength classes, and whether every bank is calibrated."""

    lamps: tuple[str, ...] = ()
    wavelengths: tuple[str, ...] = ()
    calibrated: bool = False


def light_of(data: Path) -> Light:
    """By the logbook, whether the box runs or not; nothing is known without one. Raises LogbookError."""
    if not (data / LOGBOOK).exists():
        return Light()
    with LogbookReader.open_reader(data / LOGBOOK) as book:
        kept, banks = book.calibrations.kept(), [bank["bank"] for bank in book.lamps.banks()]
        tubes = book.lamps.tubes(removed=False)
    sets = {bank: fitted.number for bank, fitted in kept.lamp_sets.items()}
    absolute = {(one.bank, one.lamp_set) for one in kept.calibrations if one.origin not in BOX_UNITS}
    types = {fitted.lamp_type for fitted in kept.lamp_sets.values()} | {tube["lamp_type"] for tube in tubes}
    return Light(
        tuple(sorted(types)),
        tuple(sorted({tube["wavelength_class"] for tube in tubes} - {""})),
        bool(banks) and all((bank, sets.get(bank, 0)) in absolute for bank in banks),
    )


def _warnings(recipe: StoredRecipe, origin: Origin | None, here: Light) -> Iterator[str]:
    """Why the recipe need not give here what it gave there."""
    strip = _("Light a test strip before the first panel.")
    if recipe.recipe.is_draft:
        yield _("It is lit by time, which holds for the box that it was found on. {strip}", strip=strip)
    elif recipe.recipe.dose_mj_cm2 is None:
        return
    elif origin is None:
        yield _("Nothing says under which lamps this dose was found. {strip}", strip=strip)
    else:
        lamps = {"there": ", ".join(origin.lamps) or "?", "here": ", ".join(here.lamps) or "?"}
        if not (origin.calibrated and here.calibrated):
            other = origin.lamps != list(here.lamps) or not here.lamps
            if other:
                yield _("Other lamps, or lamps that are not recorded: there {there}, here {here}.", **lamps)
            where = _("here") if origin.calibrated else _("there") if here.calibrated else _("there or here")
            yield _("Not calibrated {where}: a mJ/cm² need not be the same light. {strip}", where=where, strip=strip)
        elif origin.wavelengths and here.wavelengths and origin.wavelengths != list(here.wavelengths):
            yield _("Light of another wavelength: a resist may want another dose of it. {strip}", strip=strip)


def _pull(folder: Path) -> None:
    """Only what follows on what is there: nothing is merged, nothing lost. Raises ValueError with git's last word."""
    done = _git(folder, "pull", "--ff-only", "--quiet")
    if done is None:
        raise ValueError(_("{program} is missing: apt-get install {package}", program="git", package="git"))
    if done.returncode != 0:
        said = done.stderr.strip().splitlines() or [f"git: {done.returncode}"]
        raise ValueError(_("{folder}: {why}", folder=folder, why=said[-1]))


def _git_version(folder: Path, name: str) -> str:
    """Git's name for the last change of a file; '' where it is no work tree's, or was changed since."""
    changed = _git(folder, "status", "--porcelain", "--", name)
    last = _git(folder, "log", "-1", "--format=%H", "--", name)
    if changed is None or last is None or changed.returncode or last.returncode or changed.stdout.strip():
        return ""
    return last.stdout.strip()


def _git(folder: Path, *words: str) -> subprocess.CompletedProcess[str] | None:
    try:
        return subprocess.run(  # noqa: S603 - the words are ours
            ["git", "-C", str(folder), *words],  # noqa: S607 - wherever it is installed
            capture_output=True,
            text=True,
            check=False,
            timeout=GIT_LIMIT_S,
        )
    except (FileNotFoundError, subprocess.TimeoutExpired):
        return None
