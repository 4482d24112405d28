"""Hand-edited YAML into checked models, with every mistake listed by file, line and field.

Used by the box description, the recipes and the twin's scenarios, so that all three speak alike.
"""

import math
import os
import re
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ConfigDict, ValidationError

from sumlight.text.message import Message, as_written, say

MAX_BYTES = 64 * 1024
MAX_DEPTH = 20
MOST_PROBLEMS = 20
"""So many mistakes of a file are told; nobody mends more at a sitting, and a page full of them costs time."""

STRING_TAG = "tag:yaml.org,2002:str"
NUMBER_TAGS = ("tag:yaml.org,2002:int", "tag:yaml.org,2002:float")

PLAIN_NUMBER = re.compile(r"[+-]?(0|[1-9][0-9]{0,29})(\.[0-9]{1,30})?")
"""How a quantity is written. YAML 1.1 reads 060 as 48, 1:10.5 as 70.5 and 6_0 as 60, where people mean otherwise."""

PLAIN_RULE = say("file_plain_rule")
ODD_NUMBER = re.compile(r"[+-]?(0[xob][0-9a-fA-F]+|[0-9.]+([eE][+-]?[0-9]+)?)")
"""Texts that other programs take for numbers."""

HEX_ADDRESS = re.compile(r"0x[0-9a-fA-F]{1,4}")
HEX_KEYS = ("i2c_address", "colour_i2c_address")
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
    message: Message

    @property
    def said(self) -> Message:
        """The mistake with its place."""
        told = say("problem_of_field", field=self.field, told=self.message) if self.field else self.message
        if self.line:
            return say("problem_at_line", file=self.file, line=self.line, told=told)
        return say("problem_in_file", file=self.file, told=told)

    def __str__(self) -> str:
        return str(self.said)


class MistakesError(ValueError):
    """Raised by a model's own validator: mistakes across fields, each with the place to point at.

    A text without a code, of a file that the page never shows, stays as it is written.
    """

    def __init__(self, found: Sequence[tuple[Location, str]]) -> None:
        self.found = [(place, as_written(text)) for place, text in found]
        super().__init__("; ".join(message for _, message in found))


