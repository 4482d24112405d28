"""What control's tests share: benches that are closed afterwards, and a check that they were left dark."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.control.bench_box import BenchBox

MakeBench = Callable[..., BenchBox]


@pytest.fixture
def make_bench(tmp_path: Path) -> Iterator[MakeBench]:
    """Makes benches over the test's own data folder; afterwards each must be closed, dark, its pins released."""
    made: list[BenchBox] = []

    def make(*events: dict[str, Any], **scenario: Any) -> BenchBox:
        bench = BenchBox(tmp_path / "data", *events, **scenario)
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
