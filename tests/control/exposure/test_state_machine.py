"""The exposure's state machine: from idle to done, pauses, faults, commands; every transition by itself."""

import math

import pytest

from sumlight.box.lid import LidState
from sumlight.control.exposure.dark_check import DARK_PATIENCE_S, DARK_SAMPLES
from sumlight.control.refused import RefusedError
from sumlight.light.sample import SATURATED, UNSETTLED, Sample
from sumlight.light.sensors import AS7341
from tests.control.ideal_lamps import GLASS_MW_CM2, LIMITS, Bench, plan


def test_idle_to_dark_check_to_light_to_done() -> None:
    """The way of an undisturbed panel."""
    bench = Bench()
    assert bench.exposure.state == "idle"
    bench.start()
    assert bench.exposure.state == "dark_check"
    assert bench.exposure.wanted() == ()
    bench.until("light")
    assert bench.exposure.wanted() == ("lower",)
    bench.until("done")
    assert bench.exposure.wanted() == ()
    assert bench.exposure.outcome == "completed"
    assert bench.exposure.sides[0].dose_mj_cm2 == pytest.approx(8.0, abs=0.1)
    assert bench.words() == ["lit A", "dark A", "ended completed"]
    assert bench.troubles == []


def test_the_dark_check_takes_five_readings() -> None:
    """A quarter of a second of darkness before light."""
    bench = Bench().start()
    began_s = bench.now_s
    bench.until("light")
    assert bench.now_s - began_s == pytest.approx(DARK_SAMPLES * AS7341.window_s, abs=0.06)


def test_the_dark_reading_is_taken_off_the_dose() -> None:
    """Two percent of steady foreign light, below the limit, do not count as dose."""
    bench = Bench()
    bench.daylight_mw_cm2 = 0.09
    bench.start().until("done")
    assert bench.exposure.sides[0].lit_s == pytest.approx(8.0 / (GLASS_MW_CM2 * 0.8), abs=0.05)


def test_the_dark_check_uses_readings_of_one_gain_only() -> None:
    """Each gain has an offset of its own; what was read before the gain changed is forgotten."""
    bench = Bench().start()
    for number, (gain_code, glass_mw_cm2) in enumerate([(0, 0.05)] * 4 + [(5, 0.001)] * 5):
        assert bench.exposure.state == "dark_check"
        at_s = bench.now_s + 0.05 * number
        bench.exposure.reading("lower", Sample(at_s, at_s, (1, 1, 1, 1, 1, 1), gain_code, 0), glass_mw_cm2)
        bench.exposure.tick(at_s)
    assert bench.exposure.state == "light"
    assert bench.exposure.sides[0].dark_mw_cm2 == pytest.approx(0.001)


def test_nothing_is_lit_before_the_record_is_on_disk() -> None:
    """The dark check goes on until it is."""
    bench = Bench()
    bench.exposure.start(plan(), bench.now_s)
    bench.run(10.0)
    assert bench.exposure.state == "dark_check"
    assert bench.troubles == []
    bench.exposure.record_ready = True
    bench.tick()
    assert bench.exposure.state == "light"


def test_a_record_that_failed_forgets_the_run() -> None:
    """Idle again, ready for another try."""
    bench = Bench()
    bench.exposure.start(plan(), bench.now_s)
    bench.exposure.record_failed()
    assert bench.exposure.state == "idle"
    assert bench.exposure.plan is None
    bench.start().until("done")


def test_light_in_the_dark_check_is_told() -> None:
    """The mean of five readings above the limit."""
    bench = Bench()
    bench.daylight_mw_cm2 = 0.15
    bench.start().run(0.3)
    assert set(bench.troubles) == {"light_while_dark"}


def test_no_reading_in_the_dark_check_is_told_after_a_while() -> None:
    """Nothing is lit blindly."""
    bench = Bench().start()
    bench.reads = False
    bench.run(DARK_PATIENCE_S + 0.1)
    assert set(bench.troubles) == {"meter_lost"}
    assert bench.exposure.wanted() == ()


