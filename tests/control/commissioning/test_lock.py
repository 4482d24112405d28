"""A real box exposes nothing until it is commissioned for its wiring, or somebody takes that upon himself."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight.box.description import BoxDescription, Sight
from sumlight.box.wiring import wiring_sha256
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.records import CommissioningRecord
from tests.control.bench_box import demo_box
from tests.control.commission_run import ALL_STEPS, commission
from tests.control.conftest import MakeBench
from tests.control.real_box import RealBox
from tests.protocol.examples import EXAMPLES


@pytest.fixture
def real_box(tmp_path: Path) -> Iterator[RealBox]:
    """A real box that nobody has commissioned."""
    box = RealBox(tmp_path / "data", demo_box())
    box.run(1.0)
    yield box
    box.daemon.close()


def passed_before(real_box: RealBox, box: BoxDescription, steps: list[str] = ALL_STEPS) -> None:
    """The logbook says that commissioning of `box` has passed, with these steps."""
    utc = real_box.clock.utc()
    results = [{"step": step, "title": step, "passed": True, "found": "", "measures": []} for step in steps]
    real_box.daemon.writer.put_commissioning(
        CommissioningRecord(utc, wiring_sha256(box), box.name, False, "A", 12, json.dumps(results), utc, "passed")
    )


@pytest.mark.parametrize("command", ["start", "series", "go"])
def test_a_real_box_refuses_light_until_it_is_commissioned(real_box: RealBox, command: str) -> None:
    """And says so at all times."""
    sound = EXAMPLES[command] | ({"recipe": "quick"} if command != "go" else {})
    with pytest.raises(BadRequestError, match="has not been commissioned") as error:
        real_box.ask(command, **sound)
    assert error.value.code == "refused"
    assert "sumlight setup commission" in str(error.value.remedy)
    snapshot = real_box.ask("state")
    assert snapshot["commissioning"]["locked"] is True
    assert not {"start", "go"} & set(snapshot["may"])
    assert any("exposures are locked" in warning for warning in snapshot["warnings"])


def test_an_override_unlocks_is_recorded_and_shown_also_after_a_restart(real_box: RealBox) -> None:
    """With a name and a reason."""
    for values in ({"who": "", "reason": "urgent repair"}, {"who": "B", "reason": "later"}):
        with pytest.raises(BadRequestError, match="in words"):
            real_box.ask("commission_override", **values)
    real_box.ask("commission_override", who="B. Ench", reason="the radiometer comes tomorrow")
    again = restart(real_box, demo_box())
    for box in (real_box, again):
        snapshot = box.ask("state")
        assert (snapshot["commissioning"]["locked"], snapshot["commissioning"]["overridden"]) == (False, True)
        told = snapshot["commissioning"]["override"]
        assert (told["who"], told["reason"]) == ("B. Ench", "the radiometer comes tomorrow")
        assert any("B. Ench" in line and "radiometer" in line for line in snapshot["warnings"])
    assert again.ask("start", recipe="quick")["state"] == "dark_check"
    with pytest.raises(BadRequestError, match="not locked"):
        again.ask("commission_override", who="B. Ench", reason="once more, please")
    again.daemon.close()


def restart(real_box: RealBox, box: BoxDescription) -> RealBox:
    """Control again over the same data, perhaps with other wiring."""
    real_box.daemon.writer.drain(1)
    real_box.daemon.lock.release()
    again = RealBox(real_box.data, box)
    again.run(1.0)
    return again


def test_commissioning_unlocks_this_wiring_and_no_other(real_box: RealBox) -> None:
    """A moved wire locks again; a new calibration or limit does not."""
    passed_before(real_box, demo_box())
    box = demo_box()
    moved = box.model_copy(update={"lid": box.lid.model_copy(update={"shut_pin": 22})})
    tuned = box.model_copy(
        update={
            "limits": box.limits.model_copy(update={"drop_limit": 0.2}),
            "meters": [box.meters[0].model_copy(update={"mw_cm2_per_basic_count": 0.6})],
        }
    )
    for wiring, locked in ((box, False), (tuned, False), (moved, True)):
        again = restart(real_box, wiring)
        assert again.ask("state")["commissioning"]["locked"] is locked
        again.daemon.close()


OLD_STEPS = [step for step in ALL_STEPS if step not in ("k1_rest", "lid_alone", "stop_alone", "cut_out_alone")]
"""The thirteen steps of the walk before hard-wired contacts were tried alone; records of it are in logbooks."""


def test_a_box_that_passed_the_older_walk_is_locked_until_it_has_done_the_new_steps(real_box: RealBox) -> None:
    """And says so in words, with the steps that nobody has done yet."""
    passed_before(real_box, demo_box(), OLD_STEPS)
    again = restart(real_box, demo_box())
    state = again.ask("state")
    told = state["commissioning"]
    assert (told["locked"], told["needed"], told["passed_by"]) == (True, True, None)
    assert "The lid switch alone drops K1" in told["older_walk"]
    assert len(told["older_walk"]) == 4
    (warning,) = [line for line in state["warnings"] if "older walk" in line]
    assert "The emergency stop alone drops K1" in warning
    with pytest.raises(BadRequestError, match="older walk that proved less"):
        again.ask("start", recipe="quick")
    again.ask("commission_override", who="B. Ench", reason="the electrician comes tomorrow")
    assert again.ask("state")["commissioning"]["locked"] is False
    passed_before(again, demo_box())
    last = restart(again, demo_box())
    told = last.ask("state")["commissioning"]
    assert (told["locked"], told["overridden"], told["older_walk"], told["passed_by"]) == (False, False, [], "A")
    again.daemon.close()
    last.daemon.close()


def test_an_override_from_before_a_pass_does_not_come_back_with_an_older_walk(real_box: RealBox) -> None:
    """It was spent when the box passed; what locks it now is not what somebody answered for then."""
    real_box.ask("commission_override", who="B. Ench", reason="the radiometer comes tomorrow")
    real_box.run(5.0)
    passed_before(real_box, demo_box(), OLD_STEPS)
    again = restart(real_box, demo_box())
    told = again.ask("state")["commissioning"]
    assert (told["locked"], told["overridden"]) == (True, False)
    again.daemon.close()


def sighted_box(accepts_deg: float = 63.0) -> BoxDescription:
    """The demo box, with a sensor that says how it looks at six tubes; all of them are seen from 62° on."""
    box = demo_box()
    sight = Sight(tubes=6, pitch_mm=50, height_mm=80, accepts_deg=accepts_deg)
    return box.model_copy(update={"meters": [box.meters[0].model_copy(update={"sight": sight})]})


@pytest.mark.parametrize(("accepts_deg", "named"), [(63.0, "1, 2."), (60.0, "2."), (40.0, None)])
def test_tubes_that_a_walk_showed_not_to_be_seen_are_named_on_a_real_box(
    real_box: RealBox, accepts_deg: float, named: str | None
) -> None:
    """At all times, unless box.yaml owns up to them meanwhile: then they are named for that."""
    utc, box = real_box.clock.utc(), sighted_box(accepts_deg)
    results = [{"step": step, "title": step, "passed": True, "found": ""} for step in [*ALL_STEPS, "tubes_lower"]]
    results[-1]["unseen"] = [1, 2]
    real_box.daemon.writer.put_commissioning(
        CommissioningRecord(utc, wiring_sha256(box), "x", False, "A", 17, json.dumps(results), utc, "passed")
    )
    again = restart(real_box, box)
    told = [text for text in again.ask("state")["warnings"] if "one by one" in text]
    assert len(told) == (named is not None)
    assert all(f"does not see these: {named}" in text for text in told)
    again.daemon.close()


def test_a_box_that_passed_before_tubes_were_looked_at_stays_unlocked_and_says_so(real_box: RealBox) -> None:
    """What the sensor sees keeps nobody out of the light: the step is named as not proved, and locks nothing."""
    sighted = sighted_box()
    passed_before(real_box, sighted)
    again = restart(real_box, sighted)
    told = again.ask("state")["commissioning"]
    assert (told["locked"], told["older_walk"]) == (False, [])
    assert told["not_proved"] == ["The sensor sees each tube of bank lower"]
    again.daemon.close()


def test_what_was_left_to_the_electrician_is_shown_at_all_times(real_box: RealBox) -> None:
    """The box is unlocked, and says what nobody has proved."""
    utc = real_box.clock.utc()
    results = [
        {"step": step, "title": f"Step {step}", "passed": True, "proved": step != "cut_out_alone", "found": ""}
        for step in ALL_STEPS
    ]
    real_box.daemon.writer.put_commissioning(
        CommissioningRecord(utc, wiring_sha256(demo_box()), "x", False, "A", 16, json.dumps(results), utc, "passed")
    )
    again = restart(real_box, demo_box())
    state = again.ask("state")
    assert state["commissioning"]["locked"] is False
    assert state["commissioning"]["not_proved"] == ["Step cut_out_alone"]
    assert "Commissioning is incomplete; not proved here: Step cut_out_alone" in state["warnings"]
    again.daemon.close()


def test_what_the_twin_passed_does_not_unlock_a_real_box(make_bench: MakeBench) -> None:
    """Same wiring, same data folder: nobody has seen those contacts."""
    bench = make_bench(hardwired_lid_switch=True)
    assert commission(bench)["outcome"] == "passed"
    bench.daemon.writer.drain(1)
    with bench.logbook() as book:
        assert book.commissioned(wiring_sha256(demo_box()), simulated=True).passed is not None
    bench.lock.release()
    box = RealBox(bench.data, demo_box())
    state = box.ask("state")["commissioning"]
    assert (state["locked"], state["needed"], state["passed_by"]) == (True, True, None)
    box.daemon.close()
