"""Who gave the word to light stands on the record, from the page and from the terminal."""

from pathlib import Path
from typing import Any

import pytest

from sumlight.store.logbook.export import rows
from tests.control.bench_box import BenchBox
from tests.control.commission_run import at_step

STEADY = {"kind": "steady", "recipe": "quick", "seconds": 3}


def recorded(bench: BenchBox) -> list[str]:
    """As the logbook on disk has it, oldest first."""
    bench.run(0.5)
    with bench.logbook() as book:
        return [row["started_by"] for row in rows(book, "exposures")]


@pytest.mark.parametrize(("command", "values"), [("start", {"recipe": "quick"}), ("series", STEADY)])
@pytest.mark.parametrize(("who", "kept"), [({"who": "Ada"}, "Ada"), ({}, "terminal")])
def test_who_started_it_is_recorded(
    bench: BenchBox, command: str, values: dict[str, Any], who: dict[str, str], kept: str
) -> None:
    """The page sends its operator; the command line, where control's group decides, sends nobody."""
    bench.ready().ask(command, **values, **who)
    bench.until_state("done")
    assert recorded(bench) == [kept]
    with bench.logbook() as book:
        assert book.recent()[0]["started_by"] == kept


def test_what_commissioning_lights_was_started_by_whoever_commissions(bench: BenchBox) -> None:
    """It has a name already."""
    bench.ready()
    at_step(bench, "bank_relay")
    bench.ask("commission_next")
    bench.until(lambda: bench.world.is_lit(bench.lit_bank))
    bench.ask("commission_abort")
    assert recorded(bench) == ["A"]


def test_a_name_that_goes_on_for_ever_is_refused(bench: BenchBox) -> None:
    """As beside a note."""
    assert bench.ready().refused("start", recipe="quick", who="x" * 61).field == "who"


def test_a_restart_does_not_change_it(make_bench: Any, tmp_path: Path) -> None:
    """Whoever continues after it did not begin it."""
    bench = make_bench().ready()
    bench.ask("start", recipe="quick", who="Ada")
    bench.until(lambda: bench.world.is_lit(bench.lit_bank))
    bench.kill()
    again = make_bench()
    again.until(lambda: "go" in again.exposure.may())
    again.ask("go")
    again.until_state("done")
    assert recorded(again) == ["Ada"]