@pytest.mark.parametrize(("flags", "fault"), [(SATURATED, "meter_saturated"), (UNSETTLED, "meter_lost")])
def test_a_meter_that_sees_too_much_is_not_called_silent(flags: int, fault: str) -> None:
    """It answers at full scale, whatever its windows last; one that gives nothing of use is silent."""
    bench = Bench().lit()
    bench.reads = False
    while not bench.troubles:
        bench.run(0.1)
        bench.exposure.reading("lower", Sample(bench.now_s, bench.now_s - 0.03, (1,) * 6, 1, flags), 0.0)
    assert set(bench.troubles) == {fault}


@pytest.mark.parametrize(
    ("bridge_s", "age_s", "fault"),
    [
        (0.5, 0.2, "meter_saturated"),
        (0.5, 0.3, "meter_lost"),
        (1.0, 0.45, "meter_saturated"),
        (1.0, 0.6, "meter_lost"),
    ],
)
def test_full_scale_counts_for_half_the_bridged_time(bridge_s: float, age_s: float, fault: str) -> None:
    """What it last said is that old when the time runs out in which light may go unseen."""
    bench = Bench(limits=LIMITS.model_copy(update={"bridge_limit_s": bridge_s})).lit(target_mj_cm2=20.0)
    bench.reads = False
    seen_s = bench.exposure.sides[0].last_usable_s
    while bench.now_s < seen_s + bridge_s - age_s:
        bench.tick()
    bench.exposure.reading("lower", Sample(bench.now_s, bench.now_s - 0.03, (1,) * 6, 1, SATURATED), 0.0)
    bench.run(age_s + 0.02)
    assert set(bench.troubles) == {fault}


def test_a_meter_that_falls_silent_after_full_scale_is_silent() -> None:
    """One such reading, and then nothing at all."""
    bench = Bench().lit()
    bench.reads = False
    bench.run(0.1)
    bench.exposure.reading("lower", Sample(bench.now_s, bench.now_s - 0.03, (1,) * 6, 1, SATURATED), 0.0)
    bench.run(0.5)
    assert set(bench.troubles) == {"meter_lost"}


def test_unusable_readings_do_not_count_as_darkness() -> None:
    """Nor as light."""
    bench = Bench().start()
    bad = Sample(bench.now_s, bench.now_s, (1,) * 6, 5, SATURATED)
    for _ in range(10):
        assert bench.exposure.reading("lower", bad, 0.0) is None
    bench.exposure.tick(bench.now_s)
    assert bench.exposure.state == "dark_check"


@pytest.mark.parametrize("lid", ["open", "disagree"])
def test_light_to_paused_by_the_lid(lid: LidState) -> None:
    """Anything but shut ends light in the same tick."""
    bench = Bench().lit().move_lid(lid)
    assert (bench.exposure.state, bench.exposure.pause_cause) == ("paused", "lid")
    assert bench.exposure.wanted() == ()
    assert bench.exposure.next_deadline_s() == math.inf


def test_light_to_paused_by_the_dark_command() -> None:
    """The dose is kept."""
    bench = Bench().lit()
    before = bench.exposure.sides[0].dose_mj_cm2
    bench.exposure.dark(bench.now_s)
    assert (bench.exposure.state, bench.exposure.pause_cause) == ("paused", "dark_command")
    assert bench.exposure.sides[0].dose_mj_cm2 >= before > 0


def test_light_to_faulted_to_paused() -> None:
    """A fault shows over the pause; once cleared, the pause waits for a go."""
    bench = Bench().lit().fault()
    assert (bench.exposure.state, bench.exposure.base_state) == ("faulted", "paused")
    assert bench.exposure.wanted() == ()
    with pytest.raises(RefusedError, match="acknowledge"):
        bench.go()
    bench.fault(False)
    assert (bench.exposure.state, bench.exposure.pause_cause) == ("paused", "fault")
    bench.go().until("done")
    assert bench.words() == ["lit A", "dark A", "pause fault", "resume", "lit A", "dark A", "ended completed"]


