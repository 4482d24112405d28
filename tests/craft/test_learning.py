"""What results say of a recipe: weighed as statistics has it, true where the truth is known, and nothing made up."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from sumlight.craft import learning
from sumlight.craft.learning import Result

STEP = 0.15 * math.log(10)
"""A step of a published 21-step tablet, 0.15 of density, in ln of dose."""


def test_values_are_weighed_by_their_precision() -> None:
    """Two normal guesses: the posterior on a grid, by scipy's normal densities, has the same mean and width."""
    seen = [(0.0, 0.2), (0.15, 0.1)]
    grid = np.linspace(-1, 1, 20_001)
    posterior = np.prod([stats.norm.pdf(grid, value, off) for value, off in seen], axis=0)
    posterior /= posterior.sum()
    mean = float((grid * posterior).sum())
    off = math.sqrt(float(((grid - mean) ** 2 * posterior).sum()))
    assert learning.weighted(seen) == pytest.approx((mean, off), rel=1e-4)


def test_results_that_contradict_each_other_widen_the_interval() -> None:
    """By the Birge ratio: chi-square over its degrees of freedom, worked out by hand for two values."""
    _mean, off = learning.weighted([(0.0, 0.1), (1.0, 0.1)])
    assert off == pytest.approx(0.1 / math.sqrt(2) * math.sqrt(0.5 / 0.1**2), rel=1e-9)
    with pytest.raises(ValueError, match="nothing"):
        learning.weighted([])


def test_a_held_step_says_the_dose_by_the_steps_of_a_tablet() -> None:
    """Two steps too few held: twice the dose, for two steps are a factor of two (trade notes, step tablet)."""
    results = [Result(dose_mj_cm2=50.0, held_step=9.0, wanted_step=11.0)] * 8
    found = learning.dose(results, 50.0)
    assert found is not None
    assert found.panels == 8
    assert found.mid == pytest.approx(100, rel=0.05)
    assert found.apart
    assert found.worth_it


def test_sound_panels_confirm_the_dose_they_had() -> None:
    """The interval closes around it, and there is nothing to put in."""
    one, many = (learning.dose([Result(50.0, "good")] * count, 50.0) for count in (1, 12))
    assert one is not None
    assert many is not None
    assert not many.apart
    assert not many.worth_it
    assert many.high / many.low < one.high / one.low


@pytest.mark.parametrize("told", [{"verdict": "too_little"}, {"causes": frozenset({"underexposed"})}])
def test_too_little_light_asks_for_more_and_too_much_for_less(told: dict[str, object]) -> None:
    """Alike, whether a person said so or confirmed the cause; both causes at once say nothing."""
    more = learning.dose([Result(50.0, **told)] * 3, 50.0)  # type: ignore[arg-type]
    less = learning.dose([Result(50.0, causes=frozenset({"overexposed"}))] * 3, 50.0)
    assert more is not None
    assert less is not None
    assert more.mid > 60
    assert less.mid < 42
    assert learning.dose([Result(50.0, causes=frozenset(learning.DOSE_CAUSES))], 50.0) is None


def test_what_says_nothing_is_not_counted() -> None:
    """No dose, an unfinished reading, a panel nobody judged."""
    silent = [Result(), Result(50.0), Result(50.0, held_step=7.0), Result(50.0, "unknown"), Result(None, "good")]
    assert learning.dose(silent, 50.0) is None
    assert (
        learning.break_point([Result(verdict="good"), Result(verdict="good", clear_s=30.0, developed_s=20.0)], None)
        is None
    )
    assert learning.etch_rate([Result(etch=("brass", "iron"))], ("brass", "iron"), None) is None


