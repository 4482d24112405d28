"""Every command's answer has a declared type, and the recorder around control holds it to that."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest
from pydantic import ValidationError
from typing_extensions import is_typeddict

from sumlight.protocol.answers import ANSWERS
from sumlight.protocol.commands import COMMANDS, Go, Trace
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.snapshot import STRICT
from tests.control.bench_box import BenchBox
from tests.control.server.socket_desk import STATE, open_desk
from tests.protocol.checking import check_answer, check_request


def test_each_command_has_a_type() -> None:
    """And no answer belongs to no command."""
    assert ANSWERS.keys() == COMMANDS.keys()


def parts(hint: Any) -> set[Any]:
    """What a type is made of, however deep."""
    inner = set(get_args(hint)) if get_origin(hint) is not Literal else set()
    if is_typeddict(hint):
        inner |= set(get_type_hints(hint).values())
    return {hint}.union(*map(parts, inner))


@pytest.mark.parametrize("command", sorted(ANSWERS))
def test_no_field_may_hold_just_anything(command: str) -> None:
    """No Any and no object, however deep, no list or dictionary of whatever, and nothing beside what is declared."""
    found = parts(ANSWERS[command])
    assert len(found) > 1
    assert not {Any, object, list, dict, tuple} & found
    assert all(each.__pydantic_config__ == STRICT for each in found if is_typeddict(each))


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


def test_a_stand_in_for_control_is_judged_as_control_is(tmp_path: Path) -> None:
    """What it answers at its socket, by the type of the command."""
    with open_desk(tmp_path / "s") as desk:
        desk.answer = {"state": "idle"}
        desk.caller().send(STATE)
        with pytest.raises(ValidationError):
            desk.poll(3)


def test_a_command_that_would_not_read_the_same_again_is_seen() -> None:
    """A model that checks itself and then says something else."""
    check_request(Trace(since_s=1.5))
    with pytest.raises(BadRequestError):
        check_request(Go.model_construct(state_number=1, _fields_set={"state_number"}))
