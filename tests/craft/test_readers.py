"""What zones of one panel tell of scatter and misreadings, against scipy's robust scale."""

from random import Random

import numpy as np
import pytest
from scipy import integrate, stats

from sumlight.craft.censored import Halved, Interval, located
from sumlight.craft.readers import MISREAD_LN, UNKNOWN, learned
from sumlight.craft.tablet import STEP_LN

FINE = 0.002


def panels(zone: float, misread: float, seed: int, count: int = 10, zones: int = 8) -> list[list[float]]:
    """Thresholds of zones; misread ones lie a step away either way."""
    chance = Random(seed)
    found = []
    for _ in range(count):
        middle = chance.gauss(0, 0.2)
        wrong = [chance.choice((-0.345, 0.345)) if chance.random() < misread else 0.0 for _ in range(zones)]
        found.append([middle + chance.gauss(0, zone) + off for off in wrong])
    return found


def read(thresholds: list[list[float]], width: float = FINE) -> list[list[Interval]]:
    """Each as the interval of a fine scale that it lies in."""
    return [[(value // width * width, value // width * width + width) for value in panel] for panel in thresholds]


@pytest.mark.parametrize("zone", [0.01, 0.02, 0.04])
@pytest.mark.parametrize("misread", [0.0, 0.1])
def test_the_scatter_of_zones_agrees_with_a_robust_scale(zone: float, misread: float) -> None:
    """scipy.stats.median_abs_deviation (scaled for the normal) of the zones about their panels' medians.

    Corrected by 8/7 for the median taken from the panel itself. The plain standard deviation is far off
    with misreadings.
    """
    given = panels(zone, misread, 3)
    about = np.concatenate([np.array(panel) - np.median(panel) for panel in given])
    robust = float(stats.median_abs_deviation(about, scale="normal")) * 8 / 7
    assert learned(read(given)).zone_sigma == pytest.approx(robust, rel=0.35)
    if misread:
        assert float(np.std(about)) > 2 * robust


def test_misreadings_are_counted() -> None:
    """More of them, a higher share; none, less than before anything was read."""
    none, some, many = (learned(read(panels(0.012, share, 5))).misread for share in (0.0, 0.08, 0.25))
    assert none < UNKNOWN.misread < some < many
    assert many > 0.1


def test_whole_steps_tell_of_the_reader_too() -> None:
    """Zones dithered over a step and read in whole steps: a careless reader is told from a careful one."""

    def dithered(zone: float, misread: float) -> list[list[Interval]]:
        found = []
        for panel in panels(zone, misread, 9, zones=6):
            offsets = [0.345 * number / 6 for number in range(6)]
            pairs = zip(panel, offsets, strict=True)
            lows = [((value + offset) // 0.345 * 0.345 - offset) for value, offset in pairs]
            found.append([(low, low + 0.345) for low in lows])
        return found

    careful, careless = learned(dithered(0.006, 0.0)), learned(dithered(0.05, 0.15))
    assert careless.zone_sigma > 1.5 * careful.zone_sigma
    assert careless.misread > 2 * careful.misread


def marked(seed: int, count: int, wrong: float, zones: int = 4) -> list[list[Halved]]:
    """Panels read in whole steps by somebody who marks half steps, this share of them wrongly; 1: never marks any."""
    chance, found = Random(seed), []
    for _ in range(count):
        middle, panel = chance.uniform(0, STEP_LN), []
        for zone in range(zones):
            offset = STEP_LN / 8 * zone
            place = middle + chance.gauss(0, 0.012) + offset
            low = place // STEP_LN * STEP_LN
            right = place - low < STEP_LN / 2
            mark = wrong < 1 and (right != (chance.random() < wrong))
            panel.append(Halved(low - offset, low - offset + STEP_LN / 2, low - offset + STEP_LN, mark))
        found.append(panel)
    return found


def test_it_is_learned_what_no_mark_means() -> None:
    """Whoever marks half steps leaves the others out on purpose; for somebody who never does it means nothing."""
    careful, careless, never = (learned(marked(4, 8, wrong)) for wrong in (0.0, 0.2, 1.0))
    assert careful.marking[0] > 0.95
    assert careful.marking[1] < 0.05
    assert careful.marks > careless.marks + 0.15 > never.marks + 0.5
    assert never.marks < 0.05 < UNKNOWN.marks


def test_single_zones_tell_how_half_steps_are_marked() -> None:
    """Of scatter they tell nothing."""
    found = learned(marked(4, 9, 0.0, zones=1))
    assert found.marks > UNKNOWN.marks
    assert found.zone_sigma == pytest.approx(UNKNOWN.zone_sigma)
    assert learned(marked(4, 9, 1.0, zones=1)).marks < UNKNOWN.marks / 3


def test_a_single_tablet_with_half_steps_is_read_without_a_bias() -> None:
    """The mean over 2,000 places within the step is zero, by symmetry; its scatter that of half a step, 1/sqrt 12 of it
    (JCGM 100:2008, 4.3.7). Taken for 'not looked' the steps without a mark place the threshold an eighth of a step too
    low: half of them sit a quarter above the middle of the whole step.
    """
    chance, kept, lost = Random(8), [], []
    for _ in range(2000):
        place = chance.uniform(0, STEP_LN)
        half = Halved(0.0, STEP_LN / 2, STEP_LN, place < STEP_LN / 2)
        kept.append(located([[half]], within_sigma=0.02, between_sigma=0.0, marking=(1.0, 0.0)).mean - place)
        lost.append(located([[half]], within_sigma=0.02, between_sigma=0.0).mean - place)
    assert abs(np.mean(kept)) < 0.004
    assert float(np.std(kept)) == pytest.approx(STEP_LN / 2 / np.sqrt(12), rel=0.03)
    assert float(np.mean(lost)) == pytest.approx(-STEP_LN / 8, abs=0.006)


@pytest.mark.parametrize(("mark", "weights"), [(True, (0.8, 0.1)), (False, (0.2, 0.9))])
def test_a_mark_that_may_be_wrong_weighs_both_halves(mark: bool, weights: tuple[float, float]) -> None:
    """scipy's normal probabilities of either half, by Bayes' rule, on a fine grid."""
    within, low, middle, high = 0.03, -0.17, 0.0, 0.17
    fine = np.linspace(-0.6, 0.6, 6001)
    below = stats.norm.cdf(middle, fine, within) - stats.norm.cdf(low, fine, within)
    above = stats.norm.cdf(high, fine, within) - stats.norm.cdf(middle, fine, within)
    own = weights[0] * below + weights[1] * above
    mean = integrate.simpson(own * fine, x=fine) / integrate.simpson(own, x=fine)
    found = located([[Halved(low, middle, high, mark)]], within_sigma=within, between_sigma=0.0, marking=(0.8, 0.1))
    assert found.mean == pytest.approx(mean, abs=1e-4)


def test_single_zones_and_boundless_readings_teach_nothing() -> None:
    """What was known before stands."""
    for nothing in ([], [[(0.0, 0.1)]], [[(-np.inf, np.inf), (-np.inf, np.inf)]]):
        found = learned(nothing)
        assert (found.zone_sigma, found.misread) == pytest.approx((UNKNOWN.zone_sigma, UNKNOWN.misread))


@pytest.mark.long
def test_a_heavy_tail_keeps_one_misread_zone_from_moving_the_panel() -> None:
    """Three zones agree, one lies a step away: scipy's integral of the same contaminated likelihood."""
    group: list[Interval] = [(-0.02, 0.03), (-0.03, 0.02), (-0.01, 0.04), (0.33, 0.38)]
    within, between, share = 0.012, 0.03, 0.05

    def zones(mean: float) -> float:
        good = [stats.norm.cdf(high, mean, within) - stats.norm.cdf(low, mean, within) for low, high in group]
        bad = [stats.norm.cdf(high, mean, MISREAD_LN) - stats.norm.cdf(low, mean, MISREAD_LN) for low, high in group]
        return float(np.prod([(1 - share) * p + share * q for p, q in zip(good, bad, strict=True)]))

    fine = np.linspace(-0.6, 0.9, 6001)
    own = np.array([zones(mean) for mean in fine])
    mean = integrate.simpson(own * fine, x=fine) / integrate.simpson(own, x=fine)
    spread = integrate.simpson(own * (fine - mean) ** 2, x=fine) / integrate.simpson(own, x=fine)
    found = located([group], within_sigma=within, between_sigma=between, misread=share, misread_sigma=MISREAD_LN)
    assert found.mean == pytest.approx(mean, abs=0.002)
    assert found.sigma == pytest.approx(float(np.sqrt(spread + between**2)), rel=0.03)
    assert abs(found.mean) < 0.02
