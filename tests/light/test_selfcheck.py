"""Telling lamp, diffuser and sensor apart by the board's own LED."""

import math
from random import Random

import pytest

from sumlight.light.selfcheck import diffuser_from, judge, learned_share

REFERENCE = (300.0, 500.0, 420.0, 700.0)


def led(diffuser: float, share: float = 0.5) -> list[float]:
    """What the LED shows through a diffuser, by the two ways its light takes."""
    return [value * (1 - share + share * diffuser**2) for value in REFERENCE]


@pytest.mark.parametrize("diffuser", [0.95, 0.88, 0.7])
def test_a_fouled_diffuser_is_named_and_its_loss_found(diffuser: float) -> None:
    """LED and lamps both fall; the correction undoes the loss."""
    found = judge(led(diffuser), REFERENCE, diffuser)
    assert found.verdict == "diffuser_dirty"
    assert found.ln_shift == pytest.approx(-math.log(diffuser))


def test_an_ageing_lamp_is_named_when_the_led_stays() -> None:
    """Falling lamps with a steady LED."""
    found = judge(REFERENCE, REFERENCE, 0.9)
    assert (found.verdict, found.ln_shift) == ("lamp_ages", 0.0)


def test_nothing_changed_is_said_too() -> None:
    """Within the noise."""
    assert judge([v * 1.002 for v in REFERENCE], REFERENCE, 0.995).verdict == "steady"


def test_a_cleaned_diffuser_is_named() -> None:
    """The reference was taken through dirt."""
    found = judge(REFERENCE, led(0.88), 1 / 0.88)
    assert found.verdict == "diffuser_cleaned"
    assert found.ln_shift < 0


def test_channels_that_change_apart_mean_the_sensor() -> None:
    """Dirt is grey, a lost filter is not."""
    assert judge([330.0, 500.0, 430.0, 900.0], REFERENCE, 0.9).verdict == "sensor_changed"


def test_an_led_that_falls_while_the_lamps_stay_means_the_sensor() -> None:
    """Dirt would have taken the lamps' light as well."""
    assert judge(led(0.85), REFERENCE, 1.0).verdict == "sensor_changed"


def test_an_led_gone_dark_means_the_sensor() -> None:
    """No dirt takes what comes back from the inner face."""
    assert judge([v * 0.3 for v in REFERENCE], REFERENCE, None).verdict == "sensor_changed"


def test_the_stated_uncertainty_of_the_correction_is_honest() -> None:
    """Monte Carlo over noise and the unknown share: the scatter of the correction is what was stated."""
    rng = Random(3)
    misses = []
    for _ in range(2000):
        seen = sum(led(0.88, rng.gauss(0.5, 0.095))) / sum(REFERENCE) * (1 + rng.gauss(0, 0.011))
        misses.append(-math.log(diffuser_from(seen)) + math.log(0.88))
    scatter = math.sqrt(sum(m * m for m in misses) / len(misses))
    assert judge(led(0.88), REFERENCE, 0.88).ln_sigma == pytest.approx(scatter, rel=0.06)


def test_a_grey_sheet_teaches_the_share() -> None:
    """Made with a share of 0.4, found again."""
    assert learned_share(100.0, 100.0 * (0.6 + 0.4 * 0.5**2), 0.5) == pytest.approx(0.4)


def test_a_sheet_that_brightens_the_led_is_refused() -> None:
    """That cannot be."""
    with pytest.raises(ValueError, match="read both again"):
        learned_share(100.0, 110.0, 0.5)


def test_channels_and_reference_must_match() -> None:
    """Four against two."""
    with pytest.raises(ValueError, match="same channels"):
        judge(REFERENCE, (1.0, 2.0), None)
