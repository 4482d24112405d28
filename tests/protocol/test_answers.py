"""Every command's answer has a declared type; those that still have none are named here, and no other."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from pydantic import ValidationError

from sumlight.protocol.answers import ANSWERS
from sumlight.protocol.commands import COMMANDS
from tests.control.bench_box import BenchBox
from tests.protocol.checking import check_answer

NOT_YET = (
    *("trace", "tablet_plan", "tablet_readings", "transmission", "field", "strip_plan", "strip"),
    "dose_window",
)
OF_JOBS_AND_BATHS = ("job", "card", "timer", "bath", "tray")
"""Beginnings of commands of jobs and baths, whose answers have no type yet either."""


def test_each_command_has_a_type_or_stands_on_the_list() -> None:
    """The list may only get shorter."""
    left = set(COMMANDS) - set(ANSWERS) - set(NOT_YET)
    assert {name for name in left if not name.startswith(OF_JOBS_AND_BATHS)} == set()
    assert set(ANSWERS) - set(COMMANDS) == set()
    assert set(NOT_YET) & set(ANSWERS) == set()


@pytest.mark.parametrize("command", sorted(ANSWERS))
def test_no_field_may_hold_just_anything(command: str) -> None:
    """No Any and no object, however deep in its own type."""

    def parts(hint: Any) -> set[Any]:
        return {hint}.union(*(parts(each) for each in get_args(hint)))

    hints = get_type_hints(ANSWERS[command]).values()
    assert hints
    assert not {Any, object} & set().union(*map(parts, hints))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[BenchBox]:
    """A box that is ready."""
    box = BenchBox(tmp_path).ready()
    yield box
    box.daemon.close()


def test_a_field_without_a_declared_type_is_seen(bench: BenchBox) -> None:
    """By the recorder that stands around control in every test; a sound answer passes."""
    answer = bench.ask("replacement_level", percent=70)
    check_answer("replacement_level", answer)
    for wrong in ({**answer, "more": 1}, {}, {"percent": "70"}):
        with pytest.raises(ValidationError):
            check_answer("replacement_level", wrong)


def test_the_recorder_stands_around_control(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """What control would answer beside its type does not leave it unseen."""
    loop = bench.daemon.loop
    monkeypatch.setattr(loop, "acknowledge", lambda _who: {"cleared": [], "standing": [], "odd": 1})
    with pytest.raises(ValidationError):
        bench.ask("acknowledge")
