"""An existing recipe's text with some values changed: comments and the order of keys stay as a person wrote them.

The text is read by two libraries here. `checkedfile` is the judge: the other one, which keeps comments, only sees what
the judge has accepted, must read the same from it, and what it writes is judged again.
"""

import io
import re
from collections.abc import Mapping
from typing import Any, Final

import yaml

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import StoredRecipe, recipe_from_text, recipe_to_text, styled
from sumlight.text.message import say

USUAL_INDENT: Final = 2


class CommentsLostError(RuntimeError):
    """The text is written in a way in which its comments would not survive the change."""


class DiffersError(ValueError):
    """The library that keeps comments reads a text otherwise than the judge, or not at all."""


def rewritten(stored: StoredRecipe, values: Mapping[str, Any], *, comments_may_go: bool = False) -> str:
    """The recipe's text with `values` put in, by their dotted places; None leaves a key out.

    Raises FileProblemsError when the recipe would not be sound, CommentsLostError unless `comments_may_go`.
    """
    flat = {key: value for key, value in _flat(stored.recipe.model_dump()).items() if value is not None}
    wanted_text = recipe_to_text({**flat, **values})
    wanted = recipe_from_text(wanted_text, stored.name).recipe
    changed = {key: value for key, value in values.items() if value != flat.get(key)}
    stays = {key for key, value in {**flat, **values}.items() if value is not None}
    gone = _with_their_groups({key for key, value in changed.items() if value is None}, stays)
    changed = {key: value for key, value in changed.items() if value is not None}
    try:
        shorter = _without(stored.text, gone)
        text = _with(shorter, changed)
        if recipe_from_text(text, stored.name).recipe == wanted and comments(text) == comments(shorter):
            return text
    except (DiffersError, FileProblemsError):
        pass
    if comments_may_go or not comments(stored.text):
        return wanted_text
    raise CommentsLostError(say("recipe_comments_lost", name=stored.name))


def same_light(recipe: Recipe, dose_mj_cm2: float) -> dict[str, float]:
    """What changes in a recipe whose dose is called `dose_mj_cm2` on another scale, with four digits.

    The irradiance at which it was found is called otherwise by the same factor.
    """
    before = recipe.dose_mj_cm2
    values = {"dose_mj_cm2": float(f"{dose_mj_cm2:.4g}")}
    if before is not None and recipe.found_at_mw_cm2 is not None:
        values["found_at_mw_cm2"] = float(f"{recipe.found_at_mw_cm2 * dose_mj_cm2 / before:.4g}")
    return values


def read_again(text: str) -> dict[str, Any]:
    """What the library that keeps comments reads from a text that the judge accepts.

    Raises FileProblemsError for a text that is refused, DiffersError where the two do not read the same.
    """
    return _plain(_loaded(text)[1])  # type: ignore[no-any-return]


def comments(text: str) -> list[str]:
    """Every comment of a text, in order: what begins with # between its tokens. Raises yaml.YAMLError."""
    found, end = [], 0
    for token in yaml.scan(text, Loader=yaml.SafeLoader):
        found += re.findall(r"#.*", text[end : token.start_mark.index])
        end = token.end_mark.index
        if isinstance(token, yaml.ScalarToken) and token.style in ("|", ">"):  # one may stand behind the sign itself
            found += re.findall(r"#.*", text[token.start_mark.index : end].partition("\n")[0])
    return [comment.rstrip() for comment in found]


def _loaded(text: str) -> tuple[Any, Any]:
    """The library's own editor and its document of a text. Imported when something is written, and only then."""
    first = checkedfile.understood(text, "recipe")
    if re.search(r"^%", text, re.MULTILINE):  # the one reader follows what such a line says, the other does not
        raise DiffersError("the text names a version of YAML")
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    editor = YAML(typ="rt", pure=True)
    editor.preserve_quotes, editor.width = True, 4096
    editor.explicit_start = bool(re.match(r"(#.*\n|\s*\n)*---", text))
    editor.indent(mapping=_indent(text))
    editor.Representer = _representer()
    try:
        document = editor.load(text)
    except (YAMLError, ValueError, TypeError, AttributeError, RecursionError) as error:
        raise DiffersError("the text cannot be read a second time") from error
    if repr(_plain(document)) != repr(first):
        raise DiffersError("the text means something else to its second reader")
    return editor, document