def test_a_fault_while_idle_refuses_a_start() -> None:
    """Until it is acknowledged."""
    bench = Bench().fault()
    assert bench.exposure.state == "faulted"
    assert bench.exposure.may() == ["dark"]
    with pytest.raises(RefusedError, match="fault"):
        bench.start()
    bench.fault(False).start().until("done")


@pytest.mark.parametrize("cause", ["lid", "dark", "fault"])
def test_dark_check_to_paused(cause: str) -> None:
    """Also what was only about to start waits for a person's word; no interruption of the resist is counted."""
    bench = Bench().start().run(0.1)
    if cause == "lid":
        bench.move_lid("open").move_lid("shut")
    elif cause == "dark":
        bench.exposure.dark(bench.now_s)
    else:
        bench.fault().fault(False)
    assert bench.exposure.state == "paused"
    bench.run(5.0)
    assert bench.exposure.state == "paused"
    bench.go().until("done")
    assert bench.exposure.sides[0].pauses == 0


def test_paused_needs_shut_lid_and_go() -> None:
    """Shutting alone does nothing; go alone is refused."""
    bench = Bench().lit().move_lid("open")
    assert bench.exposure.may() == ["dark", "abandon"]
    with pytest.raises(RefusedError, match="lid"):
        bench.go()
    bench.move_lid("shut").run(10.0)
    assert bench.exposure.state == "paused"
    assert bench.exposure.may() == ["dark", "go", "abandon"]
    bench.go()
    assert bench.exposure.state == "dark_check"
    bench.until("done")
    assert bench.exposure.sides[0].dose_mj_cm2 == pytest.approx(8.0, abs=0.2)
    assert bench.exposure.sides[0].pauses == 1


def test_paused_to_abandoned() -> None:
    """The end for good; the next panel may start."""
    bench = Bench().lit().move_lid("open")
    bench.exposure.abandon(bench.now_s)
    assert (bench.exposure.state, bench.exposure.outcome) == ("done", "abandoned")
    assert bench.exposure.sides[0].state == "abandoned"
    bench.move_lid("open").move_lid("shut").start().until("done")
    assert bench.exposure.outcome == "completed"


@pytest.mark.parametrize("at", ["dark_check", "light", "turn"])
def test_abandon_ends_every_running_state_dark(at: str) -> None:
    """Whatever is under way."""
    bench = Bench().start("turned").until(at)
    bench.exposure.abandon(bench.now_s)
    assert bench.exposure.wanted() == ()
    assert (bench.exposure.state, bench.exposure.outcome) == ("done", "abandoned")
    assert "ended" in [event.what for event in bench.exposure.events]


def test_abandon_keeps_a_side_that_is_done() -> None:
    """Side A got its dose, whatever becomes of B."""
    bench = Bench().start("turned").until("turn")
    bench.exposure.abandon(bench.now_s)
    assert [side.state for side in bench.exposure.sides] == ["done", "abandoned"]


def test_nothing_under_way_cannot_be_abandoned_or_continued() -> None:
    """Clear words with a remedy."""
    bench = Bench()
    for command in (bench.exposure.abandon, bench.exposure.go):
        with pytest.raises(RefusedError) as error:
            command(bench.now_s)
        assert error.value.remedy


@pytest.mark.parametrize("at", ["dark_check", "light", "paused", "turn"])
def test_a_second_start_is_refused_while_running(at: str) -> None:
    """The first one is not disturbed by it."""
    bench = Bench().start("turned" if at == "turn" else "one")
    if at == "paused":
        bench.until("light").exposure.dark(bench.now_s)
    bench.until(at)
    before = bench.exposure.plan
    with pytest.raises(RefusedError, match="under way"):
        bench.start()
    assert (bench.exposure.state, bench.exposure.plan) == (at, before)


@pytest.mark.parametrize("lid", ["open", "disagree"])
def test_a_start_needs_a_shut_lid(lid: LidState) -> None:
    """Nor is it offered."""
    bench = Bench(lid)
    assert "start" not in bench.exposure.may()
    with pytest.raises(RefusedError, match="Shut it"):
        bench.start()
    assert bench.exposure.state == "idle"
