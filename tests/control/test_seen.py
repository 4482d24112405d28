"""A press that lights is good for what was seen, and once; judged by the lamps of the simulated world."""

from typing import Any

import pytest

from sumlight.control.state_number import StateNumber
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.protocol.press import seen
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import as_written
from tests.control.bench_box import BenchBox, recipe_text
from tests.control.conftest import MakeBench

MOVED_ON = "The box has moved on since you looked."


def saw(bench: BenchBox, **other: Any) -> dict[str, Any]:
    """What somebody sees now who is about to start the recipe quick on panel P1."""
    stored = bench.daemon.shelf.load("quick")
    return {"recipe": "quick", "panel": "P1", **seen(bench.snapshot(), stored.sha256, "A"), **other}


def stays_dark(bench: BenchBox, seconds: float = 2.0) -> bool:
    """Whether no lamp of the world burns now nor in the time to come."""
    for _ in range(int(seconds / 0.1)):
        bench.run(0.1)
        if bench.any_light():
            return False
    return True


@pytest.mark.parametrize("missing", ["state_number", "recipe_sha256", "side", "panel"])
@pytest.mark.parametrize("command", ["start", "series", "go"])
def test_a_press_that_does_not_say_what_was_seen_is_refused(bench: BenchBox, command: str, missing: str) -> None:
    """Each of the four, of each command that lights."""
    if command == "go":
        bench.light_up().open_lid()
        bench.shut_lid()
        values = seen(bench.snapshot())
    else:
        values = saw(bench.ready(), **({"kind": "teach", "seconds": 3.0, "side": "1"} if command == "series" else {}))
    before = bench.any_light()
    del values[missing]
    error = raw(bench, command, values)
    assert (error["code"], error["field"]) == ("bad_value", missing)
    assert error["message"] == "This press does not say what was seen."
    assert not before
    assert stays_dark(bench)


def raw(bench: BenchBox, command: str, values: dict[str, Any]) -> dict[str, Any]:
    """Send exactly this; what the refusal says, or nothing if it was carried out."""
    try:
        bench.daemon.commander.handle(Request(1, command, values))
    except BadRequestError as error:
        return {"code": error.code, "field": error.field, "message": error.message, "remedy": error.remedy}
    return {}


COMMANDS = [("start", {}), ("series", {"kind": "teach", "seconds": 3.0, "side": "1"})]


@pytest.mark.parametrize(("command", "more"), COMMANDS, ids=["start", "series"])
def test_a_view_from_before_the_lid_moved_is_too_old(bench: BenchBox, command: str, more: dict[str, Any]) -> None:
    """What lies in the box now is not what was seen; a fresh look is enough."""
    view = saw(bench.ready(), **more)
    bench.turn_panel()
    assert raw(bench, command, view)["message"] == MOVED_ON
    assert stays_dark(bench)
    assert raw(bench, command, saw(bench, **more)) == {}
    bench.until(bench.any_light)


@pytest.mark.parametrize(("command", "more"), COMMANDS, ids=["start", "series"])
def test_a_press_is_taken_once(bench: BenchBox, command: str, more: dict[str, Any]) -> None:
    """The same line again, at once and after the panel was taken out: the second finds another box."""
    view = saw(bench.ready(), **more)
    assert raw(bench, command, view) == {}
    assert raw(bench, command, view)["code"] == "refused"
    bench.until_state("done")
    bench.change_panel()
    bench.run(1.0)
    assert raw(bench, command, view)["message"] == MOVED_ON
    assert stays_dark(bench)


def test_of_two_phones_that_press_go_one_is_heard(bench: BenchBox) -> None:
    """Both saw the pause; after the first went on and the lamps were switched off again, the second is old."""
    bench.light_up()
    bench.ask("dark")
    bench.run(0.5)
    one = two = seen(bench.snapshot())
    assert raw(bench, "go", one) == {}
    bench.until(bench.any_light)
    bench.ask("dark")
    bench.run(0.5)
    assert raw(bench, "go", two)["message"] == MOVED_ON
    assert stays_dark(bench)


