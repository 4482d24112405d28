"""The exposure's state machine: two sides, what guards them, and what makes a panel doubtful."""

import pytest

from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.refused import RefusedError
from sumlight.light.sensors import AS7341
from tests.control.ideal_lamps import LIMITS, Bench


def test_turned_waits_for_the_panel_to_be_turned() -> None:
    """Go is refused until the lid has been open since side A."""
    bench = Bench().start("turned").until("turn")
    assert bench.exposure.wanted() == ()
    assert "go" not in bench.exposure.may()
    with pytest.raises(RefusedError, match="turn the panel"):
        bench.go()
    bench.move_lid("open")
    with pytest.raises(RefusedError, match="lid is not shut"):
        bench.go()
    bench.move_lid("shut").run(5.0)
    assert bench.exposure.state == "turn"
    bench.go().until("done")
    assert [side.dose_mj_cm2 for side in bench.exposure.sides] == pytest.approx([8.0, 8.0], abs=0.1)
    assert bench.words() == ["lit A", "dark A", "lit B", "dark B", "ended completed"]


def test_a_lid_opened_before_side_a_was_done_does_not_count_as_turning() -> None:
    """It must be opened after the cut."""
    bench = Bench().lit("turned").move_lid("open").move_lid("shut").go().until("turn")
    with pytest.raises(RefusedError, match="turn the panel"):
        bench.go()


def test_a_lid_opened_in_the_tail_of_side_a_counts_as_turning() -> None:
    """The person was quicker than the afterglow."""
    bench = Bench().start("turned")
    while not bench.exposure.sides or bench.exposure.sides[0].state != "cut":
        bench.tick()
    bench.move_lid("open")
    assert bench.exposure.state == "turn"
    bench.move_lid("shut").go().until("done")


def test_a_lid_opened_in_the_tail_of_side_a_stops_the_pump() -> None:
    """The frame is opened: side B waits for the whole lead."""
    bench = Bench()
    bench.exposure = Exposure(LIMITS, AS7341.window_s, 1.0)
    bench.exposure.lid_is("shut", bench.now_s)
    bench.start("turned")
    while not bench.exposure.sides or bench.exposure.sides[0].state != "cut":
        bench.tick()
    assert bench.exposure.vacuum.running
    bench.move_lid("open")
    assert bench.exposure.state == "turn"
    assert not bench.exposure.vacuum.running


@pytest.mark.parametrize("cause", ["dark", "fault"])
def test_a_side_b_stopped_before_its_light_does_not_ask_to_turn_again(cause: str) -> None:
    """The panel was turned already: turned twice, side A would be lit again."""
    bench = Bench().start("turned").until("turn").move_lid("open").move_lid("shut").go().run(0.1)
    if cause == "dark":
        bench.exposure.dark(bench.now_s)
    else:
        bench.fault().fault(False)
    assert bench.exposure.wanted() == ()
    assert "go" in bench.exposure.may()
    bench.go().until("done")
    assert bench.exposure.outcome == "completed"


def test_side_b_interrupted_under_light_is_paused() -> None:
    """No second turning."""
    bench = Bench().start("turned").until("turn").move_lid("open").move_lid("shut").go().until("light").run(0.5)
    bench.move_lid("open").move_lid("shut")
    assert (bench.exposure.state, bench.exposure.pause_cause) == ("paused", "lid")
    bench.go().until("done")
    assert [side.pauses for side in bench.exposure.sides] == [0, 1]


def test_together_lights_both_banks_and_interrupts_both() -> None:
    """And continues both."""
    bench = Bench().lit("together")
    assert bench.exposure.wanted() == ("lower", "upper")
    bench.move_lid("open").move_lid("shut").go().until("light")
    assert bench.exposure.wanted() == ("lower", "upper")
    bench.until("done")
    assert [side.pauses for side in bench.exposure.sides] == [1, 1]


@pytest.mark.parametrize("first", [0, 1])
def test_of_two_lit_sides_the_loop_wakes_for_the_first_to_be_cut(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever of them it is."""
    bench = Bench().lit("together").run(0.5)
    for number, side in enumerate(bench.exposure.sides):
        monkeypatch.setattr(side, "off_at_s", lambda at_s=(3.0 if number == first else 4.0): bench.now_s + at_s)
    bench.tick()
    assert bench.exposure.next_deadline_s() - bench.now_s == pytest.approx(3.0, abs=0.1)


def test_the_enable_line_is_held_until_the_tail_is_over() -> None:
    """So that a relay that does not open shows itself as light."""
    bench = Bench().start()
    while not bench.exposure.sides or bench.exposure.sides[0].state != "cut":
        bench.tick()
    assert bench.exposure.wanted() == ()
    assert bench.exposure.enable_wanted()
    bench.until("done")
    assert not bench.exposure.enable_wanted()


def test_silence_is_told_when_bridging_ends() -> None:
    """Half a second in this box; the permit's own condition ends at the same time."""
    bench = Bench().lit(target_mj_cm2=80.0)
    bench.reads = False
    bench.run(0.45)
    assert bench.troubles == []
    assert bench.exposure.light_known(bench.now_s)
    bench.run(0.15)
    assert set(bench.troubles) == {"meter_lost"}
    assert not bench.exposure.light_known(bench.now_s)


def test_the_time_guard_counts_all_parts_together() -> None:
    """Time in the dark does not count, time with light adds up."""
    bench = Bench().lit(target_mj_cm2=80.0, guard_s=3.0).run(1.5).move_lid("open").run(60.0)
    bench.move_lid("shut").go().until("light").run(0.9)
    assert bench.troubles == []
    bench.run(0.3)
    assert set(bench.troubles) == {"time_guard"}


def test_interruptions_beyond_the_recipe_make_the_panel_doubtful() -> None:
    """One is forgiven here; the second is not."""
    bench = Bench().lit(target_mj_cm2=20.0)
    for wanted in (None, "2 times"):
        assert bench.exposure.why_doubtful() is None
        bench.move_lid("open").move_lid("shut").go().until("light").run(0.5)
        why = bench.exposure.why_doubtful()
        assert (why is None) if wanted is None else (wanted in str(why))


def test_a_gap_longer_than_the_recipe_forgives_makes_the_panel_doubtful() -> None:
    """31 s with 30 forgiven."""
    bench = Bench().lit(target_mj_cm2=20.0).move_lid("open").run(31.0).move_lid("shut").go().until("light")
    assert "lay dark for 31 s" in str(bench.exposure.why_doubtful())


def test_a_dose_well_above_the_target_makes_the_panel_doubtful() -> None:
    """More than three percent, however it came about."""
    bench = Bench().start().until("done")
    bench.exposure.sides[0].sum.dose_mj_cm2 = 8.0 * 1.04
    assert "4% more than its target" in str(bench.exposure.why_doubtful())


def test_done_is_left_by_a_new_start_only() -> None:
    """Time, lid and dark change nothing."""
    bench = Bench().start().until("done")
    bench.run(5.0).move_lid("open").move_lid("shut")
    bench.exposure.dark(bench.now_s)
    assert bench.exposure.state == "done"
    assert bench.exposure.may() == ["dark", "start"]
    bench.start().until("done")


def test_dark_is_always_allowed() -> None:
    """In every state."""
    bench = Bench()
    assert "dark" in bench.exposure.may()
    bench.start("turned")
    for state in ("dark_check", "light", "turn"):
        bench.until(state)
        assert "dark" in bench.exposure.may()
    bench.fault()
    assert "dark" in bench.exposure.may()
