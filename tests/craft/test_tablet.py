"""Step tablets: densities, readings, thresholds and the next doses."""

import math
from itertools import pairwise
from random import Random
from statistics import fmean, pvariance

import pytest

from sumlight.craft import tablet
from sumlight.craft.censored import NoEstimateError
from sumlight.craft.tablet import (
    STEP_LN,
    Convention,
    TabletReading,
    certified,
    density,
    dose_for_step,
    edge_step,
    estimate_threshold,
    factor_from,
    next_zones,
    textbook_factor,
    threshold_interval,
    transmittance,
)
from sumlight.text.message import NOTHING


@pytest.mark.parametrize(("step", "expected"), [(1, 0.8913), (2, 0.6310), (8, 0.0794), (21, 8.91e-4)])
def test_steps_let_through_what_their_density_says(step: int, expected: float) -> None:
    """0.15-density steps, reference values §5."""
    assert transmittance(step) == pytest.approx(expected, rel=1e-3)


def test_one_step_is_nearly_a_square_root_of_two() -> None:
    """10^-0.15 = 0.707946; two steps are 0.501187, not 0.5 (reference values §5)."""
    assert transmittance(8) / transmittance(7) == pytest.approx(0.707946, abs=5e-7)
    assert transmittance(9) / transmittance(7) == pytest.approx(0.501187, abs=5e-7)


@pytest.mark.parametrize(("held", "target", "factor"), [(5, 7, 1.99526), (8, 7, 0.70795), (4, 8, 3.98107)])
def test_one_reading_gives_the_textbook_factor(held: int, target: int, factor: float) -> None:
    """Worked numbers of the reference values §5."""
    assert textbook_factor(target, held) == pytest.approx(factor, abs=5e-6)


def test_the_two_conventions_mean_the_same_edge() -> None:
    """Last held 7 is first cleared 8."""
    held = TabletReading(60.0, 7, "last_held")
    cleared = TabletReading(60.0, 8, "first_cleared")
    assert threshold_interval(held) == threshold_interval(cleared)
    assert threshold_interval(held) == pytest.approx((60 * transmittance(8), 60 * transmittance(7)))


def test_a_half_held_step_halves_the_interval_at_its_lower_end() -> None:
    """Step 7 held and half of 8 there: the resist missed step 8 by less than half a step."""
    low, high = threshold_interval(TabletReading(60.0, 7, "last_held", half=True))
    assert low == pytest.approx(60 * transmittance(8))
    assert high / low == pytest.approx(10**0.075)
    same = threshold_interval(TabletReading(60.0, 9, "first_cleared", half=True))
    assert same == pytest.approx((low, high))


@pytest.mark.parametrize(("step", "factor"), [("all_held", 0.25), ("all_gone", 4.0), (7, None)])
def test_all_held_or_all_gone_gives_a_retry_and_no_number(step: tablet.Step, factor: float | None) -> None:
    """A quarter or four times the dose."""
    assert TabletReading(60.0, step, "last_held").retry_factor == factor


@pytest.mark.parametrize("step", ["all_held", "all_gone"])
def test_no_threshold_comes_from_readings_on_one_side_only(step: tablet.Step) -> None:
    """The estimator refuses with a reason."""
    with pytest.raises(NoEstimateError, match="missing"):
        estimate_threshold([TabletReading(60.0, step, "last_held")])


@pytest.mark.parametrize(
    ("step", "convention", "half"),
    [
        (0, "last_held", False),
        (21, "last_held", False),
        (1, "first_cleared", False),
        (2, "first_cleared", True),
        (22, "first_cleared", False),
    ],
)
def test_steps_a_convention_cannot_give_are_refused(step: int, convention: Convention, half: bool) -> None:
    """The message says what is allowed."""
    with pytest.raises(ValueError, match="step must lie between"):
        TabletReading(60.0, step, convention, half)


def test_an_edge_of_a_step_is_just_held_at_the_dose_for_it() -> None:
    """dose_for_step undoes the tablet."""
    assert dose_for_step(9.0, 8) * transmittance(8) == pytest.approx(9.0)


def read(dose_mj_cm2: float, threshold_ln: float, panel: str) -> TabletReading:
    """Develop and read one tablet, by walking down its steps."""
    held = max(n for n in range(1, 21) if math.log(dose_mj_cm2 * transmittance(n)) >= threshold_ln)
    return TabletReading(dose_mj_cm2, held, "last_held", panel=panel)


