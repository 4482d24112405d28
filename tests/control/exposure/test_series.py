"""Series of legs on one piece: tablets, strips, timed lights."""

import pytest

from sumlight.control.refused import RefusedError
from tests.control.bench_box import BenchBox


def test_a_series_by_dose_gives_every_leg_its_own_dose(bench: BenchBox) -> None:
    """Three zones of a tablet run; the lid is opened in between, and nothing lights without go."""
    doses = [20.0, 24.0, 28.0]
    bench.ready().ask("series", kind="tablet", recipe="quick", panel="tablet", doses_mj_cm2=doses)
    for number in range(3):
        bench.until(lambda: bench.state in ("turn", "done"))
        if number < 2:
            assert "move the step tablet" in bench.snapshot()["sentence"]
            with pytest.raises(RefusedError, match="not opened since the last light"):
                bench.exposure.go(bench.clock.mono_s())
            bench.turn_panel()
            bench.ask("go")
    assert bench.state == "done"
    assert [side.dose_mj_cm2 for side in bench.exposure.sides] == pytest.approx(doses, rel=0.003)


def test_a_timed_leg_is_lit_for_its_time(bench: BenchBox) -> None:
    """Counted from switching on, as somebody with a timer would."""
    bench.ready().ask("series", kind="teach", recipe="quick", panel="teach", seconds=12.0)
    bench.until_state("done")
    (side,) = bench.exposure.sides
    assert side.lit_s == pytest.approx(12.0, abs=0.006)
    assert side.dose_mj_cm2 > 20


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"kind": "picnic", "seconds": 5}, "kind"),
        ({"kind": "tablet"}, "doses"),
        ({"kind": "tablet", "doses_mj_cm2": [5], "seconds": 5}, "doses"),
        ({"kind": "tablet", "doses_mj_cm2": [-5]}, "doses"),
        ({"kind": "tablet", "doses_mj_cm2": ["5"]}, "doses_mj_cm2"),
        ({"kind": "field", "seconds": 0}, "seconds"),
        ({"kind": "field", "seconds": 5, "legs": 1000}, "count"),
    ],
)
def test_a_series_that_makes_no_sense_is_refused(bench: BenchBox, values: dict[str, object], field: str) -> None:
    """With the field at fault, and nothing begun."""
    assert bench.refused("series", recipe="quick", panel="", **values).field == field
    assert bench.state == "idle"
