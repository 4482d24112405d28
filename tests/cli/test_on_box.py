"""`sumlight expose` and the guided series on a running box."""

from sumlight.cli import benches, main
from sumlight.store.logbook.export import rows
from tests.cli.terminal import at_terminal
from tests.control.bench_box import BenchBox


def test_what_the_terminal_starts_was_started_by_the_terminal(box: BenchBox) -> None:
    """The socket's group decides there; no log-in stands behind a name."""

    def series() -> None:
        with benches.RunningBench(box.data) as bench:
            bench.ask("series", kind="steady", recipe="quick", seconds=2)
            bench.follow()

    assert at_terminal(box, lambda: main(["expose", "quick", "--data", str(box.data)])) == 0
    box.change_panel()
    at_terminal(box, series)
    box.run(0.5)
    with box.logbook() as book:
        assert [row["started_by"] for row in rows(book, "exposures")] == ["terminal", "terminal"]