def test_side_b_is_not_lit_from_the_sight_of_side_a(bench: BenchBox) -> None:
    """'Continue' for a paused side A, pressed late, when side A is done and the panel was turned."""
    bench.start_new(sides="turned", dose_mj_cm2=20)
    bench.until(bench.any_light)
    bench.run(1.0)
    bench.ask("dark")
    bench.run(0.5)
    late = seen(bench.snapshot())
    assert late["side"] == "A"
    bench.ask("go")
    bench.until_state("turn")
    bench.turn_panel()
    assert raw(bench, "go", late)["message"] == MOVED_ON
    fresh = seen(bench.snapshot())
    assert fresh["side"] == "B"
    assert raw(bench, "go", {**fresh, "side": "A"})["message"] == MOVED_ON
    assert raw(bench, "go", {**fresh, "panel": "another"})["message"] == MOVED_ON
    assert raw(bench, "go", {**fresh, "recipe_sha256": "0" * 64})["message"].startswith("The recipe has changed")
    assert stays_dark(bench)
    assert raw(bench, "go", fresh) == {}
    bench.until(bench.any_light)


def test_a_recipe_that_changed_on_the_shelf_is_not_lit(bench: BenchBox) -> None:
    """Somebody wrote another dose between the look and the press."""
    view = saw(bench.ready())
    bench.save("quick", recipe_text(dose_mj_cm2=200))
    error = raw(bench, "start", view)
    assert error["message"] == "The recipe has changed since you looked."
    series = {**view, "kind": "teach", "seconds": 3.0, "side": "1"}
    assert raw(bench, "series", series)["message"] == "The recipe has changed since you looked."
    assert stays_dark(bench)
    assert raw(bench, "start", saw(bench)) == {}


def test_a_start_of_one_side_is_no_start_of_both(make_bench: MakeBench) -> None:
    """The side that is seen must be the one that is lit first."""
    bench = make_bench()
    assert raw(bench, "start", saw(bench.ready(), side="A+B"))["message"] == MOVED_ON
    assert raw(bench, "start", saw(bench, side="B"))["message"] == MOVED_ON
    assert stays_dark(bench)


@pytest.mark.parametrize("number", [0, 1.0, True, "7", None])
def test_a_number_that_is_none_of_the_present_state(bench: BenchBox, number: object) -> None:
    """Of whatever kind, refused in words."""
    words = MOVED_ON if type(number) is int else "'state_number' must be a whole number, not"
    view = saw(bench.ready(), state_number=number)
    assert raw(bench, "start", view)["message"].startswith(words if number is not None else "This press does not say")
    exact = float(bench.snapshot()["state_number"])
    assert raw(bench, "start", saw(bench, state_number=exact))["field"] == "state_number"
    assert stays_dark(bench)


def test_every_change_of_state_lid_fault_and_plan_has_a_number_of_its_own(bench: BenchBox) -> None:
    """A whole turned panel with a fault in it: as long as nothing changes the number stays, and none comes again."""
    seen_numbers = [bench.ready().snapshot()["state_number"]]

    def moved() -> None:
        bench.run(0.1)
        number = bench.snapshot()["state_number"]
        assert number not in seen_numbers
        seen_numbers.append(number)

    bench.run(5.0)
    assert bench.snapshot()["state_number"] == seen_numbers[0]
    bench.open_lid()
    moved()
    bench.shut_lid()
    moved()
    bench.start_new(sides="turned")
    moved()
    bench.until(bench.any_light)
    moved()
    bench.loop._report(FaultName.LOOP_LATE, as_written("a test of numbers"), bench.clock.now_s)
    moved()
    bench.ask("acknowledge", who="test")
    moved()
    bench.ask("go")
    bench.until_state("turn")
    moved()
    bench.open_lid()
    moved()
    bench.shut_lid()
    moved()


def test_a_restart_begins_with_other_numbers(make_bench: MakeBench) -> None:
    """A view from before a restart of control lights nothing after it."""
    before = make_bench()
    view = saw(before.ready())
    before.kill()
    after = BenchBox(before.data)
    try:
        after.change_panel()
        after.ready()
        assert raw(after, "start", view)["message"] == MOVED_ON
    finally:
        after.close()


def test_two_runs_share_no_number() -> None:
    """Each counts on from a place of its own, and stays within the whole numbers that every JSON reader keeps
    (2**53 - 1, RFC 8259 §6)."""
    starts = {StateNumber().of(("idle",), 0.0) for _ in range(1000)}
    assert len(starts) == 1000
    assert max(starts) + 10**12 < 2**53
    assert min(abs(a - b) for a, b in zip(sorted(starts), sorted(starts)[1:], strict=False)) > 1000
