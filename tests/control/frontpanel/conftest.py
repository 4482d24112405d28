"""A box with a whole front panel."""

import pytest

from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.frontpanel.panel_bench import panel


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """A box with a whole front panel."""
    return make_bench(box=demo_box(front_panel=panel()))
