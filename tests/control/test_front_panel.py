"""The front panel at work on the simulated box: go, stop, buzzer and light, and how little they may do.

The judges are the pins' own record and the twin's lamps.
"""

import threading
from contextlib import suppress
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from sumlight.box.assembly import Box
from sumlight.box.description import FrontPanel
from sumlight.control.frontpanel.patterns import buzzer_on, light_on
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.snapshot import Sign
from sumlight.twin.pins import TwinPin
from tests.control.bench_box import BenchBox, demo_box, recipe_text
from tests.control.conftest import MakeBench
from tests.control.events import REACTION_S

GO, STOP, BUZZER, LIGHT = 5, 26, 21, 4
CONFIRMED_S = 0.015
"""A press must last 10 ms to be one, and is then seen at the next tick."""


def panel(**changes: Any) -> FrontPanel:
    """Everything there is."""
    parts = {"go_pin": GO, "stop_pin": STOP, "buzzer_pin": BUZZER, "light_pin": LIGHT, "go_recipe": "quick"}
    return FrontPanel.model_validate(parts | changes)


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """A box with a whole front panel."""
    return make_bench(box=demo_box(front_panel=panel()))


def go(bench: BenchBox) -> None:
    """Press go once the box has stood still for a moment, and let it go."""
    bench.run(1.0)
    bench.happen("go_tapped")
    bench.run(0.3)


def beeps(bench: BenchBox, since_s: float) -> list[float]:
    """How long the buzzer has sounded each time since then."""
    changes = [(at_s, level) for at_s, level in bench.pin(BUZZER).history if at_s > since_s]
    return [off_s - on_s for (on_s, on), (off_s, off) in pairwise(changes) if on and not off]


def said(bench: BenchBox) -> str:
    """Why the last press did nothing."""
    return str(bench.snapshot()["front_panel"]["said"] or "")


def test_a_two_sided_panel_is_done_by_go_stop_and_buzzer_alone(make_bench: MakeBench) -> None:
    """No page, no command: only buttons, lid and ears. Both sides get their dose, by the twin's own count."""
    bench = make_bench(box=demo_box(front_panel=panel(go_recipe="both")))
    bench.save("both", recipe_text(sides="turned"))
    bench.ready()
    go(bench)
    bench.until(lambda: bench.any_light() and bench.side().dose_mj_cm2 > 5)
    bench.happen("stop_tapped")
    bench.run(0.3)
    assert (bench.state, bench.any_light()) == ("paused", False)
    go(bench)
    heard_s = bench.clock.now_s
    bench.until_state("turn")
    bench.run(1.0)
    assert beeps(bench, heard_s)[-2:] == pytest.approx([0.15, 0.15], abs=0.01)
    bench.happen("lid_opens")
    bench.run(2.0)
    bench.happen("lid_closes")
    go(bench)
    heard_s = bench.clock.now_s
    bench.until_state("done")
    bench.run(3.0)
    assert beeps(bench, heard_s) == pytest.approx([0.3, 0.3, 0.3], abs=0.01)
    assert bench.exposure.outcome == "completed"
    assert [bench.true_dose(side) for side in "AB"] == pytest.approx([20.0, 20.0], rel=0.05)
    with bench.logbook() as book:
        assert book.recent(1)[0]["panel"] == "both · 1"


def test_the_same_panel_gets_the_next_label_the_next_time(bench: BenchBox) -> None:
    """And the record says that it was the button."""
    for _ in range(2):
        bench.ready()
        go(bench)
        bench.until_state("done")
    with bench.logbook() as book:
        assert [row["panel"] for row in book.recent(2)] == ["quick · 2", "quick · 1"]


def test_stop_tapped_is_dark_at_once_and_nothing_else(bench: BenchBox) -> None:
    """As soon as the press is one; again and again it only darkens."""
    bench.light_up()
    at_s = bench.clock.now_s
    bench.happen("stop_tapped")
    bench.run(0.5)
    assert bench.switched_off_after(at_s) <= CONFIRMED_S + REACTION_S
    assert bench.state == "paused"
    for _ in range(3):
        bench.happen("stop_tapped")
        bench.run(2.0)
    assert (bench.state, bench.any_light()) == ("paused", False)


def test_no_light_comes_while_stop_is_held(bench: BenchBox) -> None:
    """Whoever else asks for it."""
    bench.ready()
    bench.happen("button_sticks", button="stop")
    bench.run(1.0)
    bench.start()
    bench.run(3.0)
    assert not bench.any_light()
    assert bench.state == "paused"