def test_the_interval_of_the_dose_holds_the_truth() -> None:
    """Another law than the estimator's: a threshold that wanders from panel to panel, read as the last whole step.

    Step densities are those of a published tablet; the panel scatter is common practice, no source.
    """
    draw, inside, count = random.Random(5), 0, 300
    for _shop in range(count):
        right = draw.uniform(20.0, 200.0)
        threshold = right * 10 ** -(0.05 + 0.15 * 10.5)  # so that step 11 is the last one that holds, by half a step
        results = []
        for _panel in range(5):
            dose = right * math.exp(draw.uniform(-0.8, 0.8))
            own = threshold * math.exp(draw.gauss(0.0, 0.03))
            held = math.floor(1 + (math.log10(dose / own) - 0.05) / 0.15)
            results.append(Result(dose, held_step=float(held), wanted_step=11.0))
        found = learning.dose(results, right * math.exp(draw.gauss(0.0, 0.2)))
        assert found is not None
        inside += found.low <= right <= found.high
    assert 0.9 <= inside / count <= 0.999


def test_a_break_point_is_learned_within_what_a_data_sheet_allows() -> None:
    """50 to 65 % of the dwell (trade notes E1): sound panels at 52 % move it there, no further than 50 %."""
    sound = [Result(verdict="good", clear_s=26.0, developed_s=50.0)] * 10
    found = learning.break_point(sound, None)
    assert found is not None
    assert found.mid == pytest.approx(0.52, abs=0.015)
    long = [Result(clear_s=20.0, developed_s=80.0, causes=frozenset({"underdeveloped"}))] * 20
    least = learning.break_point(long, None)
    assert least is not None
    assert least.mid == least.low == 0.5


def test_a_rate_is_that_of_the_fresh_bath() -> None:
    """75 µm in 10 min of a bath a fifth used: 9.4 µm/min when fresh (by hand); a bath that failed teaches nothing."""
    etched = Result(etch=("brass", "iron"), depth_um=75.0, etched_s=600.0, used=0.2)
    found = learning.etch_rate([etched] * 3, ("brass", "iron"), None)
    assert found is not None
    assert found.mid == pytest.approx(75 / 10 / 0.8, rel=1e-9)
    assert learning.etch_rate([replace(etched, causes=frozenset({"etchant_cold"}))], ("brass", "iron"), None) is None
    assert learning.etch_rate([etched], ("copper", "iron"), None) is None
    over = learning.etch_rate([replace(etched, causes=frozenset({"over_etched"}))] * 3, ("brass", "iron"), None)
    assert over is not None
    assert over.mid > found.mid


def test_a_recipe_is_told_all_that_its_panels_say() -> None:
    """Each etch once; of a recipe without a dose, or of panels that say nothing, nothing is made up."""
    results = [
        Result(50.0, "good", clear_s=30.0, developed_s=52.0, etch=(metal, "iron"), depth_um=75.0, etched_s=600.0)
        for metal in ("brass", "copper", "brass")
    ]
    told = [(each.what, each.etch) for each in learning.of_recipe(results, 50.0, None)]
    rates = [("etch_rate", ("brass", "iron")), ("etch_rate", ("copper", "iron"))]
    assert told == [("dose", None), ("break_point", None), *rates]
    assert [each.what for each in learning.of_recipe(results[:1], None, None)] == ["break_point", "etch_rate"]
    assert learning.of_recipe([Result()], 50.0, None) == []
    held = learning.of_recipe(results, 50.0, None, {"copper": {"iron": 7.5}, "brass": {"peroxide": 9.0}})
    assert [(each.etch, each.now) for each in held if each.etch] == [
        (("brass", "iron"), None),
        (("copper", "iron"), pytest.approx(7.5)),
    ]


def test_every_outcome_has_its_sentence() -> None:
    """With its interval; only a rate names metal and bath."""
    good, thin = [Result(50.0, "good")], [Result(50.0, held_step=7.0, wanted_step=11.0)] * 4
    for results, words in ((good, "agree"), (thin, "outside")):
        found = learning.dose(results, 50.0)
        assert found is not None
        assert words in str(learning.sentence(found))
    rate = learning.etch_rate([Result(etch=("brass", "iron"), depth_um=75.0, etched_s=600.0)], ("brass", "iron"), None)
    assert rate is not None
    assert str(learning.sentence(rate)).startswith("brass in ferric chloride, fresh: 7.5 µm/min")
