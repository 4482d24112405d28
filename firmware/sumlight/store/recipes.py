"""The shelf of recipes: a folder of YAML files, checked when read, replaced as a whole when written."""

import fcntl
import hashlib
import math
import os
import re
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, get_args

import yaml

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError, Problem
from sumlight.store.files import replace_file, sync_folder
from sumlight.store.recipe import Recipe
from sumlight.text.message import Message, say

NAME_PATTERN: Final = r"[a-z0-9][a-z0-9-]{0,47}"
NOT_THERE: Final = ""
"""As `expected_sha256`: the recipe is meant to be new."""

PUT_AWAY: Final = "put-away"
"""Folder on the shelf for recipes that nobody needs at present."""

RECIPE_BYTES: Final = 8 * 1024
"""A recipe is never larger; reading one then takes a few hundredths of a second at worst."""

_NAME_RULE = say("recipe_name_rule")


@dataclass(frozen=True)
class StoredRecipe:
    """A usable recipe: `name` is the file's stem, `text` the exact text, `sha256` the hash of it as UTF-8."""

    name: str
    text: str
    sha256: str
    recipe: Recipe


@dataclass(frozen=True)
class UnusableRecipe:
    """A file on the shelf that cannot be used, with every mistake in it."""

    name: str
    problems: list[Problem]


Listing = list[StoredRecipe | UnusableRecipe]
Mark = tuple[int, int, int, int]
"""Changes when a file does."""
Names = list[str]


class UnknownRecipeError(LookupError):
    """No recipe of this name; `told` says so."""

    def __init__(self, told: Message) -> None:
        super().__init__(told)
        self.told = told


class RecipeChangedError(RuntimeError):
    """The file is no longer the one that was opened for editing; `message` says so."""

    def __init__(self, message: Message) -> None:
        super().__init__(message)
        self.message = message


class RecipeStoreError(RuntimeError):
    """The folder or file could not be read or written; what stood there before still stands. `message` says why."""

    def __init__(self, message: Message) -> None:
        super().__init__(message)
        self.message = message


@lru_cache(maxsize=8)
def recipe_from_text(text: str, name: str) -> StoredRecipe:
    """Check a recipe's text; `name` is the file's stem. A text that was found good lately is not read again.

    Raises FileProblemsError with every mistake.
    """
    file = f"{name}.yaml"
    try:
        raw = text.encode("utf-8")
    except UnicodeEncodeError as error:
        problem = Problem(file, 0, "", say("file_no_text", place=error.start))
        raise FileProblemsError([problem]) from error
    if len(raw) > RECIPE_BYTES:
        limit = RECIPE_BYTES // 1024
        raise FileProblemsError([Problem(file, 0, "", say("recipe_too_large", limit_kib=limit))])
    recipe = checkedfile.parse(text, Recipe, file)
    return StoredRecipe(name, text, hashlib.sha256(raw).hexdigest(), recipe)


