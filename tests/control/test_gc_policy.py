"""Full searches for garbage happen in the dark only; without that they held up the lid by 65 ms (measured)."""

import gc
import weakref
from collections.abc import Iterator

import pytest

from sumlight.control.gc_policy import EVERY_S, GcPolicy
from tests.control.bench_box import BenchBox


class Knot:
    """Holds itself, so that only a search finds it."""

    def __init__(self) -> None:
        self.me = self


def full_searches() -> int:
    """How many there were in this process."""
    return int(gc.get_stats()[2]["collections"])


@pytest.fixture
def garbage() -> Iterator[GcPolicy]:
    """At work; what it sets is set back."""
    garbage = GcPolicy()
    garbage.begin()
    yield garbage
    garbage.end()


def test_no_full_search_in_the_light(garbage: GcPolicy) -> None:
    """However much is made and kept; Python by itself would have searched."""
    before = full_searches()
    garbage.look(1e6, resting=False)
    kept = [[n] for n in range(400_000)]
    assert full_searches() == before
    assert len(kept) == 400_000


def test_at_rest_all_is_found_and_not_at_every_tick(garbage: GcPolicy) -> None:
    """Once a minute."""
    knot = weakref.ref(Knot())
    gc.collect(0)
    gc.collect(1)
    before = full_searches()
    garbage.look(1e6, resting=True)
    assert knot() is None
    garbage.look(1e6 + EVERY_S / 2, resting=True)
    assert full_searches() == before + 1
    garbage.look(1e6 + EVERY_S, resting=True)
    assert full_searches() == before + 2


def test_control_begins_with_it_and_ends_it(bench: BenchBox) -> None:
    """In the process that runs it, from before the first tick; at rest a search, in the light none."""
    daemon = bench.daemon
    usual = gc.get_threshold()
    found: list[tuple[str, int]] = []

    def step() -> None:
        before = full_searches()
        daemon.garbage._next_s = 0.0
        bench.step()
        found.append((bench.state, full_searches() - before))
        assert gc.get_threshold()[2] > usual[2]
        if bench.state == "idle" and "start" in bench.exposure.may():
            bench.start()

    daemon.run(lambda: len(found) < 2000, step)
    assert gc.get_threshold() == usual
    assert {searches for state, searches in found if state == "light"} == {0}
    assert found[0] == ("idle", 1)
