"""With `press_to_light` whatever lights from elsewhere waits for a press of go at the box."""

from contextlib import suppress

import pytest

from sumlight.protocol.errors import BadRequestError
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.frontpanel.panel_bench import go, panel, said


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