class RecipeStore:
    """A folder of `*.yaml`, safe to use from several processes and threads, and to edit by hand meanwhile.

    `folder` need not exist until the first `save`, which makes it. What a file says is kept by the file's time, size
    and number, so that looking at the shelf again reads what has changed and nothing else.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._known: dict[str, tuple[Mark, StoredRecipe | UnusableRecipe]] = {}
        self._reading = threading.Lock()

    @property
    def away(self) -> "RecipeStore":
        """The recipes that were put away; a shelf of its own, which is not looked at for what can be lit."""
        return RecipeStore(self.folder / PUT_AWAY)

    def list(self) -> Listing:
        """Every recipe by name; a bad file stands among them as unusable.

        Raises RecipeStoreError when the folder cannot be read.
        """
        names = self._names()
        with self._reading:
            self._known = {name: known for name, known in self._known.items() if name in names}
            return [self._look(name) for name in names]

    def load(self, name: str) -> StoredRecipe:
        """One recipe, as its file says now.

        Raises FileProblemsError when it has mistakes, UnknownRecipeError when there is none of that name,
        RecipeStoreError when the folder cannot be read.
        """
        names = self._names()
        if name not in names:
            known = say("no_such_recipe_among", name=name, known=names) if names else say("no_recipe_at_all", name=name)
            raise UnknownRecipeError(known)
        with self._reading:
            found = self._look(name, anew=True)
        if isinstance(found, UnusableRecipe):
            raise FileProblemsError(found.problems)
        return found

    def save(self, name: str, text: str, expected_sha256: str | None = None) -> StoredRecipe:
        """Check `text`, then put it in the file's place: a reader sees the old file or the new one.

        With `expected_sha256` the file must still be the one with that hash (NOT_THERE: must not exist).
        Raises FileProblemsError, RecipeChangedError or RecipeStoreError; the old file is then as it was.
        """
        if not re.fullmatch(NAME_PATTERN, name):
            raise FileProblemsError([_name_problem(name)])
        stored = recipe_from_text(text, name)
        with _failing(lambda why: say("recipe_not_saved", name=name, why=why, folder=str(self.folder))):
            self.folder.mkdir(parents=True, exist_ok=True)
            with self._locked():
                self._refuse_change(name, expected_sha256)
                replace_file(self._path(name), text.encode("utf-8"))
        return stored

    def remove(self, name: str) -> None:
        """Delete a recipe, usable or not; exposures keep the text they ran.

        Raises UnknownRecipeError or RecipeStoreError.
        """
        if name not in self._names():
            raise UnknownRecipeError(say("no_recipe_to_remove", name=name))
        with (
            _failing(lambda why: say("recipe_not_removed", name=name, why=why, folder=str(self.folder))),
            self._locked() as folder_fd,
        ):
            self._path(name).unlink(missing_ok=True)
            os.fsync(folder_fd)

    def put_away(self, name: str) -> str:
        """Move a recipe off the shelf, to the byte as it is; returns the name it is kept under.

        That is another one, `blue-38-2`, where one of this name was put away before. Raises UnknownRecipeError or
        RecipeStoreError; nothing has moved then.
        """
        with self._moving(name, self, self.away):
            kept, number = name, 1
            while os.path.lexists(self.away._path(kept)):
                number += 1
                kept = f"{name[:44]}-{number}"
            self._path(name).rename(self.away._path(kept))
        return kept

    def take_back(self, name: str) -> None:
        """Move a recipe that was put away back onto the shelf; one that stands there is never replaced.

        Raises UnknownRecipeError, RecipeChangedError or RecipeStoreError; nothing has moved then.
        """
        with self._moving(name, self.away, self):
            self._refuse_change(name, NOT_THERE)
            self.away._path(name).rename(self._path(name))

    @contextmanager
    def _moving(self, name: str, source: "RecipeStore", target: "RecipeStore") -> Iterator[None]:
        if name not in source._names():
            raise UnknownRecipeError(say("no_recipe_to_move", name=name))
        with (
            _failing(lambda why: say("recipe_not_moved", name=name, why=why, folder=str(self.folder))),
            self._locked() as folder_fd,
        ):
            if not target.folder.exists():  # for everybody who may use the shelf, whatever this process grants others
                target.folder.mkdir()
                target.folder.chmod(self.folder.stat().st_mode & 0o7777)
            yield
            sync_folder(self.away.folder)
            os.fsync(folder_fd)

    def _path(self, name: str) -> Path:
        return self.folder / f"{name}.yaml"

    def _names(self) -> Names:
        """Stems of the files in the folder; a name is looked up here before it becomes a path."""
        try:
            files = [path for path in self.folder.iterdir() if path.suffix == ".yaml" and path.name[0] != "."]
        except FileNotFoundError:
            return []
        except OSError as error:
            told = say("recipes_unreadable", folder=str(self.folder), why=error.strerror or str(error))
            raise RecipeStoreError(told) from error
        return sorted(os.fsencode(path.stem).decode("utf-8", "replace") for path in files)

    def _look(self, name: str, *, anew: bool = False) -> StoredRecipe | UnusableRecipe:
        """What a file says. Known by its time it is not opened; `anew` reads it all the same, for light depends on it,
        but works out only a text that is not the known one."""
        if not re.fullmatch(NAME_PATTERN, name):
            return UnusableRecipe(name, [_name_problem(name)])
        mark = _mark(self._path(name))
        known = self._known.get(name)
        if known is not None and mark == known[0] and not anew:
            return known[1]
        try:
            text = checkedfile.read_text(self._path(name), RECIPE_BYTES)
            same = known is not None and isinstance(known[1], StoredRecipe) and known[1].text == text
            found = known[1] if known is not None and same else recipe_from_text(text, name)
        except FileProblemsError as error:  # the page shows names, not paths of the machine
            short = [Problem(f"{name}.yaml", p.line, p.field, p.message) for p in error.problems]
            found = UnusableRecipe(name, short)
        if mark is not None:
            self._known[name] = mark, found
        return found

    def _refuse_change(self, name: str, expected_sha256: str | None) -> None:
        if expected_sha256 is None:
            return
        present = self._present_sha256(name)
        if present == expected_sha256:
            return
        if expected_sha256 == NOT_THERE:
            raise RecipeChangedError(say("recipe_name_taken", name=name))
        if present:
            raise RecipeChangedError(say("recipe_changed_meanwhile", name=name))
        raise RecipeChangedError(say("recipe_removed_meanwhile", name=name))

    def _present_sha256(self, name: str) -> str:
        """The hash of the file that stands there; of what is no readable file one that nobody can expect."""
        if not os.path.lexists(self._path(name)):
            return NOT_THERE
        try:
            text = checkedfile.read_text(self._path(name))
        except FileProblemsError:
            return "not readable"
        return hashlib.sha256(text.encode("utf-8")).hexdigest()

    @contextmanager
    def _locked(self) -> Iterator[int]:
        """Keep other writers of this folder out; gives the open folder."""
        folder_fd = os.open(self.folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(folder_fd, fcntl.LOCK_EX)
            yield folder_fd
        finally:
            os.close(folder_fd)


@contextmanager
def _failing(told: Callable[[str], Message]) -> Iterator[None]:
    """Let what the operating system refuses leave as a RecipeStoreError, in the words of `told`."""
    try:
        yield
    except OSError as error:
        raise RecipeStoreError(told(error.strerror or str(error))) from error


def recipe_to_text(fields: Mapping[str, Any]) -> str:
    """Orderly YAML from form values: the model's order of keys; unknown keys last, for a check to name them.

    Values may be text as typed: a number is written as one where the model wants one, a blank is left out.
    Parts may be nested or dotted (`transmission.a`). Nothing is checked here; `recipe_from_text` does that.
    """
    return yaml.dump(_ordered(_nested(fields), Recipe), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=4096)


def styled(value: str | float) -> str:
    """A single value as a recipe's text writes it, with the quotes that it needs."""
    return yaml.dump(value, Dumper=_Dumper, allow_unicode=True, width=4096).removesuffix("\n").removesuffix("\n...")


