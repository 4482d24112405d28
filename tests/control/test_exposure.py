"""The exposure's state machine, every transition by itself, fed by hand."""

import math

import pytest

from sumlight.box.description import Limits
from sumlight.box.lid import LidState
from sumlight.box.meter import WINDOW_S
from sumlight.control.exposure import DARK_PATIENCE_S, DARK_SAMPLES, Exposure, RefusedError
from sumlight.control.plan import Plan, SidePlan
from sumlight.light.sample import SATURATED, Sample

LIMITS = Limits(strike_limit_s=6.0, lit_limit_s=600.0, bridge_limit_s=0.5, dark_limit_mw_cm2=0.1, drop_limit=0.1)
TICK_S = 0.005
GLASS_MW_CM2 = 5.0


def plan(mode: str = "one", target_mj_cm2: float = 8.0, guard_s: float = 60.0, forgiven: int = 1) -> Plan:
    """A plan for bank `lower`, and `upper` when both sides are lit together; transmission 0.8."""
    names = {"one": ["A"], "turned": ["A", "B"], "together": ["A", "B"]}[mode]
    banks = {"A": "lower", "B": "upper" if mode == "together" else "lower"}
    return Plan(
        panel="P1",
        note="",
        recipe_name="invented",
        recipe_text="",
        recipe_sha256="",
        resist="Invented film",
        sides_mode=mode,
        sides=tuple(SidePlan(name, banks[name], target_mj_cm2, 0.8, guard_s, 0.01) for name in names),
        forgiven=forgiven,
        longest_gap_s=30.0,
        hold_s=60.0,
        hold_limit_s=None,
    )


class Bench:
    """An exposure with ideal lamps: light of 5 mW/cm² at the glass while wanted, a reading every window."""

    def __init__(self, lid: LidState = "shut") -> None:
        self.exposure = Exposure(LIMITS, WINDOW_S)
        self.now_s = 500.0
        self.lid: LidState = lid
        self.daylight_mw_cm2 = 0.0
        self.reads = True
        self.troubles: list[str] = []
        self._next_s = self.now_s + WINDOW_S
        self._light_s = dict.fromkeys(("lower", "upper"), 0.0)
        self.exposure.lid_is(lid, self.now_s)

    def tick(self) -> None:
        """Five milliseconds."""
        self.now_s += TICK_S
        for bank in self._light_s:
            self._light_s[bank] += TICK_S if bank in self.exposure.wanted() else 0.0
        self.exposure.lid_is(self.lid, self.now_s)
        if self.now_s >= self._next_s:
            for bank, light_s in self._light_s.items():
                mean = GLASS_MW_CM2 * min(1.0, light_s / WINDOW_S) + self.daylight_mw_cm2
                sample = Sample(self.now_s, self.now_s - WINDOW_S / 2, (1, 1, 1, 1, 1, 1), 5, 0)
                if self.reads:
                    trouble = self.exposure.reading(bank, sample, mean)
                    self.troubles += [trouble[0]] if trouble else []
                self._light_s[bank] = 0.0
            self._next_s += WINDOW_S
        self.troubles += [name for name, _ in self.exposure.tick(self.now_s)]

    def run(self, seconds: float) -> "Bench":
        """Some time."""
        for _ in range(round(seconds / TICK_S)):
            self.tick()
        return self

    def until(self, state: str, limit_s: float = 60.0) -> "Bench":
        """Until the exposure is in `state`."""
        end_s = self.now_s + limit_s
        while self.exposure.state != state:
            assert self.now_s < end_s, f"still {self.exposure.state}"
            self.tick()
        return self

    def start(self, mode: str = "one", **more: float) -> "Bench":
        """Start, with the record on disk at once."""
        self.exposure.start(plan(mode, **more), self.now_s)  # type: ignore[arg-type]
        self.exposure.record_ready = True
        return self

    def lit(self, mode: str = "one", **more: float) -> "Bench":
        """Start and wait for light, and half a second more."""
        return self.start(mode, **more).until("light").run(0.5)

    def move_lid(self, lid: LidState) -> "Bench":
        """Open or shut it, and a tick."""
        self.lid = lid
        self.tick()
        return self

    def fault(self, stands: bool = True) -> "Bench":
        """A fault is latched, or acknowledged."""
        self.exposure.faulted_is(stands, self.now_s)
        return self

    def go(self) -> "Bench":
        """Somebody says go."""
        self.exposure.go(self.now_s)
        return self

    def words(self) -> list[str]:
        """The events so far, without those that only tell of a side."""
        return [f"{e.what} {e.side or e.word}".strip() for e in self.exposure.events if e.what != "side"]


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
    assert bench.now_s - began_s == pytest.approx(DARK_SAMPLES * WINDOW_S, abs=0.06)


def test_the_dark_reading_is_taken_off_the_dose() -> None:
    """Two percent of steady foreign light, below the limit, do not count as dose."""
    bench = Bench()
    bench.daylight_mw_cm2 = 0.09
    bench.start().until("done")
    assert bench.exposure.sides[0].lit_s == pytest.approx(8.0 / (GLASS_MW_CM2 * 0.8), abs=0.05)


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


def test_unusable_readings_do_not_count_as_darkness() -> None:
    """Nor as light."""
    bench = Bench().start()
    bad = Sample(bench.now_s, bench.now_s, (1,) * 6, 5, SATURATED)  # type: ignore[arg-type]
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
    bench.move_lid("shut").start().until("done")
    assert bench.exposure.outcome == "completed"


@pytest.mark.parametrize("at", ["dark_check", "light", "turn"])
def test_abandon_ends_every_running_state_dark(at: str) -> None:
    """Whatever is under way."""
    bench = Bench().start("turned").until(at)
    bench.exposure.abandon(bench.now_s)
    assert bench.exposure.wanted() == ()
    assert (bench.exposure.state, bench.exposure.outcome) == ("done", "abandoned")
    assert bench.exposure.events[-1].what == "ended"


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