def test_dithered_zones_resolve_far_finer_than_a_step() -> None:
    """Simulated panels with 3 % and 1 % scatter: mean error below 4 %, and the stated sigma is about right."""
    rng = Random(11)
    misses, stated = [], []
    for _ in range(150):
        truth = math.log(rng.uniform(4, 12))
        plan = next_zones(truth + rng.gauss(0, 0.2), 0.2)
        panel = truth + rng.gauss(0, 0.03)
        found = estimate_threshold([read(d, panel + rng.gauss(0, 0.01), "p") for d in plan.doses_mj_cm2])
        misses.append(found.ln_mean - truth)
        stated.append(found.ln_sigma)
    scatter = math.sqrt(fmean(m * m for m in misses))
    assert scatter < 0.045
    assert scatter == pytest.approx(math.sqrt(fmean(s * s for s in stated)), rel=0.15)


def test_five_panels_narrow_it_by_the_root_of_five() -> None:
    """Panels average out, zones of one panel do not."""
    truth = math.log(8.0)
    doses = next_zones(truth, 0.2).doses_mj_cm2
    one = estimate_threshold([read(d, truth, "a") for d in doses])
    five = estimate_threshold([read(d, truth, name) for name in "abcde" for d in doses])
    assert five.ln_sigma == pytest.approx(one.ln_sigma / math.sqrt(5), rel=0.08)
    assert five.panels == 5
    assert five.low_mj_cm2 < 8.0 < five.high_mj_cm2


def test_a_single_reading_is_as_wide_as_a_step_and_says_so() -> None:
    """Rectangular over a step, a little rounded by the scatter."""
    found = estimate_threshold([TabletReading(60.0, 7, "last_held")])
    assert found.ln_sigma == pytest.approx(math.hypot(STEP_LN / math.sqrt(12), math.hypot(0.03, 0.01)), rel=0.02)
    assert "no better than a step" in found.note


def test_contradicting_zones_are_pointed_out() -> None:
    """A zone with twice the dose cannot hold fewer steps."""
    found = estimate_threshold(
        [TabletReading(30.0, 8, "last_held", panel="a"), TabletReading(60.0, 6, "last_held", panel="a")]
    )
    assert "read the tablets again" in found.note


def test_mixed_conventions_are_pointed_out() -> None:
    """People confuse them."""
    found = estimate_threshold([TabletReading(30.0, 8, "last_held"), TabletReading(30.0, 9, "first_cleared")])
    assert "conventions are mixed" in found.note


def test_a_resist_that_seems_to_need_more_got_less_light_than_counted() -> None:
    """Found 10 % above its reference: the true dose is 1/1.1 of the counted one."""
    found = tablet.ThresholdEstimate(math.log(9.9), 0.04, 9.0, 10.9, 1, NOTHING)
    ln_factor, sigma = factor_from(found, 9.0)
    assert (math.exp(ln_factor), sigma) == (pytest.approx(1 / 1.1), 0.04)


def test_zones_spread_over_a_whole_step_while_little_is_known() -> None:
    """Four zones: sqrt 2 ^ (1/4) apart."""
    doses = next_zones(math.log(8.0), 0.5, zones=4).doses_mj_cm2
    ratios = [b / a for a, b in pairwise(doses)]
    assert ratios == pytest.approx([10 ** (0.15 / 4)] * 3, rel=1e-3)
    assert math.sqrt(doses[1] * doses[2]) * transmittance(8) == pytest.approx(8.0)


def test_zones_move_together_when_the_threshold_is_nearly_known() -> None:
    """Expected resolution gets better by it."""
    wide, narrow = next_zones(math.log(8.0), 0.5), next_zones(math.log(8.0), 0.03)
    assert narrow.doses_mj_cm2[-1] / narrow.doses_mj_cm2[0] < wide.doses_mj_cm2[-1] / wide.doses_mj_cm2[0]
    assert narrow.reading_sigma < 0.7 * wide.reading_sigma


def test_the_expected_remaining_variance_is_that_of_a_simulation() -> None:
    """Monte Carlo: the mean variance within the cells that the zones' borders make."""
    rng = Random(2)
    offsets, sigma = [-0.06, -0.02, 0.02, 0.06], 0.05
    cells: dict[tuple[int, ...], list[float]] = {}
    for _ in range(40_000):
        u = rng.gauss(0, sigma)
        cells.setdefault(tuple(math.floor((u - o) / STEP_LN) for o in offsets), []).append(u)
    inside = sum(pvariance(us) * len(us) for us in cells.values()) / 40_000
    assert tablet.remaining_variance(offsets, sigma) == pytest.approx(inside, rel=0.03)


def test_even_zones_leave_the_rectangle_between_them() -> None:
    """With nothing known, width/sqrt 12 of a quarter step (JCGM 100:2008 4.3.7)."""
    plan = next_zones(math.log(8.0), 2.0, zone_sigma=0.0)
    assert plan.reading_sigma == pytest.approx(STEP_LN / 4 / math.sqrt(12), rel=0.01)


