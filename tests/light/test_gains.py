"""Learning what the sensor's gain steps really are."""

import math
from random import Random

import pytest

from sumlight.light.gains import ANCHOR_CODE, GainStep, GainTable, learned_step


def true_errors(rng: Random) -> list[float]:
    """ln error of each of the ten doublings, up to 3 %."""
    return [math.log(1 + rng.uniform(-0.03, 0.03)) for _ in range(10)]


def test_learned_gains_bring_readings_at_all_gains_together() -> None:
    """A light of 100 basic counts, read with wrong gains and 0.1 % noise, comes out within four deviations."""
    rng = Random(5)
    errors = true_errors(rng)
    gain_ln = [sum(errors[ANCHOR_CODE:code]) - sum(errors[code:ANCHOR_CODE]) for code in range(11)]

    def read(code: int) -> float:
        return 100.0 * math.exp(gain_ln[code]) * (1 + rng.gauss(0, 0.001))

    table = GainTable(learned_step(code, read(code), read(code + 1), read(code), 0.001) for code in range(10))
    for code in range(11):
        value, sigma = table.corrected(100.0 * math.exp(gain_ln[code]), code)
        assert abs(value / 100.0 - 1) < max(4 * sigma, 1e-9)
        assert sigma < 0.004


def test_nothing_learned_means_no_correction_but_doubt() -> None:
    """One unlearned step: 3 % as half-width of a rectangular distribution (JCGM 100:2008 4.3.7)."""
    assert GainTable().corrected(50.0, ANCHOR_CODE) == (50.0, 0.0)
    assert GainTable().corrected(50.0, ANCHOR_CODE + 1) == (50.0, pytest.approx(0.03 / math.sqrt(3)))


def test_repeated_learning_narrows_the_doubt() -> None:
    """Two determinations of 0.2 % together: 0.2 % / sqrt 2."""
    table = GainTable([GainStep(6, 0.02, 0.002), GainStep(6, 0.024, 0.002)])
    step = table.steps()[6]
    assert step.ln_error == pytest.approx(0.022, rel=0.02)
    assert step.ln_sigma == pytest.approx(0.002 / math.sqrt(2), rel=0.01)


def test_a_lamp_that_drifts_steadily_does_not_mislead() -> None:
    """The two outer readings bracket the inner one."""
    step = learned_step(4, 100.0, 101.0 * 1.02, 102.0, 0.001)
    assert step.ln_error == pytest.approx(math.log(1.02))
    assert step.ln_sigma > 0.005


def test_light_that_jumped_is_refused() -> None:
    """No chip is off by a quarter."""
    with pytest.raises(ValueError, match="not steady"):
        learned_step(4, 100.0, 125.0, 100.0, 0.001)
