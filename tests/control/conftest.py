"""What control's tests share: benches that are closed afterwards, and a check that they were left dark."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from sumlight.twin.clock import TwinClock
from tests.control.bench_box import BenchBox

MakeBench = Callable[..., BenchBox]


@pytest.fixture
def make_bench(tmp_path: Path) -> Iterator[MakeBench]:
    """Makes benches over the test's own data folder; afterwards each must be closed, dark, its pins released.

    The wall clock of a later one goes on from the one before, or is set back by `clock_back_s`.
    """
    made: list[BenchBox] = []

    def make(*events: dict[str, Any], clock_back_s: float = 0.0, **scenario: Any) -> BenchBox:
        clock = TwinClock(None)
        if made:
            clock._began_utc = max(clock._began_utc, made[-1].clock.utc() + timedelta(seconds=1))
        clock._began_utc -= timedelta(seconds=clock_back_s)
        bench = BenchBox(tmp_path / "data", *events, clock=clock, **scenario)
        made.append(bench)
        return bench

    yield make
    for bench in made:
        bench.close()
        lit = [bank.name for bank in bench.loop.box.description.banks if bench.relay_level(bank.name) is not None]
        assert lit == [], "a relay pin was still driven after close"


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """The demo box with one bank, nothing planned to happen."""
    return make_bench()
