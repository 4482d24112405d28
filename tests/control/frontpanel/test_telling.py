"""What buzzer and light tell, and that neither holds anything up: judged by the pins' own record."""

import threading
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from sumlight.box.assembly import Box
from sumlight.control.frontpanel.patterns import buzzer_on, light_on, timer_heard
from sumlight.protocol.snapshot import Sign
from sumlight.twin.pins import TwinPin
from tests.control.bench_box import BenchBox, demo_box
from tests.control.frontpanel.panel_bench import BUZZER, LIGHT, beeps, go, panel, said


def test_a_buzzer_that_hangs_changes_no_tick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its write never comes back: the panel is exposed to the same dose, tick for tick, and the page says so."""
    doses, ticks, held_up, free = [], [], [], threading.Event()
    write = TwinPin._write

    def hangs(pin: TwinPin, value: float) -> None:
        if pin.number_bcm == LIGHT:
            held_up.append(threading.current_thread() is threading.main_thread())
            if not held_up[-1]:
                free.wait()
        write(pin, value)

    def with_thread(*parts: Any, threaded: bool, **more: Any) -> Box:
        return Box(*parts, threaded=True, **more)

    monkeypatch.setattr("sumlight.control.daemon.Box", with_thread)
    for hung in (False, True):
        bench = BenchBox(tmp_path / f"hung {hung}", box=demo_box(front_panel=panel()))
        if hung:
            monkeypatch.setattr(TwinPin, "state", property(TwinPin._read, hangs))
            monkeypatch.setattr("sumlight.box.front_panel.HANGS_S", 0.0)
        bench.ready().start()
        before = bench.loop.ticks
        while bench.side().state != "cut":
            bench.step()
        ticks.append(bench.loop.ticks - before)
        doses.append(bench.side().dose_mj_cm2)
        told = [warning.code for warning in bench.snapshot()["warnings"]]
        assert ("panel_output_hangs" in told) is hung
        assert bool(held_up) is hung
        assert not any(held_up)
        if hung:
            free.set()
        bench.close()
    assert doses[0] == doses[1]
    assert ticks[0] == ticks[1]


def test_a_panel_that_raises_is_named_and_ends_no_light(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither a pin that cannot be written nor one that cannot be read."""
    bench.light_up()
    write = TwinPin._write

    def fails(pin: TwinPin, value: float) -> None:
        if pin.number_bcm in (BUZZER, LIGHT):
            raise OSError("no such line")
        write(pin, value)

    monkeypatch.setattr(TwinPin, "state", property(TwinPin._read, fails))
    bench.until_state("done")
    bench.run(1.0)
    assert "panel_output_fails" in [warning.code for warning in bench.snapshot()["warnings"]]
    assert bench.faults == []
    assert bench.loop.box.front_panel is not None
    monkeypatch.setattr(bench.loop.box.front_panel, "read", lambda: 1 / 0)
    bench.run(0.5)
    assert "front_panel_failed" in [warning.code for warning in bench.snapshot()["warnings"]]
    assert bench.faults == []