def _with(text: str, values: Mapping[str, Any]) -> str:
    """The text with these values, all given, in their places; new keys stand last in their group."""
    if not values:
        return text
    editor, document = _loaded(text)
    for key, value in values.items():
        *groups, part = key.split(".")
        at = document
        for group in groups:
            at = at.setdefault(group, {})
        at[part] = _as_scalar(value)
    out = io.StringIO()
    editor.dump(document, out)
    written = out.getvalue()
    return written.replace("\n", "\r\n") if "\r\n" in text else written


def _with_their_groups(gone: set[str], stays: set[str]) -> set[str]:
    """The keys that go, with a group in their place where nothing of it stays: a group without keys is no group."""
    found = set()
    for key in gone:
        while "." in key and not any(other.startswith(f"{key.rpartition('.')[0]}.") for other in stays):
            key = key.rpartition(".")[0]
        found.add(key)
    return found


def _without(text: str, keys: set[str]) -> str:
    """The text without the lines of these keys. A key that shares its line with another stays."""
    lines = text.splitlines(keepends=True)
    for first, last in sorted((_lines_of(text, key) for key in keys), reverse=True):
        del lines[first:last]
    return "".join(lines)


def _lines_of(text: str, key: str) -> tuple[int, int]:
    """From which line a key stands to which it does not any more; nothing where it has no lines of its own."""
    node: yaml.Node | None = yaml.compose(text, Loader=yaml.SafeLoader)
    for part in key.split("."):
        if not isinstance(node, yaml.MappingNode) or node.flow_style:
            return 0, 0
        found = next(((k, v) for k, v in node.value if k.value == part), None)
        if found is None:
            return 0, 0
        name, node = found
    if node is None:
        return 0, 0
    while isinstance(node, yaml.MappingNode) and not node.flow_style:  # it ends with its last value
        node = node.value[-1][1]
    return name.start_mark.line, node.end_mark.line + (node.end_mark.column > 0)


def _as_scalar(value: Any) -> Any:
    """Text in the style in which our own writer would put it; 60.0 as 60."""
    if not isinstance(value, str):
        return int(value) if isinstance(value, float) and value.is_integer() else value
    from ruamel.yaml import scalarstring

    kinds = {
        "'": scalarstring.SingleQuotedScalarString,
        '"': scalarstring.DoubleQuotedScalarString,
        "|": scalarstring.LiteralScalarString,
    }
    kind = kinds.get(styled(value)[:1])
    return kind(value) if kind else value


def _representer() -> Any:
    """The library's writer of values, but with plain decimals for floats."""
    from ruamel.yaml.representer import RoundTripRepresenter

    class Plain(RoundTripRepresenter):
        """Never 1e-05."""

    def as_plain(writer: Any, value: float) -> Any:
        return writer.represent_scalar("tag:yaml.org,2002:float", styled(value))

    Plain.add_representer(float, as_plain)
    return Plain


def _indent(text: str) -> int:
    """How far a person has indented the parts of a group."""
    found = re.search(r"(?m)^[a-z_]+:[ \t]*(?:#.*)?\n(?:[ \t]*(?:#.*)?\n)*( +)\S", text)
    return len(found[1]) if found else USUAL_INDENT


def _plain(value: Any) -> Any:
    """A document of the library as Python's own values, whose text tells every difference."""
    if isinstance(value, dict):
        return {_plain(key): _plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_plain(part) for part in value]
    for kind in (bool, int, float, str):
        if isinstance(value, kind):
            return kind(value)
    return value


def _flat(fields: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """`{"transmission": {"a": 1}}` as `{"transmission.a": 1}`."""
    found: dict[str, Any] = {}
    for key, value in fields.items():
        found |= _flat(value, f"{before}{key}.") if isinstance(value, dict) else {before + key: value}
    return found
