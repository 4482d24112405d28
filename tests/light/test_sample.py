"""What the flags of a reading say of its counts."""

import pytest

from sumlight.light.sample import SATURATED, UNSETTLED, Sample


@pytest.mark.parametrize(
    ("flags", "usable", "settled"),
    [(0, True, True), (SATURATED, False, True), (UNSETTLED, False, False), (SATURATED | UNSETTLED, False, False)],
)
def test_a_saturated_reading_is_a_lower_bound_and_an_unsettled_one_nothing(
    flags: int, usable: bool, settled: bool
) -> None:
    """Only what is neither measures the light."""
    sample = Sample(1.0, 0.975, (9, 9, 9, 9, 9, 9), 5, flags)
    assert (sample.usable, sample.settled) == (usable, settled)
