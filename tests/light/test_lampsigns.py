"""What tells lamps of another kind to a sensor without colour.

The ripple's share is that of a sine through a window: |sin x| / x with x = π f T (any table of Fourier transforms).
"""

import math
from random import Random

import pytest

from sumlight.light.lampsigns import LampSigns, signs_in, surely_others, swing, unlike

TUBES = LampSigns(0.9, 0.0133, 1.4e-5)
LEDS = LampSigns(0.13, 0.0009, 1.6e-5)


def counts(depth: float, hz: float, noise: float = 0.0, drift: float = 0.0, number: int = 150) -> list[float]:
    """Conversions of 64 ms, one after the other, under light that ripples and drifts from one to the next."""
    chance, every_s = Random(7), 0.06408
    x = math.pi * hz * 0.064
    seen = depth * math.sin(x) / x
    return [
        1 + drift * n + seen * math.cos(2 * math.pi * hz * every_s * n) + chance.gauss(0, noise) for n in range(number)
    ]


def test_the_swing_of_noise_is_its_standard_deviation() -> None:
    """And lamps that warm up steadily do not swing."""
    assert swing(counts(0.0, 100, noise=0.01)) == pytest.approx(0.01, rel=0.2)
    assert swing(counts(0.0, 100, drift=0.01)) == pytest.approx(0.0, abs=1e-9)
    assert swing(counts(0.0, 100, number=19)) is None
    assert swing([0.0] * 30) is None


@pytest.mark.parametrize("hz", [100, 120])
def test_the_mains_shows_in_windows_that_do_not_divide_it(hz: int) -> None:
    """A tube with a third of ripple lies far above the noise of an LED."""
    tube, led = swing(counts(0.35, hz, noise=0.001)), swing(counts(0.0, hz, noise=0.001))
    assert tube is not None
    assert led is not None
    assert unlike(LampSigns(0.8, tube), LampSigns(0.8, led)) == ["ripple"]


def test_leds_in_the_place_of_tubes_start_and_ripple_otherwise_and_the_other_way_round() -> None:
    """One of the two alone may be a ballast's doing."""
    assert unlike(LEDS, TUBES) == unlike(TUBES, LEDS) == ["start", "ripple"]
    assert surely_others(unlike(LEDS, TUBES))
    assert unlike(LampSigns(0.13), TUBES) == ["start"]
    assert not surely_others(["start"])
    assert not surely_others([])


def test_clear_glass_lets_uv_b_out() -> None:
    """That alone tells: no ballast makes it. What ages does not."""
    clear = LampSigns(0.8, 0.0133, 0.0157)
    assert unlike(clear, TUBES) == ["uv_b"]
    assert surely_others(["uv_b"])
    assert unlike(LampSigns(0.8, 0.0133, 0.0150), clear) == []
    assert unlike(LampSigns(uv_b_share=0.048), LampSigns(uv_b_share=0.060)) == []


@pytest.mark.parametrize(
    "now", [LampSigns(0.61, 0.0105, 1.9e-5), LampSigns(1.7, 0.0174, -2e-4), LampSigns(), LampSigns(0.9, None, None)]
)
def test_the_same_lamps_cold_warm_or_barely_seen_are_the_same(now: LampSigns) -> None:
    """A strike that takes twice as long, another place in the mains' period, or nothing to go by."""
    assert unlike(now, TUBES) == []


def test_signs_survive_their_record() -> None:
    """And what somebody changed by hand is none."""
    assert signs_in({"struck_after_s": 0.9, "swing": None, "uv_b_share": 1e-5}) == LampSigns(0.9, None, 1e-5)
    assert signs_in(None) is None
    assert signs_in({"swing": "much"}) is None
