"""Every code has words, every word has a code that is said, and both agree on the values. Read from the code itself."""

import ast
import itertools
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

import sumlight
import sumlight_web
from sumlight.craft.causes.looks import LOOKS
from sumlight.craft.causes.signs import CAUSES, PLACES, SIGNS
from sumlight.craft.stock.rolls import STORAGES
from sumlight.protocol.snapshot import STATES, FaultName
from sumlight.store.recipe import SIDE_NAMES
from sumlight.store.sharing import STANDINGS
from sumlight.text import states, words
from sumlight.text.faults import TOLD
from sumlight.text.words import TABLES, WORDS

ROOTS = tuple(Path(str(package.__file__)).parent for package in (sumlight, sumlight_web))
SAYING = ("say", "later")
BUILT_IN = ("as_written", "sentences")
NAMED_BY_TABLE = (
    *(f"fault_{name}_" for name in FaultName),
    *(f"sign_{name}" for name in SIGNS),
    *(f"place_{name}" for name in PLACES),
    *(f"{kind}_{name}" for name in CAUSES for kind in ("cause", "change")),
    *(f"look_{name}" for name in LOOKS),
    *(f"state_{name}" for name in STATES),
    *(f"sides_are_{name}" for name in SIDE_NAMES),
    *("outcome_", "upkeep_", "stencil_step_", "do_stencil_", "stencil_by_"),
    *(f"kept_{name}" for name in STORAGES),
    *(f"standing_{name}" for name in STANDINGS),
    *("reason_same_place_", "reason_rest_", "reason_contact_"),
)
"""Beginnings of codes that are put together from a name of another table, which its own test looks through."""


def calls() -> Iterator[tuple[Path, ast.Call]]:
    """Every `say(…)` and `later(…)` there is."""
    for root in ROOTS:
        for path in root.rglob("*.py"):
            code = path.read_text(encoding="utf-8")
            if "from sumlight.text.message import" in code:
                for node in ast.walk(ast.parse(code)):
                    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in SAYING:
                        yield path, node


def wanted(text: str) -> set[str]:
    """Names that words ask for."""
    return {name for _before, name, _format, _conversion in string.Formatter().parse(text) if name}


def test_what_is_said_has_words_for_just_these_values() -> None:
    """A code is a plain literal; its values are given by name."""
    for path, call in calls():
        where = f"{path.name}:{call.lineno}"
        code = call.args[0]
        assert isinstance(code, ast.Constant), f"{where}: say the code itself"
        assert isinstance(code.value, str), f"{where}: a code is a text"
        assert code.value in WORDS, f"{where}: no words for {code.value}"
        names = {keyword.arg for keyword in call.keywords}
        assert names == wanted(WORDS[code.value]), f"{where}: {code.value} takes {wanted(WORDS[code.value])}"


def test_no_words_are_left_over() -> None:
    """What nobody says any more goes."""
    said = {str(call.args[0].value) for _path, call in calls() if isinstance(call.args[0], ast.Constant)}
    assert {code for code in WORDS if not code.startswith(NAMED_BY_TABLE)} - said == set(BUILT_IN) - said


def test_every_standing_of_a_shared_recipe_has_its_words_and_no_other() -> None:
    """None of them with values."""
    codes = {code for code in WORDS if code.startswith("standing_")}
    assert codes == {f"standing_{name}" for name in STANDINGS}
    assert [code for code in codes if wanted(WORDS[code])] == []


def test_every_fault_has_its_words_and_no_other() -> None:
    """A title, what was seen and a remedy each, none of them with values."""
    composed = {f"fault_{name}_{part}" for name in FaultName for part in ("title", "seen", "remedy")}
    assert {f"fault_{name}_{part}" for name in TOLD for part in ("title", "seen", "remedy")} == composed
    assert [code for code in composed if wanted(WORDS[code])] == []


def test_every_state_of_the_box_and_every_way_to_light_a_panel_has_its_words() -> None:
    """What has none would be shown by its name in the code."""
    assert set(states.STATES) == {f"state_{name}" for name in STATES}
    assert set(states.SIDES) == {f"sides_are_{name}" for name in SIDE_NAMES}


def test_a_code_stands_in_one_table_only() -> None:
    """Two would hide each other."""
    assert len(WORDS) == len(BUILT_IN) + sum(len(table) for table in TABLES)


def test_no_two_codes_have_the_same_words() -> None:
    """One thing is said by one code."""
    texts = sorted(text for text in WORDS.values())
    assert [text for text, after in itertools.pairwise(texts) if text == after] == []


def test_every_table_is_used() -> None:
    """A table beside `words` that is not among its TABLES would be silent. `doseunit` and `message` are none."""
    files = {path.stem for path in Path(str(words.__file__)).parent.glob("*.py")} - {
        "__init__",
        "doseunit",
        "message",
        "words",
    }
    assert len(files) == len(TABLES)


@pytest.mark.parametrize("code", sorted(WORDS))
def test_words_are_filled_by_name_only(code: str) -> None:
    """No place without a name, no attribute, no conversion: a translator could not move them."""
    for _before, name, _format, conversion in string.Formatter().parse(WORDS[code]):
        assert name is None or name.isidentifier(), code
        assert conversion is None, code
