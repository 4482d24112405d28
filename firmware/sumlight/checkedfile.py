"""Hand-edited YAML into checked models, with every mistake listed by file, line and field.

Used by the box description, the recipes and the twin's scenarios, so that all three speak alike.
"""

import math
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ConfigDict, ValidationError

MAX_BYTES = 64 * 1024
MAX_DEPTH = 20
MOST_PROBLEMS = 20
"""So many mistakes of a file are told; nobody mends more at a sitting, and a page full of them costs time."""

STRING_TAG = "tag:yaml.org,2002:str"
NUMBER_TAGS = ("tag:yaml.org,2002:int", "tag:yaml.org,2002:float")

PLAIN_NUMBER = re.compile(r"[+-]?(0|[1-9][0-9]{0,29})(\.[0-9]{1,30})?")
"""How a quantity is written. YAML 1.1 reads 060 as 48, 1:10.5 as 70.5 and 6_0 as 60, where people mean otherwise."""

PLAIN_RULE = "Write a number like 60, 0.84 or -3, without leading zeros, exponents, colons or underscores"
ODD_NUMBER = re.compile(r"[+-]?(0[xob][0-9a-fA-F]+|[0-9.]+([eE][+-]?[0-9]+)?)")
"""Texts that other programs take for numbers."""

HEX_ADDRESS = re.compile(r"0x[0-9a-fA-F]{1,4}")
HEX_KEYS = ("i2c_address",)
"""Fields whose numbers people know in hexadecimal: data sheets and bus scanners give them so."""

_STARTS = (
    yaml.BlockMappingStartToken,
    yaml.BlockSequenceStartToken,
    yaml.FlowMappingStartToken,
    yaml.FlowSequenceStartToken,
)
_ENDS = (yaml.BlockEndToken, yaml.FlowMappingEndToken, yaml.FlowSequenceEndToken)

Model = TypeVar("Model", bound=BaseModel)
Location = tuple[int | str, ...]


class Checked(BaseModel):
    """Base of all file models: unknown keys refused, no silent conversions, not changed once read."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


@dataclass(frozen=True)
class Problem:
    """One mistake in a file.

    `line` counts from 1 (0: the file as a whole); `field` is a dotted path such as `banks[0].relay_pin`.
    """

    file: str
    line: int
    field: str
    message: str

    def __str__(self) -> str:
        where = f"{self.file}, line {self.line}" if self.line else self.file
        return f"{where}: {self.field}: {self.message}" if self.field else f"{where}: {self.message}"


class MistakesError(ValueError):
    """Raised by a model's own validator: mistakes across fields, each with the place to point at."""

    def __init__(self, found: list[tuple[Location, str]]) -> None:
        self.found = found
        super().__init__("; ".join(message for _, message in found))


class FileProblemsError(ValueError):
    """A file cannot be used; `problems` holds the mistakes in the order of the file, at most MOST_PROBLEMS of them.

    Where there are more, the last entry tells how many.
    """

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems, key=lambda p: p.line)
        if len(self.problems) > MOST_PROBLEMS:
            left = self.problems[MOST_PROBLEMS - 1 :]
            more = f"and {len(left)} more mistakes from here on; mend the others first"
            self.problems[MOST_PROBLEMS - 1 :] = [Problem(left[0].file, left[0].line, "", more)]
        super().__init__("\n".join(str(p) for p in self.problems))


def load(path: Path, model: type[Model], most_bytes: int = MAX_BYTES) -> Model:
    """Read `path` into `model`; a larger file than `most_bytes` is refused.

    Raises FileProblemsError for anything wrong, an unreadable file included.
    """
    return parse(read_text(path, most_bytes), model, str(path))