@pytest.mark.parametrize("lasts_s", [0.005, 4.0], ids=["a spark", "leaned on"])
def test_button_frees_too_soon_or_too_late_and_nothing_starts(bench: BenchBox, lasts_s: float) -> None:
    """Too short for a finger, or too long."""
    bench.ready().run(1.0)
    bench.happen("button_sticks", button="go")
    bench.run(lasts_s)
    bench.happen("button_frees", button="go")
    bench.run(1.0)
    assert bench.state == "idle"


def test_go_tapped_before_its_act_had_stood_for_a_moment_does_nothing(bench: BenchBox) -> None:
    """The thumb was on its way when the lid fell shut."""
    bench.ready()
    bench.happen("lid_opens")
    bench.run(1.0)
    bench.happen("lid_closes")
    bench.run(0.5)
    assert "start" in bench.exposure.may()
    bench.happen("go_tapped")
    bench.run(1.0)
    assert bench.state == "idle"
    go(bench)
    assert bench.state != "idle"


def test_a_lid_opened_under_the_thumb_undoes_the_press(bench: BenchBox) -> None:
    """What was there when it began is not there when it ends."""
    bench.ready().run(1.0)
    bench.happen("button_sticks", button="go")
    bench.run(0.3)
    bench.happen("lid_opens")
    bench.run(0.5)
    bench.happen("lid_closes")
    bench.run(1.0)
    bench.happen("button_frees", button="go")
    bench.run(1.0)
    assert bench.state == "idle"


def test_after_side_a_go_needs_the_lid_opened_and_shut(bench: BenchBox) -> None:
    """The page's own rule; what is missing is said."""
    bench.save("quick", recipe_text(sides="turned"))
    bench.ready()
    go(bench)
    bench.until_state("turn")
    go(bench)
    assert bench.state == "turn"
    assert "The lid was not opened since the last light." in said(bench)
    assert not bench.any_light()


def test_button_sticks_and_is_named_and_does_nothing(bench: BenchBox) -> None:
    """Not while it sticks and not when it comes back; the other one still works, and the page still lights."""
    bench.ready().run(1.0)
    bench.happen("button_sticks", button="go")
    bench.run(10.5)
    warnings = [warning.code for warning in bench.snapshot()["warnings"]]
    assert "go_button_sticks" in warnings
    assert bench.state == "idle"
    bench.start()
    bench.until(bench.any_light)
    bench.happen("stop_tapped")
    bench.run(0.3)
    assert not bench.any_light()
    bench.run(2.0)
    bench.happen("button_frees", button="go")
    bench.run(2.0)
    assert (bench.state, bench.any_light()) == ("paused", False)
    assert "go_button_sticks" not in [warning.code for warning in bench.snapshot()["warnings"]]


def test_a_stop_that_sticks_darkens_once_and_is_then_named(bench: BenchBox) -> None:
    """Its wire may be off; the emergency stop and the lid are the ones to rely on."""
    bench.light_up()
    bench.happen("button_sticks", button="stop")
    bench.run(10.5)
    assert bench.state == "paused"
    assert "stop_button_sticks" in [warning.code for warning in bench.snapshot()["warnings"]]
    bench.ask("go")
    bench.until(bench.any_light)
    bench.run(1.0)
    assert bench.any_light()


def test_a_button_that_was_pressed_before_control_came_counts_for_nothing(make_bench: MakeBench) -> None:
    """Nobody saw it go down."""
    bench = make_bench({"at_s": 0, "do": "button_sticks", "button": "go"}, box=demo_box(front_panel=panel()))
    bench.run(2.5)
    bench.happen("button_frees", button="go")
    bench.run(1.0)
    assert bench.state == "idle"


def test_go_acknowledges_first_and_lights_only_at_the_next_press(bench: BenchBox) -> None:
    """A fault whose cause still stands stays."""
    bench.light_up()
    bench.happen("stop_pressed")
    bench.run(0.5)
    go(bench)
    assert bench.faults == ["emergency_stop"]
    bench.happen("stop_released")
    go(bench)
    assert (bench.faults, bench.state) == ([], "paused")
    go(bench)
    bench.until(bench.any_light)


def test_a_go_that_would_begin_nothing_says_so(make_bench: MakeBench) -> None:
    """Without a recipe for the button, or with one that is gone."""
    bench = make_bench(box=demo_box(front_panel=panel(go_recipe=None))).ready()
    go(bench)
    assert (bench.state, said(bench)[:31]) == ("idle", "The go button begins nothing he")
    bench.close()
    bench = make_bench(box=demo_box(front_panel=panel(go_recipe="gone"))).ready()
    go(bench)
    assert bench.state == "idle"
    assert "gone" in said(bench)


