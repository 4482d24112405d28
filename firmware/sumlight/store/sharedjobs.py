"""Jobs in a folder that several boxes share: what a job is, to be begun anew elsewhere. Nothing is lit by it.

One file a job, `NAME.job`, in YAML beside the recipes of the folder. Bounds are control's to judge, when it is begun.
"""

import re
from pathlib import Path
from typing import Annotated

import yaml
from pydantic import Field

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError, Problem
from sumlight.store.files import replace_file
from sumlight.store.recipes import NAME_PATTERN
from sumlight.text.message import say

SUFFIX = ".job"
JOB_BYTES = 16 * 1024

Word = Annotated[str, Field(max_length=64)]


class SharedJob(checkedfile.Checked):
    """What a job is: recipe and the hash of its text, metal, how many panels, plan and steps."""

    plan: Word
    recipe: Word
    recipe_sha256: Annotated[str, Field(max_length=64)] = ""
    metal: Word
    thickness_um: float
    artwork: Annotated[str, Field(max_length=200)] = ""
    wanted: int = 1
    steps: Annotated[list[Annotated[str, Field(max_length=250)]], Field(max_length=60)]


class JobThereError(RuntimeError):
    """A job of that name, with other contents, is in the folder already."""


def names(folder: Path) -> list[str]:
    """Of the jobs in a folder. Raises OSError."""
    return sorted(path.stem for path in folder.iterdir() if path.suffix == SUFFIX and path.name[0] != ".")


def load(folder: Path, name: str) -> SharedJob:
    """Read a job. Raises FileProblemsError, also for a name that is none or is not there."""
    path = _path(folder, name)
    if not path.exists():
        known = [each for each in names(folder) if re.fullmatch(NAME_PATTERN, each)]
        raise FileProblemsError([Problem(path.name, 0, "", say("no_such_shared_job", known=known))])
    return checkedfile.load(path, SharedJob, JOB_BYTES)


def save(folder: Path, name: str, job: SharedJob, *, replace: bool = False) -> None:
    """Write a job. Raises JobThereError where another would be lost, FileProblemsError for a bad name, OSError."""
    path = _path(folder, name)
    if path.exists() and not replace:
        try:
            same = load(folder, name) == job
        except FileProblemsError:
            same = False
        if not same:
            raise JobThereError(path.name)
    replace_file(path, yaml.safe_dump(job.model_dump(), sort_keys=False, allow_unicode=True, width=110).encode())


def _path(folder: Path, name: str) -> Path:
    if not re.fullmatch(NAME_PATTERN, name):
        told = say("recipe_name", name=repr(name), rule=say("recipe_name_rule"))
        raise FileProblemsError([Problem(f"{name}{SUFFIX}", 0, "name", told)])
    return folder / f"{name}{SUFFIX}"