def test_zones_of_a_reader_of_half_steps_lie_half_a_step_wide() -> None:
    """A whole step would set each border twice; with nothing known an eighth is left (JCGM 100:2008, 4.3.7)."""
    plan = next_zones(math.log(8.0), 2.0, zone_sigma=0.0, marks=1.0)
    apart = [math.log(b / a) for a, b in pairwise(plan.doses_mj_cm2)]
    assert apart == pytest.approx([STEP_LN / 8] * 3)
    assert plan.reading_sigma == pytest.approx(STEP_LN / 8 / math.sqrt(12), rel=0.01)


def test_zones_of_a_reader_nobody_knows_serve_both() -> None:
    """Wider than half a step, narrower than a whole one."""
    doses = next_zones(math.log(8.0), 0.3, marks=0.6).doses_mj_cm2
    assert STEP_LN / 8 * 1.3 < math.log(doses[1] / doses[0]) < STEP_LN / 4 * 0.95


def test_the_edge_moves_two_steps_when_the_dose_is_doubled() -> None:
    """Outside check: twice the exposure is two steps of a square root of two, as tablets' leaflets say (from memory);

    exactly lg 2 / 0.15 = 2.007.
    """
    reading = TabletReading(60.0, 7, "last_held")
    assert edge_step(reading, 60.0) == pytest.approx(7.5)
    assert edge_step(reading, 120.0) == pytest.approx(7.5 + math.log10(2) / 0.15)
    assert edge_step(TabletReading(60.0, 8, "first_cleared"), 60.0) == pytest.approx(7.5)
    assert edge_step(TabletReading(60.0, 7, "last_held", half=True), 60.0) == pytest.approx(7.75)
    assert edge_step(TabletReading(60.0, "all_gone", "last_held"), 60.0) is None
    assert edge_step(TabletReading(60.0, "all_held", "last_held"), 60.0) is None
    with pytest.raises(ValueError, match="above 0"):
        edge_step(reading, 0.0)


STEEPER = tuple(0.11 + 0.16 * step for step in range(21))
"""Of an invented tablet: each step a fifteenth denser than the usual one's, the first twice as dense."""


def held_on(densities: tuple[float, ...], dose_mj_cm2: float, threshold_mj_cm2: float) -> int:
    """The last step of a tablet behind which a resist still gets its threshold: D <= log10(dose / threshold)."""
    return sum(value <= math.log10(dose_mj_cm2 / threshold_mj_cm2) for value in densities)


def test_a_tablet_is_read_by_the_densities_of_its_own_certificate() -> None:
    """ISO 5-2: T = 10^-D. The threshold lies in each interval of its own tablet, not in those of a usual one."""
    outside = 0
    for dose in (40.0, 47.0, 55.0, 64.0):
        step = held_on(STEEPER, dose, 3.0)
        low, high = threshold_interval(TabletReading(dose, step, "last_held", densities=STEEPER))
        assert low < 3.0 <= high
        assert high / low == pytest.approx(10**0.16)
        usual = threshold_interval(TabletReading(dose, step, "last_held"))
        outside += not usual[0] < 3.0 <= usual[1]
    assert outside >= 3


def test_steps_of_a_certificate_may_differ() -> None:
    """Between two of them a straight line; half of a step is half way in density."""
    uneven = certified([0.05, 0.22, *(0.35 + 0.15 * step for step in range(19))])
    assert density(2, uneven) == 0.22
    assert density(1.5, uneven) == pytest.approx(0.135)
    assert density(21, uneven) == uneven[-1]
    _, high = threshold_interval(TabletReading(10.0, 1, "last_held", half=True, densities=uneven))
    assert high == pytest.approx(10.0 * 10**-0.135)
    gone = threshold_interval(TabletReading(10.0, "all_gone", "last_held", densities=uneven))
    assert gone == (pytest.approx(10 * 10**-0.05), math.inf)


@pytest.mark.parametrize(
    ("densities", "words"),
    [
        ([0.05, 0.2], "21 densities, not 2"),
        ([0.05 + 0.15 * step for step in reversed(range(21))], "those of step 1 first"),
        ([5.0 * step for step in range(21)], "between 0 and 5"),
        ([*(0.05 + 0.15 * step for step in range(20)), 2.905], "step 21 has density"),
    ],
)
def test_densities_that_no_tablet_has_are_refused(densities: list[float], words: str) -> None:
    """With what is wrong and what to do; none at all are those of the usual tablet."""
    with pytest.raises(ValueError, match=words):
        certified(densities)
    assert certified([]) == ()


@pytest.mark.parametrize("known", [0.0, 0.005, 0.03])
def test_zones_reach_over_half_a_step_however_sure_the_box_is(known: float) -> None:
    """With half steps they then divide any place alike: closer ones could not tell a box how wrong it is."""
    doses = next_zones(math.log(8.0), known, zones=4).doses_mj_cm2
    apart = [math.log(b / a) for a, b in pairwise(doses)]
    assert apart == pytest.approx([STEP_LN / 8] * 3)