@pytest.fixture
def guarded(make_bench: MakeBench) -> BenchBox:
    """A box that lights from elsewhere only with a press of go."""
    return make_bench(box=demo_box(front_panel=panel(press_to_light=True))).ready()


def test_with_press_to_light_a_command_waits_for_go_at_the_box(guarded: BenchBox) -> None:
    """And says so meanwhile."""
    guarded.start()
    guarded.run(5.0)
    assert (guarded.state, guarded.any_light()) == ("idle", False)
    assert guarded.snapshot()["sentence"].startswith("Press go at the box: 25 s left.")
    go(guarded)
    guarded.until_state("done")
    with guarded.logbook() as book:
        assert book.recent(1)[0]["recipe_name"] == "quick"


def test_after_thirty_seconds_it_is_called_off(guarded: BenchBox) -> None:
    """The next go then is one of its own."""
    guarded.start(panel="from afar")
    guarded.run(30.2)
    assert "Nobody pressed go" in said(guarded)
    assert guarded.snapshot()["front_panel"]["waits_s"] is None
    go(guarded)
    guarded.until_state("done")
    with guarded.logbook() as book:
        assert book.recent(1)[0]["panel"] == "quick · 1"


def test_a_press_that_began_before_the_command_came_is_not_for_it(guarded: BenchBox) -> None:
    """It was on its way to what the button begins by itself."""
    guarded.run(1.0)
    guarded.happen("button_sticks", button="go")
    guarded.run(0.5)
    guarded.start(panel="from afar")
    guarded.run(0.1)
    guarded.happen("button_frees", button="go")
    guarded.run(0.5)
    label = guarded.exposure.plan.panel if guarded.exposure.plan is not None else ""
    assert label == "quick · 1"


@pytest.mark.parametrize("ends", ["lid", "dark", "stop"])
def test_what_changes_meanwhile_calls_it_off(guarded: BenchBox, ends: str) -> None:
    """It was meant for the box as it stood."""
    guarded.start(panel="from afar")
    guarded.run(1.0)
    match ends:
        case "lid":
            guarded.happen("lid_opens")
            guarded.run(1.0)
            guarded.happen("lid_closes")
        case "dark":
            guarded.ask("dark")
        case "stop":
            guarded.happen("stop_tapped")
    guarded.run(1.0)
    go(guarded)
    guarded.run(0.5)
    label = guarded.exposure.plan.panel if guarded.exposure.plan is not None else ""
    assert label != "from afar"


def test_every_word_that_lights_from_elsewhere_waits(guarded: BenchBox) -> None:
    """Series and going on, too."""
    guarded.ask("series", kind="steady", recipe="quick", panel="", seconds=5.0)
    guarded.run(1.0)
    assert guarded.state == "idle"
    go(guarded)
    guarded.until(guarded.any_light)
    guarded.ask("dark")
    guarded.run(1.0)
    guarded.ask("go")
    guarded.run(2.0)
    assert (guarded.state, guarded.any_light()) == ("paused", False)
    go(guarded)
    guarded.until(guarded.any_light)


def test_a_step_of_commissioning_that_lights_waits_too(guarded: BenchBox) -> None:
    """Nothing lights and K1 is not lent before somebody at the box has pressed go."""
    guarded.ask("commission_begin", who="Ada")
    guarded.run(0.5)
    run = guarded.snapshot()["commissioning"]["run"]
    while run["phase"] != "prepare":
        if run["phase"] in ("act", "undo"):
            with suppress(BadRequestError):  # a step that measures by itself
                guarded.ask("simulate", do="as_asked")
            guarded.run(1.0)
        if guarded.snapshot()["commissioning"]["run"]["waits_for_next"]:
            guarded.ask("commission_next", answer="yes")
        guarded.run(1.0)
        run = guarded.snapshot()["commissioning"]["run"]
    at = run["at"]
    guarded.ask("commission_next", at_the_box=True)
    guarded.run(3.0)
    run = guarded.snapshot()["commissioning"]["run"]
    assert (run["at"], guarded.loop.permit.k1.lent, guarded.any_light()) == (at, False, False)
    go(guarded)
    assert guarded.snapshot()["commissioning"]["run"]["at"] != at


def test_a_command_that_is_refused_anyway_is_refused_at_once(guarded: BenchBox) -> None:
    """Nobody walks to the box for nothing."""
    guarded.happen("lid_opens")
    guarded.run(1.0)
    assert "The lid is not shut." in str(guarded.refused("start", recipe="quick").message)


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
    assert heard == {"fault": (5, 80), "needs_you": (4, 15), "done": (3, 30)}
    assert not any(buzzer_on(sign, at / 10) for sign in ("lit", "ready", "rest") for at in range(100))
