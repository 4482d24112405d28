"""The command `note`: what a person found out about a panel, taken by control because it alone writes the logbook."""

import pytest

from tests.control.bench_box import BenchBox


def test_note_and_result_reach_the_logbook(bench: BenchBox) -> None:
    """After the panel is done."""
    bench.run(0.5)
    bench.start_new(dose_mj_cm2=5)
    bench.until(lambda: bench.snapshot()["state"] == "done")
    number = bench.snapshot()["exposure"]["exposure_id"]
    bench.ask("note", exposure_id=number, note="thick film", result="lines true to size", who="Ada")
    bench.run(0.5)
    with bench.logbook() as book:
        row = book.exposure(number)
    assert row is not None
    assert (row["note"], row["result"], row["noted_by"]) == ("thick film", "lines true to size", "Ada")


@pytest.mark.parametrize("number", [0, -1, 1.5, 2.0**60])
def test_what_is_no_number_of_an_exposure_is_refused(bench: BenchBox, number: float) -> None:
    """Before anything is written."""
    assert bench.refused("note", exposure_id=number, note="x", result="", who="Ada").field == "exposure_id"


def test_a_note_on_a_panel_that_does_not_exist_keeps_nothing_from_starting(bench: BenchBox) -> None:
    """A slip of somebody's script must not look like a broken card."""
    bench.run(0.5)
    bench.ask("note", exposure_id=99, note="x", result="", who="Ada")
    bench.run(0.5)
    assert bench.snapshot()["logbook"]["ok"]
    assert "start" in bench.snapshot()["may"]
