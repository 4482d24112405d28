"""Control chart of single values: a published example, the rules, and how often they cry wolf."""

import itertools
from random import Random

import pytest

from sumlight.craft.control_chart import (
    D2,
    FALSE_ALARM_PER_POINT,
    Limits,
    Signal,
    chart_of,
    limits_of,
    shift_words,
    signals,
)

UNIT = Limits(0.0, 1.0)


def test_limits_are_those_of_the_published_example() -> None:
    """Source: NIST/SEMATECH e-Handbook 6.3.2.2, individuals chart of ten batches:

    mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041 by mean ± 3·MR/1.128.
    """
    flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    ranges = [abs(b - a) for a, b in itertools.pairwise(flow)]
    assert sum(flow) / 10 == pytest.approx(50.81)
    assert sum(ranges) / 9 == pytest.approx(1.8778, abs=1e-4)
    limits = Limits(sum(flow) / 10, sum(ranges) / 9 / D2)
    assert (limits.low, limits.high) == (pytest.approx(45.8159, abs=1e-3), pytest.approx(55.8041, abs=1e-3))
    assert pytest.approx(2.66, abs=0.001) == 3 / D2


def test_limits_of_a_long_row_find_its_scatter() -> None:
    """Mean and sigma of 4000 normal values within their sampling error."""
    chance = Random(2)
    limits = limits_of([chance.gauss(7, 0.4) for _ in range(4000)])
    assert limits.mean == pytest.approx(7, abs=0.03)
    assert limits.sigma == pytest.approx(0.4, rel=0.03)


def test_a_jump_among_the_past_values_does_not_widen_the_limits() -> None:
    """The one range beyond its own limit is left out."""
    chance = Random(3)
    values = [chance.gauss(7, 0.1) for _ in range(30)] + [chance.gauss(9, 0.1) for _ in range(30)]
    assert limits_of(values).sigma == pytest.approx(0.1, rel=0.25)


@pytest.mark.parametrize(
    ("values", "rule"),
    [
        ([0.1, -0.2, 3.1], "beyond"),
        ([2.1, 0.0, 2.2], "two_of_three"),
        ([1.1, 1.2, 0.2, 1.3, 1.4], "four_of_five"),
        ([0.1] * 8, "eight"),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_each_rule_fires_at_the_point_that_completes_it(values: list[float], rule: str, side: int) -> None:
    """Western Electric, Statistical Quality Control Handbook (1956): zones of one, two and three sigma."""
    assert signals([side * v for v in values], UNIT) == [Signal(len(values) - 1, rule, side)]


@pytest.mark.parametrize(
    "values", [[2.9, 0.0, 0.0, -2.9], [2.1, -0.1, -2.2], [1.1, 1.2, -0.2, -1.3, 1.4], [0.1] * 7 + [-0.1]]
)
def test_just_less_than_a_rule_is_silent(values: list[float]) -> None:
    """Nothing is told."""
    assert signals(values, UNIT) == []


def test_the_stated_false_alarm_rate_is_the_simulated_one() -> None:
    """Steady process, known limits: share of points that begin an alarm, by simulation of run lengths to it."""
    chance, runs, beyond, points = Random(11), [], 0, 0
    for _ in range(700):
        row: list[float] = []
        while True:
            row.append(chance.gauss(0, 1))
            recent = row[-8:]
            points += 1
            latest = [s for s in signals(recent, UNIT) if s.index == len(recent) - 1]
            beyond += any(s.rule == "beyond" for s in latest)
            if latest:
                break
        runs.append(len(row))
    assert 1 / (sum(runs) / len(runs)) == pytest.approx(FALSE_ALARM_PER_POINT["all"], rel=0.12)
    assert beyond / points == pytest.approx(FALSE_ALARM_PER_POINT["beyond"], rel=0.2)


@pytest.mark.parametrize("count", [12, 26, 104])
@pytest.mark.long
def test_the_rate_with_limits_from_the_same_values_is_the_simulated_one(count: int) -> None:
    """Steady process: how often the newest of so many values breaks a rule; the stated rate is good to a third."""
    chance, alarms, rows = Random(count), 0, 6000
    for _ in range(rows):
        alarms += bool(chart_of([chance.gauss(0, 1) for _ in range(count)]).latest)
    assert alarms / rows == pytest.approx(FALSE_ALARM_PER_POINT["own_limits"], rel=0.34)


def test_a_chart_waits_for_enough_values_then_tells_of_the_newest() -> None:
    """Twelve; steady or shifted in words."""
    chance = Random(5)
    values = [chance.gauss(7, 0.1) for _ in range(30)]
    assert chart_of(values[:11]).words == "11 of the 12 values that limits need; go on recording."
    assert chart_of(values[:11]).signals == ()
    assert chart_of(values).words.startswith("Steady")
    shifted = chart_of([*values, 7.6])
    assert shifted.latest == (Signal(30, "beyond", 1),)
    assert "one point beyond three standard deviations, above the mean" in shifted.words
    assert chart_of([*values, 7.6, 7.0]).latest == ()


def test_a_shift_is_told_and_work_may_go_on() -> None:
    """The words name rule, rate of false alarms, and never forbid anything."""
    told = shift_words([0.0, 3.5], UNIT)
    assert told is not None
    assert "92 points" in told
    assert "about once in 50" in told
    assert "work may go on" in told
    assert shift_words([3.5, 0.0], UNIT) is None


def test_values_without_any_scatter_signal_only_a_change() -> None:
    """No division by zero."""
    assert signals([5.0, 5.0, 5.1], Limits(5.0, 0.0)) == [Signal(2, "beyond", 1)]


def test_too_few_or_odd_values_are_refused() -> None:
    """With what to do."""
    with pytest.raises(ValueError, match="at least 12"):
        limits_of([1.0] * 11)
    with pytest.raises(ValueError, match="finite"):
        limits_of([1.0] * 12 + [float("nan")])
