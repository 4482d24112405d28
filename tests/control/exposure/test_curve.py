"""The curve that a page draws of the exposure at hand: dense enough, small enough, and of every side."""

import itertools

import pytest

from sumlight.control.exposure.curve import POINTS, Curve
from tests.control.bench_box import demo_box
from tests.control.conftest import MakeBench

WINDOW_S = 0.05004
"""Of a conversion."""


def lit(curve: Curve, seconds: float, *sides: str) -> Curve:
    """Readings of sides that are lit together: light as strong as time is long, so that each can be told."""
    for number in range(round(seconds / WINDOW_S)):
        for side in sides:
            curve.add(number * WINDOW_S, side, 3.0 + number, 0.1 * number)
    return curve


def of(curve: Curve, side: str, most: int = 10**9) -> list[float]:
    """When the points of a side are."""
    return [at_s for at_s, name, _, _ in curve.since(-1.0, most) if name == side]


def longest_gap_s(times: list[float]) -> float:
    """Between two points that follow each other."""
    return max(after - before for before, after in itertools.pairwise(times))


@pytest.mark.parametrize("sides", ["A", "AB"])
def test_a_side_has_five_points_a_second_however_many_are_lit(sides: str) -> None:
    """And each is the reading of its moment."""
    curve = lit(Curve(), 60.0, *sides)
    for side in sides:
        times = of(curve, side)
        assert len(times) == pytest.approx(300, abs=1)
        assert longest_gap_s(times) == pytest.approx(0.2, abs=0.001)
    assert all(net == pytest.approx(3.0 + at_s / WINDOW_S) for at_s, _, net, _ in curve.since(-1.0, 10**9))


@pytest.mark.parametrize("sides", ["A", "AB"])
def test_a_long_exposure_keeps_beginning_and_end_of_every_side(sides: str) -> None:
    """Half an hour: never more than the limit, spread over all of the time."""
    curve = lit(Curve(), 1800.0, *sides)
    assert POINTS / 4 < len(curve) <= POINTS
    for side in sides:
        times = of(curve, side)
        assert times[0] == 0.0
        assert times[-1] > 1795.0
        assert longest_gap_s(times) < 5.0
        assert len(times) >= len(curve) / len(sides) - 1


def test_a_new_panel_begins_dense_again() -> None:
    """However long the one before was."""
    curve = lit(Curve(), 1800.0, "A")
    curve.clear()
    assert longest_gap_s(of(lit(curve, 10.0, "A"), "A")) == pytest.approx(0.2, abs=0.001)


def test_pieces_make_up_the_curve_in_the_order_of_time_with_every_side() -> None:
    """Each from the last point of the one before on; those of one moment are never parted."""
    curve = lit(Curve(), 60.0, "A", "B")
    whole = curve.since(30.0, 10_000)
    assert {name for _, name, _, _ in whole} == {"A", "B"}
    assert whole == sorted(whole)
    assert whole[0][0] == pytest.approx(30.2, abs=0.21)
    assert whole[0][0] == whole[1][0]  # both sides in one tick: an odd piece would end between them
    pieces = [curve.since(30.0, 33)]
    while len(pieces[-1]) >= 33:
        assert len(pieces[-1]) <= 34
        pieces.append(curve.since(pieces[-1][-1][0], 33))
    assert [point for piece in pieces for point in piece] == whole
    curve.clear()
    assert len(curve) == 0


def test_two_sides_lit_together_both_stay_in_the_trace(make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch) -> None:
    """They take turns, so that one of them was lost when every second point of both went."""
    monkeypatch.setattr("sumlight.control.exposure.curve.POINTS", 100)
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="together")
    bench.run(20.0)
    samples = bench.ask("trace")["samples"]
    for side in "AB":
        assert sum(sample[1] == side for sample in samples) > 20
