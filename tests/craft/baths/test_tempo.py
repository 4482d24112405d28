"""What a bath learns from its times. Long runs are judged by trays of another law: `tests.benchmarks.trays`."""

import math
from dataclasses import replace
from statistics import median

import pytest

from sumlight.craft.baths import tempo
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.craft.baths.tempo import Forecast, Tempo
from tests.benchmarks import trays

IRON = Contents("iron", 1.0, 40.0)
PANEL = Taken("copper", 10.0, 35.0)


def after(times_s: list[float], bath: Contents = IRON, like: Taken = PANEL) -> Tempo:
    """A bath that has taken panels of such times."""
    known = tempo.fresh(bath)
    for number, seconds in enumerate(times_s):
        known = tempo.learned(known, bath, replace(like, took_s=seconds, age_h=number))
    return known


def forecast(known: Tempo, like: Taken = PANEL, bath: Contents = IRON) -> Forecast:
    """What is expected of the next panel."""
    found = tempo.expected(known, bath, like)
    assert found is not None
    return found


def test_practice_alone_is_wide_and_says_so() -> None:
    """A factor of two either way."""
    found = forecast(tempo.fresh(IRON))
    assert found.timed == 0
    assert found.high_s / found.low_s > 3


def test_a_rate_from_a_coupon_narrows_it() -> None:
    """Until the first panel was timed."""
    found = forecast(tempo.fresh(IRON, 10.0))
    assert found.mid_s == pytest.approx(210, rel=0.02)
    assert found.high_s / found.low_s < 2


def test_warmth_that_was_measured_counts() -> None:
    """10 K warmer is about twice as fast before anything was learned (trade notes D12)."""
    known = after([300.0] * 5, like=replace(PANEL, bath_c=20.0))
    cold, warm = (forecast(known, replace(PANEL, bath_c=c)).mid_s for c in (20.0, 30.0))
    assert cold / warm == pytest.approx(2, rel=0.05)


def test_practice_is_for_a_room_until_somebody_measures() -> None:
    """The first temperature carries it there; afterwards it is the bath's own."""
    room, hot = (forecast(tempo.fresh(IRON), replace(PANEL, bath_c=c)).mid_s for c in (20.0, 45.0))
    assert room / hot == pytest.approx(2**2.5, rel=0.01)


def test_a_bath_that_slows_down_is_learned_to_do_so() -> None:
    """Times that grow by a tenth each: the next is longer still, and the fresh time stays."""
    like = replace(PANEL, open_cm2=150.0)
    known = after([200 * 1.1**n for n in range(9)], like=like)
    found = forecast(known, like)
    assert found.mid_s > 200 * 1.1**8
    assert found.mid_s / found.fresh_s > 1.8


def test_a_time_read_at_a_look_counts_as_the_middle_between_two() -> None:
    """Called every minute, seen through at 600 s: it happened somewhere in the minute before, and hands were late."""
    exact, looked = after([600.0] * 6), after([600.0] * 6, like=replace(PANEL, every_s=60.0))
    earlier = forecast(exact).mid_s - forecast(looked).mid_s
    assert 30 <= earlier <= 75


def test_a_forgotten_panel_does_not_widen_everything() -> None:
    """One panel of ten times the time: later ones are not ten times as uncertain."""
    sober, after_it = after([300.0] * 9), after([300.0] * 8 + [3000.0])
    assert after_it.scale < 3 * sober.scale


def test_a_panel_without_a_time_loads_only() -> None:
    """Nothing is learned of what nobody timed."""
    known = tempo.learned(tempo.fresh(IRON), IRON, PANEL)
    assert known.timed == 0
    assert known.share > 0


def test_what_nobody_needs_a_time_for_has_none() -> None:
    """A stripper's panel is seen, and a depth that is not known gives no time."""
    assert tempo.expected(tempo.fresh(Contents("stripper", 1.0)), Contents("stripper", 1.0), PANEL) is None
    assert tempo.expected(tempo.fresh(IRON), IRON, Taken("copper")) is None


def test_the_call_comes_before_the_lower_end() -> None:
    """Eyes come late; of a short etch it takes no more than half."""
    assert 30 <= Forecast(600, 700, 800, 700, 3).low_s - Forecast(600, 700, 800, 700, 3).call_s <= 60
    assert Forecast(40, 60, 80, 60, 3).call_s == 20


def test_the_scatter_that_is_learned_is_the_times_own() -> None:
    """The same learning as a least-squares line through logarithms, for many panels of one load: mean and interval."""
    spread = 0.06
    times = [400 * math.exp(spread * (1 if n % 2 else -1)) for n in range(60)]
    found = forecast(after(times, like=replace(PANEL, open_cm2=0.1)))
    assert found.mid_s == pytest.approx(400, rel=0.03)
    assert found.high_s / found.mid_s > math.exp(spread)


SHORT = 12


@pytest.mark.parametrize(
    ("baths", "seed", "share"),
    [(SHORT, 440_000, (88, 100)), pytest.param(60, 550_000, (90, 98), marks=pytest.mark.campaign)],
)
def test_trays_of_another_law_keep_within_the_forecasts(baths: int, seed: int, share: tuple[float, float]) -> None:
    """Half as wide as 15 %, first looks in time. On other seeds than the benchmark `job`; few baths tell less."""
    found = trays.etched(baths, seed)
    assert share[0] <= found.share(found.held) <= share[1]
    assert median(found.widths) <= 0.15
    assert found.share(found.in_time) >= 95


def too_sure(known: Tempo, bath: Contents, like: Taken) -> Forecast | None:
    """A forecaster whose intervals are a third as wide."""
    found = tempo.expected(known, bath, like)
    assert found is not None
    low, high = (found.mid_s + (end - found.mid_s) / 3 for end in (found.low_s, found.high_s))
    return replace(found, low_s=low, high_s=high)


def never_learning(_known: Tempo, bath: Contents, like: Taken) -> Forecast | None:
    """A forecaster that knows practice only."""
    return tempo.expected(tempo.fresh(bath), bath, like)


def test_the_judge_sees_a_forecaster_that_is_too_sure_or_never_learns() -> None:
    """Otherwise the figures above would say nothing."""
    sure, dull = trays.etched(SHORT, 440_000, too_sure), trays.etched(SHORT, 440_000, never_learning)
    assert sure.share(sure.held) < 88
    assert median(dull.widths) > 0.15
