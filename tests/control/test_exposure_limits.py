"""Limits of the exposure's state machine, each from just below and just above; added where a mutant had survived."""

import pytest

from sumlight.control.exposure import DARK_PATIENCE_S, SURPLUS_SHARE
from tests.control.ideal_lamps import Bench


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