def read_text(path: Path, most_bytes: int = MAX_BYTES) -> str:
    """The text of a hand-edited file, bounded in size; raises FileProblemsError when it cannot be read.

    Only a plain file is opened, and never waited for: a pipe of that name would hold up its reader for ever.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise _whole_file(str(path), "cannot be read: it is not a file")
        with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK), "rb") as file:
            raw = file.read(most_bytes + 1)
    except OSError as error:
        raise _whole_file(str(path), f"cannot be read: {error.strerror or error}") from error
    if len(raw) > most_bytes:
        raise _whole_file(str(path), f"is larger than {most_bytes // 1024} KiB, more than such a file needs")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _whole_file(str(path), f"is not UTF-8 text (byte {error.start}); save it as UTF-8") from error


def parse(text: str, model: type[Model], name: str) -> Model:
    """Read YAML `text` into `model`; `name` stands for the file in messages.

    Raises FileProblemsError listing every mistake with its line and field.
    """
    data, lines = _understood(text, name)
    try:
        return model.model_validate(data)
    except ValidationError as error:
        found = []
        for detail in error.errors(include_url=False):
            found += _problems(detail, model, name, lines)
        raise FileProblemsError(found) from error


def understood(text: str, name: str) -> dict[str, Any]:
    """What YAML `text` says, before any model has judged it. Raises FileProblemsError."""
    return _understood(text, name)[0]


def _understood(text: str, name: str) -> tuple[dict[str, Any], dict[Location, int]]:
    """What a text says, and the line of every field."""
    root = _compose(text, name)
    problems: list[Problem] = []
    lines: dict[Location, int] = {}
    if root is not None:
        _walk(root, (), name, lines, problems)
    if problems:
        raise FileProblemsError(problems)
    data = None if root is None else _construct(root, name)
    if not isinstance(data, dict):
        raise _whole_file(name, "must hold `key: value` lines")
    return data, lines


def dotted(location: Location) -> str:
    """`("banks", 0, "relay_pin")` as `banks[0].relay_pin`."""
    out = ""
    for part in location:
        out += f"[{part}]" if isinstance(part, int) else f".{part}" if out else part
    return out


def _whole_file(name: str, message: str) -> FileProblemsError:
    return FileProblemsError([Problem(name, 0, "", message)])


def _compose(text: str, name: str) -> yaml.Node | None:
    depth = 0
    try:
        for token in yaml.scan(text, Loader=yaml.SafeLoader):
            depth += isinstance(token, _STARTS) - isinstance(token, _ENDS)
            if depth > MAX_DEPTH:
                message = f"is nested more than {MAX_DEPTH} deep"
                raise FileProblemsError([Problem(name, token.start_mark.line + 1, "", message)])
            if isinstance(token, yaml.AliasToken | yaml.TagToken):
                unused = "aliases (*name)" if isinstance(token, yaml.AliasToken) else "tags (!name)"
                message = f"{unused} are not used here; write it out"
                raise FileProblemsError([Problem(name, token.start_mark.line + 1, "", message)])
        return yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 0
        raise FileProblemsError([Problem(name, line, "", f"is not valid YAML: {error.problem}")]) from error
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        message = f"holds a character that YAML does not allow (#x{_code(error.character):04x}); remove it"
        raise FileProblemsError([Problem(name, line, "", message)]) from error


def _code(character: int | str | bytes) -> int:
    return character if isinstance(character, int) else ord(character)


def _construct(root: yaml.Node, name: str) -> Any:
    loader = yaml.SafeLoader("")
    try:
        return loader.construct_document(root)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 0
        raise FileProblemsError([Problem(name, line, "", f"is not valid YAML: {error.problem}")]) from error
    finally:
        loader.dispose()


def _unreadable(node: yaml.ScalarNode) -> str | None:
    """Why YAML cannot make a value of a scalar, such as a date 2026-99-99; None when it can."""
    loader = yaml.SafeLoader("")
    try:
        loader.construct_object(node)
    except ValueError as error:
        return f"cannot be read: {str(error).split(';')[0]} (given: {_shown(node.value)})"
    except yaml.constructor.ConstructorError:  # a lone = has a meaning of its own in YAML
        return f"cannot be read; put it in quotes (given: {_shown(node.value)})"
    finally:
        loader.dispose()
    return None


def _not_plain(node: yaml.ScalarNode, at: Location) -> str | None:
    """Why a number is not written as people here write one; None when it is, and for what is no number."""
    if node.tag not in NUMBER_TAGS or PLAIN_NUMBER.fullmatch(node.value):
        return None
    if at and at[-1] in HEX_KEYS and HEX_ADDRESS.fullmatch(node.value):
        return None
    loader = yaml.SafeLoader("")
    try:
        taken = f"; YAML would take it for {_shown(loader.construct_object(node))}"
    except (ValueError, OverflowError, IndexError):  # it looks like a number and is none
        taken = ""
    finally:
        loader.dispose()
    return f"is not written as a plain decimal (given: {node.value[:40]}{taken}). {PLAIN_RULE}; quote a text"


def _walk(node: yaml.Node, at: Location, name: str, lines: dict[Location, int], problems: list[Problem]) -> None:
    """Note the line of every field; YAML itself would let a repeated key pass, the last one winning."""
    lines[at] = node.start_mark.line + 1
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode) or key.tag != STRING_TAG:
                shown = f"'{key.value}'" if isinstance(key, yaml.ScalarNode) else "a list or a mapping"
                message = f"{shown} is not a word that can be a key; quote it or remove it"
                problems.append(Problem(name, key.start_mark.line + 1, dotted(at), message))
                continue
            here = (*at, key.value)
            if here in lines:
                message = f"stands twice, first on line {lines[here]}"
                problems.append(Problem(name, key.start_mark.line + 1, dotted(here), message))
            _walk(value, here, name, lines, problems)
            lines[here] = key.start_mark.line + 1
    elif isinstance(node, yaml.SequenceNode):
        for index, value in enumerate(node.value):
            _walk(value, (*at, index), name, lines, problems)
    elif isinstance(node, yaml.ScalarNode) and node.tag != STRING_TAG:
        why = _not_plain(node, at) or _unreadable(node)
        if why:
            problems.append(Problem(name, node.start_mark.line + 1, dotted(at), why))


def _problems(detail: Any, model: type[BaseModel], name: str, lines: dict[Location, int]) -> list[Problem]:
    raw: Location = tuple(detail["loc"])
    kind = detail["type"]
    location = _in_file(raw, lines, kind == "missing")
    given = detail.get("input")
    shown = "" if isinstance(given, dict | list) else f" (given: {_shown(given)})"
    match kind:
        case "extra_forbidden":
            message = f"unknown key; known here: {', '.join(_keys_at(model, raw[:-1]))}"
        case "missing":
            message = "is missing and has no default"
        case "model_type" | "model_attributes_type":
            message = f"needs keys of its own: {', '.join(_keys_at(model, raw))}{shown}"
        case "union_tag_not_found":
            location = (*location, detail["ctx"]["discriminator"].strip("'"))
            message = "is missing and has no default"
        case "union_tag_invalid":
            location = (*location, detail["ctx"]["discriminator"].strip("'"))
            message = f"should be one of {detail['ctx']['expected_tags']} (given: '{detail['ctx']['tag']}')"
        case "value_error":
            error = detail["ctx"]["error"]
            if isinstance(error, MistakesError):
                places = [((*location, *at), text) for at, text in error.found]
                return [Problem(name, _line(at, lines), dotted(at), text) for at, text in places]
            message = f"{error}{shown}"
        case _:
            text = detail["msg"]
            message = text[0].lower() + text[1:] + shown
            if kind in ("float_type", "int_type") and isinstance(given, str) and ODD_NUMBER.fullmatch(given):
                message += f". {PLAIN_RULE}"
    return [Problem(name, _line(location, lines), dotted(location), message)]


def _in_file(location: Location, lines: dict[Location, int], missing: bool) -> Location:
    """`location` without the names pydantic puts in for the chosen one of several models."""
    kept: Location = ()
    for index, part in enumerate(location):
        last = index == len(location) - 1
        if (*kept, part) in lines or (last and missing):
            kept = (*kept, part)
    return kept


def _line(location: Location, lines: dict[Location, int]) -> int:
    """The line of a field or, where it does not stand in the file, of what it belongs to."""
    while location and location not in lines:
        location = location[:-1]
    return lines.get(location, 0)


def _shown(value: Any) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _keys_at(model: type[BaseModel], location: Location) -> list[str]:
    """The keys a mapping may hold at `location`, for the message about an unknown one."""
    models: list[type[BaseModel]] = [model]
    for part in location:
        if isinstance(part, int):
            continue
        fields = [found.model_fields[part] for found in models if part in found.model_fields]
        # what is no field is the tag that chose one of several models
        chosen = [found for found in models if _has_tag(found, part)]
        models = _models_in(fields[0].annotation) if fields else chosen
    return list(dict.fromkeys(key for found in models for key in found.model_fields))


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    """The models inside `list[Model]`, `Model | None` or a choice of several."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in getattr(annotation, "__args__", ()) for found in _models_in(part)]


def _has_tag(model: type[BaseModel], tag: str) -> bool:
    return any(tag in getattr(field.annotation, "__args__", ()) for field in model.model_fields.values())
