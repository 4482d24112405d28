"""Fewer points for the same picture."""

import math

from hypothesis import given
from hypothesis import strategies as st

from sumlight_web.downsample import downsampled


@given(st.lists(st.floats(-1e6, 1e6)), st.integers(4, 50))
def test_peaks_dips_ends_and_order_survive(heights: list[float], limit: int) -> None:
    """Whatever the curve, its extremes are still there and nothing is invented."""
    points = list(enumerate(heights))
    kept = downsampled(points, limit, lambda p: p[1])
    assert len(kept) <= max(limit, 0)
    assert kept == sorted(kept)
    assert set(kept) <= set(points)
    if points:
        assert (kept[0], kept[-1]) == (points[0], points[-1])
        assert max(h for _, h in kept) == max(heights)
        assert min(h for _, h in kept) == min(heights)


def test_a_single_dark_sample_among_thousands_is_still_seen() -> None:
    """A tube that flickers for one reading must not be smoothed away."""
    light = [4.0 + math.sin(n) * 0.01 for n in range(10_000)]
    light[7_777] = 0.5
    assert 0.5 in downsampled(light, 300, float)
