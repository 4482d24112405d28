"""Go and stop at work on the simulated box, and how little they may do.

The judges are the pins' own record and the twin's lamps.
"""

import pytest

from tests.control.bench_box import BenchBox, demo_box, recipe_text
from tests.control.conftest import MakeBench
from tests.control.events import REACTION_S
from tests.control.frontpanel.panel_bench import beeps, go, panel, said

CONFIRMED_S = 0.015
"""A press must last 10 ms to be one, and is then seen at the next tick."""


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
    assert beeps(bench, heard_s)[-2:] == pytest.approx([0.15, 0.15], abs=0.02)
    bench.happen("lid_opens")
    bench.run(2.0)
    bench.happen("lid_closes")
    go(bench)
    heard_s = bench.clock.now_s
    bench.until_state("done")
    bench.run(3.0)
    assert beeps(bench, heard_s) == pytest.approx([0.3, 0.3, 0.3], abs=0.02)
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


def test_two_sparks_on_the_wire_of_stop_are_no_press(bench: BenchBox) -> None:
    """Each lasts one look; the second is confirmed by nothing that the first one left."""
    bench.ready()
    bench.start()
    bench.until(bench.any_light)
    for _ in range(2):
        bench.happen("button_sticks", button="stop")
        bench.run(0.005)
        bench.happen("button_frees", button="stop")
        bench.run(0.5)
    assert (bench.state, bench.any_light()) == ("light", True)


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
