"""`sumlight panel expose` and the guided series on a running box."""

from collections.abc import Callable

import pytest

from sumlight.cli import main, rigs
from sumlight.store.logbook.export import rows
from tests.cli.terminal import at_terminal
from tests.control.bench_box import BenchBox


def test_what_the_terminal_starts_was_started_by_the_terminal(box: BenchBox) -> None:
    """The socket's group decides there; no log-in stands behind a name."""

    def series() -> None:
        with rigs.RunningBench(box.data) as bench:
            bench.begin("quick", kind="steady", panel="steady light", seconds=2)
            bench.follow()

    assert at_terminal(box, lambda: main(["panel", "expose", "quick", "--data", str(box.data)])) == 0
    box.change_panel()
    at_terminal(box, series)
    box.run(0.5)
    with box.logbook() as book:
        assert [row["started_by"] for row in rows(book, "exposures")] == ["terminal", "terminal"]


def lit(box: BenchBox, act: Callable[[], object], seconds: float = 8.0) -> tuple[object, bool]:
    """Do something at the terminal; returns what it gave, and whether a lamp really gave light then or soon after."""
    seen: list[bool] = []
    box.after_step = lambda: seen.append(box.any_light())
    try:
        got = at_terminal(box, act)
        box.run(seconds)
    finally:
        box.after_step = None
    return got, any(seen)


@pytest.mark.parametrize("end", ["done", "abandoned"])
def test_the_terminal_lights_no_panel_twice(box: BenchBox, capsys: pytest.CaptureFixture[str], end: str) -> None:
    """Neither while it lies inside nor with the lid open; judged by the light of the lamps."""

    def expose() -> object:
        return main(["panel", "expose", "quick", "--data", str(box.data)])

    def tablet() -> object:
        return main(["panel", "teach", "quick", "--seconds", "2", "--data", str(box.data)])

    if end == "done":
        assert lit(box, expose) == (0, True)
    else:
        box.start("long").until(box.any_light)
        box.ask("abandon")
        box.until(lambda: not box.any_light())
    capsys.readouterr()
    for command in (expose, tablet):
        assert lit(box, command) == (2, False)
        assert "Take the panel out: open the lid, shut it again." in capsys.readouterr().err
    box.open_lid()
    assert lit(box, expose) == (2, False)
    box.shut_lid()
    assert lit(box, expose) == (0, True)
