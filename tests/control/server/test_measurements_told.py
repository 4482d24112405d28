"""What control says while the sensor alone lies in the light: of no panel, of no rest."""

import re
from typing import Any

import pytest

from tests.control.bench_box import BenchBox

OF_A_PANEL = re.compile(r"panel|\brest\b|develop|hold time", re.IGNORECASE)


def told(bench: BenchBox) -> str:
    """The sentence of the present moment; the exposure asks for no rest."""
    snapshot = bench.snapshot()
    exposure = snapshot["exposure"]
    assert (exposure["hold_state"], exposure["hold_left_s"], exposure["hold_ends_utc"]) == (None, None, None)
    return str(snapshot["sentence"])


@pytest.mark.parametrize(
    ("kind", "values"),
    [("compare", {"legs": 3, "seconds": 3.0}), ("field", {"legs": 2, "seconds": 3.0}), ("steady", {"seconds": 3.0})],
)
def test_a_measurement_speaks_of_no_panel_and_asks_for_no_rest(
    bench: BenchBox, kind: str, values: dict[str, Any]
) -> None:
    """Under light, between legs, paused, at its end with the lid shut and open, and while the box waits again."""
    bench.ready().ask("series", kind=kind, recipe="quick", panel="", **values)
    bench.until_state("light")
    seen = [told(bench)]
    while bench.state != "done":
        bench.until(lambda: bench.state in ("turn", "done"))
        seen.append(told(bench))
        if bench.state == "turn":
            bench.open_lid()
            seen.append(told(bench))
            bench.run(1.0)
            bench.shut_lid()
            bench.ask("go")
            bench.until_state("light")
    bench.run(1.0)
    seen.append(told(bench))
    bench.open_lid()
    seen.append(told(bench))
    assert [words for words in seen if OF_A_PANEL.search(words)] == []


def test_a_measurement_that_is_given_up_speaks_of_no_panel_either(bench: BenchBox) -> None:
    """The lid is opened in the middle of a leg, and nobody goes on."""
    bench.ready().ask("series", kind="field", recipe="quick", panel="", legs=2, seconds=3.0)
    bench.until_state("light")
    bench.open_lid()
    seen = [told(bench)]
    bench.ask("abandon")
    seen.append(told(bench))
    assert [words for words in seen if OF_A_PANEL.search(words)] == []


def test_a_panel_is_still_told_to_rest(bench: BenchBox) -> None:
    """A taught exposure lights a panel, as a strip and a tablet do."""
    bench.ready().ask("series", kind="teach", recipe="quick", panel="", seconds=3.0)
    bench.until_state("done")
    snapshot = bench.snapshot()
    assert "panel" in str(snapshot["sentence"])
    assert snapshot["exposure"]["hold_state"] is not None
