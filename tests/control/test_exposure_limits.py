"""Limits of the exposure's state machine, each from just below and just above; added where a mutant had survived."""

import pytest

from sumlight.box.meter import WINDOW_S
from sumlight.control.exposure import DARK_PATIENCE_S, LIGHTS_OUT_S, SURPLUS_SHARE
from sumlight.light.sample import Sample
from tests.control.ideal_lamps import LIMITS, Bench


@pytest.mark.parametrize("began_s", [1.0, 500.0])
def test_patience_in_the_dark_check_counts_from_its_beginning(began_s: float) -> None:
    """Also on a machine that was switched on a second ago."""
    bench = Bench()
    bench.now_s = began_s
    bench.start()
    bench.reads = False
    bench.run(DARK_PATIENCE_S - 0.01)
    assert bench.troubles == []
    bench.run(0.1)
    assert set(bench.troubles) == {"meter_lost"}


def test_a_panel_half_exposed_is_not_called_over_exposed() -> None:
    """Nor one that is just done."""
    bench = Bench().lit()
    assert 0 < bench.exposure.sides[0].dose_mj_cm2 < 8.0
    assert bench.exposure.why_doubtful() is None
    bench.until("done")
    assert bench.exposure.why_doubtful() is None


@pytest.mark.parametrize(
    ("share", "doubtful"), [(SURPLUS_SHARE - 0.001, False), (SURPLUS_SHARE + 0.001, True), (1.2, True)]
)
def test_a_surplus_is_told_from_its_limit_on(share: float, doubtful: bool) -> None:
    """Three percent."""
    bench = Bench().start().until("done")
    bench.exposure.sides[0].sum.assume(8.0 * (1 + share), 0.0)
    assert (bench.exposure.why_doubtful() is not None) == doubtful


@pytest.mark.parametrize("began_s", [0.2, 500.0])
def test_silence_is_counted_from_the_last_reading(began_s: float) -> None:
    """Half a second, also on a machine that was switched on a moment ago."""
    bench = Bench()
    bench.now_s, bench._next_s = began_s, began_s + WINDOW_S
    bench.start().until("light")
    bench.reads = False
    bench.run(LIMITS.bridge_limit_s - 0.02)
    assert bench.exposure.light_known(bench.now_s)
    assert bench.troubles == []
    bench.run(0.3)
    assert not bench.exposure.light_known(bench.now_s)
    assert set(bench.troubles) == {"meter_lost"}


@pytest.mark.parametrize(("began_after_s", "counts"), [(-0.001, False), (0.001, True)])
def test_a_conversion_counts_as_darkness_if_it_began_after_the_afterglow(began_after_s: float, counts: bool) -> None:
    """One that began a millisecond earlier is not looked at."""
    bench = Bench().lit()
    bench.exposure.dark(bench.now_s)
    dark_s = bench.now_s
    bench.go()
    first_s = dark_s + LIGHTS_OUT_S + began_after_s
    sample = Sample(first_s + WINDOW_S, first_s + WINDOW_S / 2, (1,) * 6, 5, 0)  # type: ignore[arg-type]
    bench.exposure.reading("lower", sample, 0.0)
    assert len(bench.exposure._dark["lower"]) == counts
