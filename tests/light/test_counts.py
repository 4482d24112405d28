"""Counts, gains and times of the light sensor against published figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.box.colour_meter import ASTEP, ATIME
from sumlight.light.counts import (
    AIM_SHARE,
    GAINS,
    HIGH_SHARE,
    LOW_SHARE,
    basic_counts,
    fitting_gain,
    full_scale_counts,
    integration_ms,
)

FULL = 18000


# Integration time (ATIME + 1)(ASTEP + 1) × 2.78 µs and full scale min((ATIME + 1)(ASTEP + 1), 65535): sensor datasheet
# DS000504, as quoted in the project's reference values §4, vectors there. 35970 is also printed in a published
# walk-through of the sensor (source 33 there).
@pytest.mark.parametrize(
    ("atime", "astep", "ms", "full_scale"),
    [
        (100, 999, 280.78, 65535),
        (29, 599, 50.04, 18000),
        (0, 999, 2.78, 1000),
        (9, 3596, 99.9966, 35970),
        (255, 999, 711.68, 65535),
    ],
)
def test_integration_time_and_full_scale_agree_with_the_published_vectors(
    atime: int, astep: int, ms: float, full_scale: int
) -> None:
    """Five settings."""
    assert integration_ms(atime, astep) == pytest.approx(ms, rel=1e-5)
    assert full_scale_counts(atime, astep) == full_scale


def test_the_integration_time_in_use_is_a_whole_number_of_mains_half_periods() -> None:
    """Five of 50 Hz (10 ms each) and six of 60 Hz (8.33 ms each), to a thousandth: ripple averages out."""
    ms = integration_ms(ATIME, ASTEP)
    assert ms / 10.0 == pytest.approx(5, rel=1e-3)
    assert ms / (1000 / 120) == pytest.approx(6, rel=1e-3)


# Basic counts = raw / (gain × integration time in ms): application note AN000633 §3.1, as quoted in the reference
# values §4, with this vector.
def test_basic_counts_agree_with_the_published_vector() -> None:
    """20000 counts at 64x and 50.04 ms are 6.2450."""
    assert basic_counts(20000, GAINS.index(64.0), 50.04) == pytest.approx(6.2450, abs=5e-5)


# Gain codes 0…10 of register CFG1: the sensor's published driver (source 31 of the reference values).
def test_gain_codes_stand_for_the_published_gains() -> None:
    """From a half to 512, doubling."""
    assert GAINS == (0.5, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512)


@given(counts=st.integers(0, 65535), code=st.integers(0, 10))
def test_basic_counts_are_proportional_and_independent_of_the_gain(counts: int, code: int) -> None:
    """Twice the gain and twice the counts are the same light."""
    value = basic_counts(counts, code, 50.04)
    assert value >= 0
    if code < 10:
        assert basic_counts(2 * counts, code + 1, 50.04) == pytest.approx(value)
    assert basic_counts(counts, code, 100.08) == pytest.approx(value / 2)


@given(code=st.integers(0, 10), share=st.floats(LOW_SHARE, HIGH_SHARE))
def test_a_comfortable_reading_keeps_its_gain(code: int, share: float) -> None:
    """Between eight and eighty percent of full scale nothing changes."""
    counts = min(max(round(share * FULL), round(LOW_SHARE * FULL) + 1), round(HIGH_SHARE * FULL) - 1)
    assert fitting_gain(code, counts, FULL, saturated=False) == code


@given(code=st.integers(0, 10), counts=st.integers(0, FULL))
def test_a_new_gain_is_never_too_high(code: int, counts: int) -> None:
    """What it then reads lies below the aim and some, so that it does not fall at once again."""
    new = fitting_gain(code, counts, FULL, saturated=False)
    assert 0 <= new < len(GAINS)
    if new > code:
        assert counts / FULL * GAINS[new] / GAINS[code] <= 1.5 * AIM_SHARE
    if new < code:
        assert counts > HIGH_SHARE * FULL
        assert counts / FULL * GAINS[new] / GAINS[code] <= AIM_SHARE or new == 0


@given(code=st.integers(0, 10), counts=st.integers(0, FULL))
def test_a_new_gain_is_a_comfortable_one(code: int, counts: int) -> None:
    """Where the range allows it the change is made once, not step by step."""
    new = fitting_gain(code, counts, FULL, saturated=False)
    if 0 < new < 10:
        assert fitting_gain(new, round(counts * GAINS[new] / GAINS[code]), FULL, saturated=False) == new


@pytest.mark.parametrize(("code", "new"), [(10, 7), (5, 2), (3, 0), (2, 0), (0, 0)])
def test_a_saturated_reading_lowers_the_gain_eightfold(code: int, new: int) -> None:
    """Its counts tell nothing."""
    assert fitting_gain(code, FULL // 4, FULL, saturated=True) == new


def test_darkness_asks_for_the_highest_gain() -> None:
    """Zero counts fit any."""
    assert fitting_gain(5, 0, FULL, saturated=False) == 10
