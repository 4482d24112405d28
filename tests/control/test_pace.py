"""The grid of ticks: what the enable line does when ticks take time, held against the charge pump's circuit.

The loop's own `wait` runs on a clock that moves on while control works, as a real one does.
"""

from collections.abc import Callable
from itertools import pairwise
from random import Random

import pytest

from sumlight.box import charge_pump
from sumlight.control.pace import Grid
from tests.control.bench_box import BenchBox
from tests.hardware.circuit import Run, line_of

PERIOD_S = 0.005
"""The tick that hardware/README.md promises the pump."""

WEAKEST = max(charge_pump.corners(), key=charge_pump.pull_in_s)


def lit_with_work(bench: BenchBox, work_s: Callable[[], float], seconds: float) -> list[float]:
    """Moments at which the enable line turned over, in the last so many seconds of light with that work each tick."""
    bench.light_up(0.5, dose_mj_cm2=2000)
    wait = bench.loop.wait

    def work_and_wait() -> None:
        bench.clock.wait_until(bench.clock.now_s + work_s())
        wait()

    bench.loop.wait = work_and_wait  # type: ignore[method-assign]
    bench.run(0.1)
    from_s = bench.clock.now_s
    bench.run(seconds)
    return edges_since(bench, from_s)


def edges_since(bench: BenchBox, from_s: float) -> list[float]:
    """When the enable line turned over."""
    enable_pin = bench.loop.box.description.enable_pin
    assert enable_pin is not None
    return [at_s for at_s, _ in bench.pin(enable_pin).history if at_s > from_s]


def coil_v(edges_s: list[float]) -> float:
    """Mean voltage of K2's coil at the weakest corner in the last quarter of a train, by the circuit."""
    start_s, last_s = edges_s[0] - 0.001, edges_s[-1]
    run = Run(WEAKEST, line_of([at_s - start_s for at_s in edges_s]), last_s - start_s)
    return run.mean_coil_a(0.75 * (last_s - start_s), last_s - start_s) * WEAKEST.coil_ohm


@pytest.mark.parametrize("work_ms", [(1, 1), (4, 4), (1, 4)], ids=["1 ms", "4 ms", "1 to 4 ms"])
def test_work_within_the_period_costs_no_tick(bench: BenchBox, work_ms: tuple[float, float]) -> None:
    """200 turn-overs a second, evenly, and K2 closes with the worst of good parts."""
    chance = Random(1)
    edges_s = lit_with_work(bench, lambda: chance.uniform(*work_ms) / 1000, 0.6)
    assert len(edges_s) == pytest.approx(120, abs=1)
    assert [b - a for a, b in pairwise(edges_s)] == pytest.approx([PERIOD_S] * (len(edges_s) - 1), abs=1e-6)
    assert coil_v(edges_s) > WEAKEST.must_pull_in_v


def test_work_longer_than_the_period_halves_the_rate_and_no_less(bench: BenchBox) -> None:
    """6 ms of work: every second slot is dropped, evenly; the circuit says that K2 may then stay open."""
    edges_s = lit_with_work(bench, lambda: 0.006, 0.6)
    assert [b - a for a, b in pairwise(edges_s)] == pytest.approx([2 * PERIOD_S] * (len(edges_s) - 1), abs=1e-6)
    assert coil_v(edges_s) < WEAKEST.must_pull_in_v


def test_a_stall_is_followed_by_no_burst(bench: BenchBox) -> None:
    """30 ms late: five slots are gone for good, the next edges come a period apart, where they always came."""
    works = iter([0.0] * 40 + [0.030])
    edges_s = lit_with_work(bench, lambda: next(works, 0.0), 0.4)
    gaps_s = [b - a for a, b in pairwise(edges_s)]
    assert max(gaps_s) == pytest.approx(0.030, abs=0.0051)
    assert min(gaps_s) == pytest.approx(PERIOD_S, abs=1e-6)
    assert all((at_s / PERIOD_S) == pytest.approx(round(at_s / PERIOD_S), abs=1e-3) for at_s in edges_s)


def test_waking_up_for_a_cut_neither_shifts_the_grid_nor_turns_the_line_over(bench: BenchBox) -> None:
    """A deadline in every third slot: ticks come then too, and the pump sees the same even wave."""
    bench.light_up(0.5, dose_mj_cm2=2000)
    chance, tick = Random(2), bench.loop.tick
    ticked: list[float] = []
    deadline = [0.0]

    def seen() -> None:
        ticked.append(bench.clock.now_s)
        tick()
        deadline[0] = bench.clock.now_s + chance.choice([0.0008, 0.0021, 0.0044, 1.0, 1.0])

    bench.loop.tick = seen  # type: ignore[method-assign]
    bench.exposure.next_deadline_s = lambda: deadline[0]  # type: ignore[method-assign]
    from_s = bench.clock.now_s
    bench.run(0.5)
    edges_s = edges_since(bench, from_s)
    assert len(ticked) > 130
    assert len(edges_s) == pytest.approx(100, abs=1)
    assert [b - a for a, b in pairwise(edges_s)] == pytest.approx([PERIOD_S] * (len(edges_s) - 1), abs=1e-6)


def test_a_tick_that_begins_late_makes_no_edge_right_before_the_next_one() -> None:
    """Woken 4.9 ms late, and in time for the slot after it: the second edge would find the pump's capacitors empty."""
    grid = Grid(1000.0)
    beats = []
    for now_s in (1000.005, 1000.0149, 1000.015, 1000.020):
        grid.ticked(now_s)
        beats.append(grid.beat(now_s))
    assert beats == [True, True, False, True]