def test_an_output_that_failed_is_told_until_it_obeys_again_and_holds_up_no_other(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also while it happens to be where it should be: what failed once may fail when somebody is called."""
    write, dead = TwinPin._write, [BUZZER]

    def fails(pin: TwinPin, value: float) -> None:
        if pin.number_bcm in dead:
            raise OSError("no such line")
        write(pin, value)

    monkeypatch.setattr(TwinPin, "state", property(TwinPin._read, fails))
    outputs = bench.loop.box.front_panel
    assert outputs is not None
    for buzzer in (True, False):
        outputs.show(buzzer=buzzer, light=buzzer)
        assert outputs.trouble() == "OSError: no such line"
        assert bench.pin(LIGHT).history[-1][1] is buzzer
    dead.clear()
    outputs.show(buzzer=True, light=False)
    assert outputs.trouble() is None


def test_buzzer_and_light_rest_when_control_ends(bench: BenchBox) -> None:
    """Neither goes on by itself."""
    bench.light_up()
    bench.daemon.close()
    for pin in (BUZZER, LIGHT):
        assert [level for _, level in bench.pin(pin).history][-1] is None
        assert True not in [level for _, level in bench.pin(pin).history][-2:]


def test_any_press_silences_the_buzzer_until_something_else_happens(bench: BenchBox) -> None:
    """The light goes on telling."""
    bench.light_up()
    bench.happen("stop_pressed")
    bench.run(0.3)
    bench.happen("stop_tapped")
    bench.run(0.3)
    heard_s = bench.clock.now_s
    bench.run(5.0)
    assert beeps(bench, heard_s) == []
    blinks = [at_s for at_s, level in bench.pin(LIGHT).history if level and at_s > heard_s]
    assert len(blinks) == 10


TIMER_S = 0.5
"""How long the tone of a timer lasts."""


def tones(bench: BenchBox, since_s: float) -> list[float]:
    """Those of timers since then."""
    return [long_s for long_s in beeps(bench, since_s) if abs(long_s - TIMER_S) < 0.05]


@pytest.mark.parametrize("under_light", [False, True])
def test_a_timer_rings_on_the_buzzer_until_somebody_answers(bench: BenchBox, under_light: bool) -> None:
    """One tone every four seconds, also while another panel is lit; nobody touches a phone for it to be heard."""
    bench.light_up() if under_light else bench.ready()
    heard_s = bench.clock.now_s
    number = bench.ask("timer_start", seconds=2.0)["timer_id"]
    bench.run(1.5)
    assert tones(bench, heard_s) == []
    bench.run(9.5)
    assert len(tones(bench, heard_s)) in (2, 3)
    bench.ask("timer_answer", timer_id=number)
    assert bench.daemon.commander.jobs.timers.rings == 0  # at once: whoever answers need not wait for a look
    answered_s = bench.clock.now_s
    bench.run(9.0)
    assert len(tones(bench, answered_s + TIMER_S)) == 0


def test_a_timer_that_rings_costs_light_no_tick(tmp_path: Path) -> None:
    """The panel gets the same dose, tick for tick."""
    doses, ticks, heard = [], [], []
    for rings in (False, True):
        bench = BenchBox(tmp_path / f"rings {rings}", box=demo_box(front_panel=panel()))
        bench.ready()
        if rings:
            bench.ask("timer_start", seconds=2.0)
        bench.start()
        before, began_s = bench.loop.ticks, bench.clock.now_s
        while bench.side().state != "cut":
            bench.step()
        ticks.append(bench.loop.ticks - before)
        doses.append(bench.side().dose_mj_cm2)
        heard.append(len(tones(bench, began_s)) > 0)
        bench.close()
    assert heard == [False, True]
    assert doses[0] == doses[1]
    assert ticks[0] == ticks[1]


def test_a_press_silences_a_timer_and_the_next_ring_is_heard_again(bench: BenchBox) -> None:
    """Stop lights nothing, so hands that are wet can use it."""
    bench.ready()
    for seconds in (2.0, 20.0):
        bench.ask("timer_start", seconds=seconds)
    bench.run(4.0)
    bench.happen("stop_tapped")
    bench.run(0.5)
    silent_s = bench.clock.now_s
    bench.run(13.0)
    assert tones(bench, silent_s) == []
    bench.run(6.0)
    assert len(tones(bench, silent_s)) > 0


def test_go_answers_a_timer_and_lights_nothing_until_it_is_pressed_again(bench: BenchBox) -> None:
    """At a resting box go begins a panel; somebody who only wants quiet must not get light."""
    bench.ready()
    bench.ask("timer_start", seconds=2.0)
    bench.run(4.0)
    go(bench)
    silent_s = bench.clock.now_s
    assert bench.state == "idle"
    assert "once more" in said(bench)
    bench.run(9.0)
    assert tones(bench, silent_s) == []
    go(bench)
    assert bench.state != "idle"


def test_two_minutes_after_a_ring_go_means_light_again(bench: BenchBox) -> None:
    """The buzzer has given up, so nobody means it."""
    bench.ready()
    bench.ask("timer_start", seconds=2.0)
    bench.run(130.0)
    go(bench)
    assert bench.state != "idle"


def test_a_timer_does_not_keep_an_open_panel_from_going_on(bench: BenchBox) -> None:
    """There is light to be finished, which is what go is for."""
    bench.light_up()
    bench.happen("stop_tapped")
    bench.ask("timer_start", seconds=2.0)
    bench.run(4.0)
    assert bench.state == "paused"
    go(bench)
    assert bench.state != "paused"


def test_a_timer_does_not_hide_a_fault(bench: BenchBox) -> None:
    """Its five long tones stand alone; the timer goes on ringing on the page."""
    bench.light_up()
    bench.ask("timer_start", seconds=2.0)
    bench.happen("stop_pressed")
    bench.run(1.0)
    heard_s = bench.clock.now_s
    bench.run(60.0)
    assert bench.snapshot()["front_panel"]["sign"] == "fault"
    assert tones(bench, heard_s) == []
    assert bench.snapshot()["jobs"]["timers"][0]["rings"] is not None


@pytest.mark.parametrize("sign", ["fault", "needs_you", "lit", "done", "ready", "rest"])
def test_nothing_flashes_more_than_three_times_a_second(sign: Sign) -> None:
    """WCAG 2.2, success criterion 2.3.1: three flashes in any one second."""
    looks = [light_on(sign, at / 100) for at in range(2000)]
    for began in range(1900):
        second = looks[began : began + 100]
        assert sum(not before and after for before, after in pairwise(second)) <= 3


def test_patterns_can_be_told_apart_by_ear() -> None:
    """By how long the first tone lasts and how many there are in ten seconds."""
    heard = {}
    for sign in ("fault", "needs_you", "done"):
        looks = [False, *[buzzer_on(sign, at / 100) for at in range(1000)], False]
        starts = [at for at in range(1, len(looks)) if looks[at] and not looks[at - 1]]
        heard[sign] = (len(starts), looks[1:].index(False))
    looks = [False, *[timer_heard(at / 100) for at in range(1000)], False]
    starts = [at for at in range(1, len(looks)) if looks[at] and not looks[at - 1]]
    heard["timer"] = (len(starts), looks[1:].index(False))
    assert heard == {"fault": (5, 80), "needs_you": (4, 15), "done": (3, 30), "timer": (3, 50)}
    assert len(set(heard.values())) == len({tone for _count, tone in heard.values()}) == len(heard)
    assert not any(buzzer_on(sign, at / 10) for sign in ("lit", "ready", "rest") for at in range(100))