class FileProblemsError(ValueError):
    """A file cannot be used; `problems` holds the mistakes in the order of the file, at most MOST_PROBLEMS of them.

    Where there are more, the last entry tells how many.
    """

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems, key=lambda p: p.line)
        if len(self.problems) > MOST_PROBLEMS:
            left = self.problems[MOST_PROBLEMS - 1 :]
            more = say("more_mistakes", count=len(left))
            self.problems[MOST_PROBLEMS - 1 :] = [Problem(left[0].file, left[0].line, "", more)]
        super().__init__("\n".join(str(p) for p in self.problems))

    @property
    def message(self) -> Message:
        """All of it in one line."""
        return say("problems_in_turn", problems=[problem.said for problem in self.problems])


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
            raise _whole_file(str(path), say("file_not_a_file"))
        with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK), "rb") as file:
            raw = file.read(most_bytes + 1)
    except OSError as error:
        raise _whole_file(str(path), say("file_unreadable", why=error.strerror or str(error))) from error
    if len(raw) > most_bytes:
        raise _whole_file(str(path), say("file_too_large", limit_kib=most_bytes // 1024))
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _whole_file(str(path), say("file_not_utf8", place=error.start)) from error


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
        raise _whole_file(name, say("file_no_keys"))
    return data, lines


def dotted(location: Location) -> str:
    """`("banks", 0, "relay_pin")` as `banks[0].relay_pin`."""
    out = ""
    for part in location:
        out += f"[{part}]" if isinstance(part, int) else f".{part}" if out else part
    return out


def _whole_file(name: str, message: Message) -> FileProblemsError:
    return FileProblemsError([Problem(name, 0, "", message)])


class _Plain(yaml.SafeLoader):
    """Refuses, as soon as it comes to one, a part that nobody needs in a file written by hand."""

    def __init__(self, text: str, name: str) -> None:
        super().__init__(text)
        self._name = name
        self._depth = 0

    def get_token(self) -> yaml.Token:
        """The next part of the text. Raises FileProblemsError for an alias, a tag, or one nested too deep."""
        token: yaml.Token = super().get_token()  # type: ignore[no-untyped-call]
        self._depth += isinstance(token, _STARTS) - isinstance(token, _ENDS)
        if self._depth > MAX_DEPTH:
            raise self._refused(token, say("file_too_deep", most=MAX_DEPTH))
        if isinstance(token, yaml.AliasToken | yaml.TagToken):
            why = say("file_has_alias") if isinstance(token, yaml.AliasToken) else say("file_has_tag")
            raise self._refused(token, why)
        return token

    def _refused(self, token: yaml.Token, why: Message) -> FileProblemsError:
        return FileProblemsError([Problem(self._name, token.start_mark.line + 1, "", why)])


def _compose(text: str, name: str) -> yaml.Node | None:
    try:
        loader = _Plain(text, name)
        try:
            root: yaml.Node | None = loader.get_single_node()
            return root
        finally:
            loader.dispose()
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 0
        raise FileProblemsError([Problem(name, line, "", say("file_no_yaml", why=str(error.problem)))]) from error
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        message = say("file_odd_character", code=_code(error.character))
        raise FileProblemsError([Problem(name, line, "", message)]) from error


def _code(character: int | str | bytes) -> int:
    return character if isinstance(character, int) else ord(character)


def _construct(root: yaml.Node, name: str) -> Any:
    loader = yaml.SafeLoader("")
    try:
        return loader.construct_document(root)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 0
        raise FileProblemsError([Problem(name, line, "", say("file_no_yaml", why=str(error.problem)))]) from error
    finally:
        loader.dispose()


def _unreadable(node: yaml.ScalarNode) -> Message | None:
    """Why YAML cannot make a value of a scalar, such as a date 2026-99-99; None when it can."""
    loader = yaml.SafeLoader("")
    try:
        loader.construct_object(node)
    except ValueError as error:
        return say("file_no_value", why=str(error).split(";")[0], given=_shown(node.value))
    except yaml.constructor.ConstructorError:  # a lone = has a meaning of its own in YAML
        return say("file_needs_quotes", given=_shown(node.value))
    finally:
        loader.dispose()
    return None


def _not_plain(node: yaml.ScalarNode, at: Location) -> Message | None:
    """Why a number is not written as people here write one; None when it is, and for what is no number."""
    if node.tag not in NUMBER_TAGS or PLAIN_NUMBER.fullmatch(node.value):
        return None
    if at and at[-1] in HEX_KEYS and HEX_ADDRESS.fullmatch(node.value):
        return None
    loader = yaml.SafeLoader("")
    given = node.value[:40]
    try:
        taken = _shown(loader.construct_object(node))
    except (ValueError, OverflowError, IndexError):  # it looks like a number and is none
        return say("file_number_not_plain", given=given, rule=PLAIN_RULE)
    finally:
        loader.dispose()
    return say("file_number_taken", given=given, taken=taken, rule=PLAIN_RULE)


def _walk(node: yaml.Node, at: Location, name: str, lines: dict[Location, int], problems: list[Problem]) -> None:
    """Note the line of every field; YAML itself would let a repeated key pass, the last one winning."""
    lines[at] = node.start_mark.line + 1
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode) or key.tag != STRING_TAG:
                plain = isinstance(key, yaml.ScalarNode)
                message = say("file_no_key", key=key.value) if plain else say("file_list_as_key")
                problems.append(Problem(name, key.start_mark.line + 1, dotted(at), message))
                continue
            here = (*at, key.value)
            if here in lines:
                message = say("file_key_twice", line=lines[here])
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
    if kind in ("union_tag_not_found", "union_tag_invalid"):
        location = (*location, detail["ctx"]["discriminator"].strip("'"))
    error = detail["ctx"]["error"] if kind == "value_error" else None
    if isinstance(error, MistakesError):
        places = [((*location, *at), message) for at, message in error.found]
        return [Problem(name, _line(at, lines), dotted(at), message) for at, message in places]
    return [Problem(name, _line(location, lines), dotted(location), _told(detail, model))]


def _told(detail: Any, model: type[BaseModel]) -> Message:
    """What is wrong with one field."""
    given, context = detail.get("input"), detail.get("ctx", {})
    match detail["type"]:
        case "extra_forbidden":
            return say("file_unknown_key", known=_keys_at(model, tuple(detail["loc"])[:-1]))
        case "missing" | "union_tag_not_found":
            return say("file_key_missing")
        case "union_tag_invalid":
            return say("file_tag_invalid", known=context["expected_tags"], given=context["tag"])
        case "model_type" | "model_attributes_type":
            told = say("file_needs_keys", known=_keys_at(model, tuple(detail["loc"])))
        case "value_error":
            told = as_written(str(context["error"]))
        case _:
            told = _unfit(detail)
    if not isinstance(given, dict | list):
        told = say("file_given", told=told, given=_shown(given))
    if detail["type"] in ("float_type", "int_type") and isinstance(given, str) and ODD_NUMBER.fullmatch(given):
        return say("file_odd_number", told=told, rule=PLAIN_RULE)
    return told


def _unfit(detail: Any) -> Message:
    """A value of the wrong kind or out of bounds; whatever has no code stays in the library's words."""
    context = detail.get("ctx", {})
    match detail["type"]:
        case "greater_than":
            return say("file_above", low=context["gt"])
        case "greater_than_equal":
            return say("file_from", low=context["ge"])
        case "less_than":
            return say("file_below", high=context["lt"])
        case "less_than_equal":
            return say("file_to", high=context["le"])
        case "int_type" | "int_from_float":
            return say("file_not_whole")
        case "float_type":
            return say("file_not_number")
        case "finite_number":
            return say("file_not_finite")
        case "string_type":
            return say("file_not_text")
        case "bool_type":
            return say("file_not_flag")
        case "dict_type":
            return say("file_not_keys")
        case "literal_error":
            return say("file_not_one_of", choices=re.findall(r"'[^']*'|-?\d+", context["expected"]))
        case "string_too_long":
            return say("file_text_too_long", most=context["max_length"])
        case "string_too_short" if context["min_length"] == 1:
            return say("file_text_empty")
    return as_written(f"{detail['msg'][0].lower()}{detail['msg'][1:]}")


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
