"""The table of causes, line by line. It was written from part E of the craft reference."""

import ast
import math
from pathlib import Path

import pytest

from sumlight.craft.causes.facts import NAMES, Facts
from sumlight.craft.causes.looks import LOOKS
from sumlight.craft.causes.model import MEASURES, TRAITS
from sumlight.craft.causes.signs import CAUSES, PLACES, SIGNS, STATIONS
from sumlight.craft.causes.table import TABLE
from sumlight.text.words import WORDS
from tests.benchmarks import spoiling, spoiling_nature


def test_lists_and_table_hold_the_same_causes() -> None:
    """A cause without a line could never be named, a line without a name never be said."""
    assert tuple(TABLE) == CAUSES


@pytest.mark.parametrize("name", CAUSES)
def test_a_line_names_only_what_there_is(name: str) -> None:
    """A slip of the pen in a name would be a sign that never speaks."""
    line = TABLE[name]
    assert line.shows.keys() <= SIGNS.keys()
    assert line.moves.keys() <= MEASURES.keys()
    assert line.tells.keys() <= TRAITS.keys()
    assert set(line.looks) <= LOOKS.keys()
    assert line.looks
    assert line.shows
    assert line.source


@pytest.mark.parametrize("name", CAUSES)
def test_shares_of_a_trait_add_up(name: str) -> None:
    """One of its words is told."""
    for trait, words in TABLE[name].tells.items():
        assert words.keys() == TRAITS[trait].keys()
        assert math.fsum(words.values()) == pytest.approx(1)


@pytest.mark.parametrize("name", TRAITS)
def test_usual_shares_add_up(name: str) -> None:
    """The same where no cause has a hand in it."""
    assert math.fsum(TRAITS[name].values()) == pytest.approx(1)


def test_every_sign_speaks_for_something() -> None:
    """Each chip that can be put on has a cause behind it, and every check finds one."""
    assert {sign for line in TABLE.values() for sign in line.shows} == SIGNS.keys()
    assert all(look.finds for look in LOOKS.values())
    assert set(SIGNS.values()) == set(STATIONS)


def test_every_fact_is_weighed() -> None:
    """What is asked for must have a say."""
    assert set(NAMES) == MEASURES.keys() | TRAITS.keys()
    told = {name for line in TABLE.values() for name in (*line.moves, *line.tells)}
    assert told == set(NAMES)


def test_everything_has_its_words() -> None:
    """Codes put together from names: the test of the codes leaves them to this one."""
    wanted = {
        *(f"sign_{name}" for name in SIGNS),
        *(f"place_{name}" for name in PLACES),
        *(f"cause_{name}" for name in CAUSES),
        *(f"change_{name}" for name in CAUSES),
        *(f"look_{name}" for name in LOOKS),
        *(f"reason_same_place_{word}" for word in TRAITS["same_place"]),
        *(f"reason_rest_{word}" for word in TRAITS["rest"]),
        *(f"reason_contact_{word}" for word in TRAITS["contact"]),
    }
    assert wanted <= WORDS.keys()
    assert [code for code in wanted if "{" in WORDS[code]] == []


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("roll_months", -1.0, "roll_months"),
        ("etchant_used", 1.2, "etchant_used"),
        ("dwell_share", 0.5, "dwell_share"),
        ("held_off", math.nan, "held_off"),
        ("rest", "gone", "rest"),
        ("place", "moon", "place"),
    ],
)
def test_what_cannot_be_is_refused(field: str, value: object, told: str) -> None:
    """Field, value, what is allowed."""
    with pytest.raises(ValueError, match=told):
        Facts(**{field: value})  # type: ignore[arg-type]


def test_the_bench_that_judges_knows_nothing_of_the_table() -> None:
    """It imports nothing of ours; its names of causes and signs are the language both sides answer in."""
    names = set()
    for module in (spoiling, spoiling_nature):
        tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
        names |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert names == {"math", "collections.abc", "dataclasses", "random", "tests.benchmarks.spoiling_nature"}
    assert set(spoiling_nature.FAULTS) == set(CAUSES)
    assert set(spoiling.STATION_OF) == set(SIGNS)
