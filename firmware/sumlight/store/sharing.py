"""A folder of recipes that several boxes share, such as a git work tree, beside the shelf of one box.

Nothing passes from one to the other but by a person's word, one recipe at a time. A panel under light is not touched:
control has had its recipe's text since the start.
"""

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError, Problem
from sumlight.store.files import replace_file
from sumlight.store.recipes import (
    NOT_THERE,
    RecipeChangedError,
    RecipeStore,
    StoredRecipe,
    UnknownRecipeError,
    UnusableRecipe,
)
from sumlight.text.message import say

Standing = Literal["same", "new", "newer_there", "newer_here", "apart", "only_here", "unusable"]
"""How a recipe of the folder stands to the shelf's; `apart`: both were changed, or nobody knows which is older."""
STANDINGS: tuple[Standing, ...] = get_args(Standing)

ADOPTED = ".adopted.json"
"""In the shelf's folder: which version of each recipe came from, or went into, the shared folder last."""
ORIGIN_BYTES = 4 * 1024
MOST_ADOPTED_BYTES = 1024 * 1024

Text = Annotated[str, Field(max_length=200)]


class Origin(BaseModel):
    """Under which light a recipe's dose was found: a file beside it in the shared folder.

    It holds for the text with that hash alone. `lamps` are their types, `wavelengths` their classes, as the box's
    lamp register names them; `calibrated`: doses there are absolute, not in units of the box.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    recipe_sha256: Text
    lamps: Annotated[list[Text], Field(max_length=24)]
    wavelengths: Annotated[list[Text], Field(max_length=24)]
    calibrated: bool
    shared_utc: Text


class Adopted(BaseModel):
    """A recipe as it was taken over or given away last. `version` is git's name for it, '' where there is none."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    sha256: Text
    version: Text
    folder: Text
    utc: Text


@dataclass(frozen=True)
class Compared:
    """One recipe: how it stands, its text here and there where they can be read, and what is wrong with a file."""

    name: str
    standing: Standing
    here: StoredRecipe | None
    there: StoredRecipe | None
    problems: tuple[Problem, ...] = ()


class NotAdoptedError(RuntimeError):
    """Something would be lost; `compared` says what stands where."""

    def __init__(self, compared: Compared) -> None:
        super().__init__(compared.standing)
        self.compared = compared


class SharedRecipes:
    """A shared folder and a shelf. Raises what `RecipeStore` does; every file is checked before it is written."""

    def __init__(self, shelf: RecipeStore, folder: Path) -> None:
        self.folder, self._shelf, self._there = folder, shelf, RecipeStore(folder)

    def compared(self) -> list[Compared]:
        """Every recipe that lies in either place, by name. Raises RecipeStoreError."""
        here, there = ({entry.name: entry for entry in store.list()} for store in (self._shelf, self._there))
        kept = self.adopted()
        return [_compared(name, here.get(name), there.get(name), kept) for name in sorted({*here, *there})]

    def adopt(
        self, name: str, now: datetime, version: str, *, replace: bool = False, seen: tuple[str, str] | None = None
    ) -> tuple[Compared, StoredRecipe]:
        """Put the folder's recipe on the shelf and keep which version that is.

        Returns how both stood before, and what is on the shelf now.

        `seen`: hashes of the texts here and there that a person was shown, NOT_THERE for none that could be read.
        Raises NotAdoptedError where a change made here would be lost, unless told to `replace` it; FileProblemsError,
        UnknownRecipeError, RecipeChangedError, also for what is not as it was `seen`, or RecipeStoreError. Nothing was
        written then.
        """
        found = self._found(name)
        there = found.there or self._there.load(name)
        if seen is not None and seen != (NOT_THERE if found.here is None else found.here.sha256, there.sha256):
            raise RecipeChangedError(say("recipe_changed_meanwhile", name=name))
        if found.standing in ("newer_here", "apart", "unusable") and not replace:
            raise NotAdoptedError(found)
        if found.standing != "same":
            self._shelf.save(name, there.text, _expected(found, found.here))
        self._keep(name, there.sha256, now, version)
        return found, there

    def share(
        self, name: str, origin: Origin, now: datetime, *, replace: bool = False
    ) -> tuple[Compared, StoredRecipe]:
        """Put the shelf's recipe into the folder, with the light that its dose was found under.

        Returns how both stood before, and what is in the folder now. Raises as `adopt` does, for a change made there.
        """
        found = self._found(name)
        here = found.here or self._shelf.load(name)
        if found.standing in ("newer_there", "apart", "unusable") and not replace:
            raise NotAdoptedError(found)
        origin = origin.model_copy(update={"recipe_sha256": here.sha256})
        self._there.save(name, here.text, _expected(found, found.there))
        replace_file(self._origin_file(name), (json.dumps(origin.model_dump(), indent=1) + "\n").encode())
        self._keep(name, here.sha256, now, "")
        return found, here

    def origin(self, there: StoredRecipe) -> Origin | None:
        """Under which light the folder's recipe was found; None where nothing sound says so of this text."""
        try:
            raw = checkedfile.read_text(self._origin_file(there.name), ORIGIN_BYTES)
            found = Origin.model_validate_json(raw)
        except (FileProblemsError, ValidationError):
            return None
        return found if found.recipe_sha256 == there.sha256 else None

    def adopted(self) -> dict[str, Adopted]:
        """By name. A file that is lost or damaged only means that nobody knows which side is the older one."""
        found: dict[str, Adopted] = {}
        try:
            given: Any = json.loads(checkedfile.read_text(self._shelf.folder / ADOPTED, MOST_ADOPTED_BYTES))
        except (FileProblemsError, ValueError, RecursionError):
            return found
        for name, entry in given.items() if isinstance(given, dict) else ():
            with suppress(ValidationError):
                found[name] = Adopted.model_validate(entry)
        return found

    def _found(self, name: str) -> Compared:
        every = {one.name: one for one in self.compared()}
        if name not in every:
            raise UnknownRecipeError(say("no_such_recipe_among", name=name, known=list(every)))
        return every[name]

    def _origin_file(self, name: str) -> Path:
        return self.folder / f"{name}.origin.json"

    def _keep(self, name: str, sha256: str, now: datetime, version: str) -> None:
        entry = Adopted(sha256=sha256, version=version, folder=str(self.folder), utc=now.isoformat())
        kept = self.adopted() | {name: entry}
        raw = json.dumps({each: one.model_dump() for each, one in sorted(kept.items())}, indent=1)
        replace_file(self._shelf.folder / ADOPTED, raw.encode() + b"\n")


def _expected(found: Compared, replaced: StoredRecipe | None) -> str | None:
    """What must still stand in the place of what is written; a file that cannot be used was to be replaced."""
    if found.standing == "unusable":
        return None
    return NOT_THERE if replaced is None else replaced.sha256


Entry = StoredRecipe | UnusableRecipe | None


def _compared(name: str, here: Entry, there: Entry, kept: Mapping[str, Adopted]) -> Compared:
    own = here if isinstance(here, StoredRecipe) else None
    other = there if isinstance(there, StoredRecipe) else None
    bad = [entry for entry in (here, there) if isinstance(entry, UnusableRecipe)]
    standing: Standing
    if bad:
        standing = "unusable"
    elif own is None or other is None:
        standing = "only_here" if other is None else "new"
    elif own.sha256 == other.sha256:
        standing = "same"
    else:
        last = kept[name].sha256 if name in kept else None
        standing = "newer_there" if own.sha256 == last else "newer_here" if other.sha256 == last else "apart"
    return Compared(name, standing, own, other, tuple(problem for entry in bad for problem in entry.problems))
