"""`sumlight job share` and `adopt`: what a job is, through a folder that several boxes share. It lights nothing."""

import argparse
from pathlib import Path

from sumlight.checkedfile import FileProblemsError
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.control.daemon import RECIPES, SOCKET
from sumlight.language import _
from sumlight.protocol.client import ControlClient
from sumlight.store import sharedjobs
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe, UnknownRecipeError
from sumlight.store.sharedjobs import JobThereError, SharedJob


def add_share(command: argparse.ArgumentParser) -> None:
    """Declare the options of `share`."""
    command.add_argument("job", metavar="NUMBER", type=int, help=_("of an open job, as `job list` has it"))
    command.add_argument("folder", type=Path, metavar="FOLDER", help=_("the shared folder"))
    command.add_argument("--name", metavar="NAME", help=_("what it is called there (default: its recipe)"))
    command.add_argument("--replace", action="store_true", help=_("even where the folder has another of that name"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_share)


def add_adopt(command: argparse.ArgumentParser) -> None:
    """Declare the options of `adopt`."""
    command.add_argument("job", metavar="NAME", help=_("of a job in the shared folder"))
    command.add_argument("folder", type=Path, metavar="FOLDER", help=_("the shared folder"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_adopt)


def _share(options: argparse.Namespace) -> Answer:
    _refuse_no_folder(options.folder)
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask("job", job_id=options.job)
    numbers = told["numbers"]
    here = _recipe_here(options.data, numbers["recipe"])
    job = SharedJob(
        plan=numbers["plan"],
        recipe=numbers["recipe"],
        recipe_sha256="" if here is None else here.sha256,
        metal=numbers["metal"],
        thickness_um=numbers["thickness_um"],
        artwork=told["artwork"],
        wanted=told["wanted"],
        steps=[step["written"] for step in told["steps"]],
    )
    name = options.name or numbers["recipe"]
    try:
        sharedjobs.save(options.folder, name, job, replace=options.replace)
    except JobThereError as error:
        lost = _(
            "{file} in the folder is another job, and would be lost: --replace does it, --name avoids it.", file=error
        )
        raise ValueError(lost) from error
    except FileProblemsError as error:
        raise ValueError(in_words(error)) from error
    except OSError as error:
        raise ValueError(_("{folder}: {why}", folder=options.folder, why=error.strerror or error)) from error
    lines = [_("job {number}: shared as {name}", number=options.job, name=name)]
    lines += [
        _(
            "The recipe is shared by itself: sumlight recipes share {name} {folder}",
            name=job.recipe,
            folder=options.folder,
        )
    ]
    return Answer({"name": name} | job.model_dump(), lines)


def _adopt(options: argparse.Namespace) -> Answer:
    _refuse_no_folder(options.folder)
    try:
        job = sharedjobs.load(options.folder, options.job)
    except FileProblemsError as error:
        raise ValueError(in_words(error)) from error
    here = _recipe_here(options.data, job.recipe)
    if here is None:
        words = _(
            "This box has no recipe {name} yet: sumlight recipes adopt {name} {folder}",
            name=job.recipe,
            folder=options.folder,
        )
        raise ValueError(words)
    asked = job.model_dump(exclude={"recipe_sha256"})
    with ControlClient(options.data / SOCKET) as client:
        made = client.ask("job_new", **asked)
    lines = [_("job {number}: {labels}", number=made["job_id"], labels=", ".join(made["labels"]))]
    other = bool(job.recipe_sha256) and here.sha256 != job.recipe_sha256
    if other:
        lines += [
            _("The recipe {name} on this box is not the text that the job was shared with.", name=job.recipe),
            _("See what differs: sumlight recipes shared {folder}", folder=options.folder),
        ]
    return Answer(made | {"other_recipe": other}, lines)


def _recipe_here(data: Path, name: str) -> StoredRecipe | None:
    try:
        return RecipeStore(data / RECIPES).load(name)
    except UnknownRecipeError:
        return None
    except (FileProblemsError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error


def _refuse_no_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise ValueError(_("{folder} is no folder", folder=folder))