class _Dumper(yaml.SafeDumper):
    """Writes text of several lines as a block, as a person would."""


def _represent_text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    rare_line_ends = any(end in text for end in "\r\x85\u2028\u2029")  # these survive only in double quotes
    style = '"' if rare_line_ends else "|" if "\n" in text else None
    return dumper.represent_scalar(checkedfile.STRING_TAG, text, style=style)


def _represent_float(dumper: yaml.SafeDumper, value: float) -> yaml.ScalarNode:
    """As a plain decimal, which is how quantities are read; YAML's own way would be 1.0e-05."""
    if not math.isfinite(value):
        return dumper.represent_float(value)
    plain = format(Decimal(repr(value)), "f")
    return dumper.represent_scalar("tag:yaml.org,2002:float", plain if "." in plain else f"{plain}.0")


_Dumper.add_representer(str, _represent_text)
_Dumper.add_representer(float, _represent_float)


def _nested(fields: Mapping[str, Any]) -> dict[str, Any]:
    """`{"transmission.a": 1}` as `{"transmission": {"a": 1}}`."""
    found: dict[str, Any] = {}
    for key, value in fields.items():
        group, dot, rest = key.partition(".")
        if dot:
            inner = found.setdefault(group, {})
            if isinstance(inner, dict):
                found[group] = _nested({**inner, rest: value})
        elif isinstance(value, Mapping):
            found[key] = {**found.get(key, {}), **_nested(value)}
        else:
            found[key] = value
    return found


def _ordered(fields: dict[str, Any], model: type[checkedfile.Checked]) -> dict[str, Any]:
    order = [key for key in model.model_fields if key in fields]
    order += [key for key in fields if key not in model.model_fields]
    found = {}
    for key in order:
        annotation = model.model_fields[key].annotation if key in model.model_fields else None
        value = fields[key]
        if isinstance(value, dict):
            if isinstance(annotation, type) and issubclass(annotation, checkedfile.Checked):
                value = _ordered(value, annotation)
            else:
                value = _filled(value)
        elif isinstance(value, str):
            value = _typed(value, annotation)
        if value is not None:
            found[key] = value
    return found


def _filled(group: dict[str, Any]) -> dict[str, Any] | None:
    """A group of free keys without those that say nothing; None when none is left."""
    found = {key: _filled(value) if isinstance(value, dict) else value for key, value in group.items()}
    return {key: value for key, value in found.items() if value is not None} or None


def _typed(text: str, annotation: Any) -> str | int | float | None:
    """Text of a form as the model wants it; None for a blank."""
    plain = text.replace("\r\n", "\n")
    if not plain.strip():
        return None
    wants_text = annotation is str or all(isinstance(choice, str) for choice in get_args(annotation) or [None])
    number = plain.strip()
    if wants_text or not checkedfile.PLAIN_NUMBER.fullmatch(number):
        return plain
    return float(number) if "." in number else int(number)


def _mark(path: Path) -> Mark | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_ino


def _name_problem(name: str) -> Problem:
    return Problem(f"{name}.yaml", 0, "name", say("recipe_name", name=repr(name), rule=_NAME_RULE))
