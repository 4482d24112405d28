"""How long: worked examples, and a bath stepped in time that shares no code."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sumlight.craft.etching.times import (
    NeverFinishesError,
    break_through,
    depth_at_um,
    etch_time_s,
    half_etch,
    looks_s,
    rate_at,
    share_per_um,
)

RATE = st.floats(1, 100)
DEPTH = st.floats(5, 500)
LOAD = st.floats(0, 0.9)
SHARE = st.floats(0, 0.01)


def test_a_bath_that_loads_itself() -> None:
    """2 dm² of brass faces, 100 µm, 1 L of 50 g/L, 10 µm/min: 12.22 min, 10 without loading (craft reference A9)."""
    share = share_per_um(200, 8.5, 1, 50)
    assert etch_time_s(100, 10, share_per_um=share) / 60 == pytest.approx(12.22, abs=0.005)
    assert etch_time_s(100, 10) / 60 == pytest.approx(10)


@pytest.mark.parametrize(("share", "load"), [(0.0, 0.0), (0.004, 0.0), (0.004, 0.3), (0.0065, 0.3), (0.0, 0.5)])
def test_a_bath_stepped_in_time_agrees(share: float, load: float) -> None:
    """dx/dt = r0·(1 - L), dL = a·dx, by Heun's rule in small steps."""
    rate_um_s, depth, used, seconds, step = 10 / 60, 0.0, load, 0.0, 0.05
    while depth < 100:
        first = rate_um_s * (1 - used)
        second = rate_um_s * (1 - used - share * first * step)
        depth += (first + second) / 2 * step
        used = load + share * depth
        seconds += step
    assert etch_time_s(100, 10, share_per_um=share, load=load) == pytest.approx(seconds, abs=0.1)


@given(depth_um=DEPTH, rate=RATE, share=SHARE, load=LOAD)
def test_depth_and_time_are_inverse(depth_um: float, rate: float, share: float, load: float) -> None:
    """Where the panel finishes at all."""
    assume(share * depth_um < 0.999 * (1 - load))
    seconds = etch_time_s(depth_um, rate, share_per_um=share, load=load)
    assert depth_at_um(seconds, rate, share_per_um=share, load=load) == pytest.approx(depth_um, rel=1e-6)


@given(depth_um=DEPTH, rate=RATE, share=SHARE, load=LOAD)
def test_a_loaded_bath_is_slower(depth_um: float, rate: float, share: float, load: float) -> None:
    """More load, more metal and more depth never take less time."""
    assume((share + 0.0005) * depth_um < 0.99 * (1 - load - 0.05))
    base = etch_time_s(depth_um, rate, share_per_um=share, load=load)
    assert base >= etch_time_s(depth_um, rate) * 0.999999
    assert etch_time_s(depth_um, rate, share_per_um=share + 0.0005, load=load) > base
    assert etch_time_s(depth_um, rate, share_per_um=share, load=load + 0.05) > base
    assert etch_time_s(depth_um * 0.9, rate, share_per_um=share, load=load) < base


@given(depth_um=DEPTH, load=st.floats(0, 1), more=st.floats(1, 5))
def test_a_panel_that_the_bath_cannot_take_never_finishes(depth_um: float, load: float, more: float) -> None:
    """From a·d = 1 - L0 on; the depth that it does reach stays below, however long it lies there."""
    share = (1 - load) / depth_um * more * (1 + 1e-9)
    with pytest.raises(NeverFinishesError, match="it never finishes"):
        etch_time_s(depth_um, 10, share_per_um=share, load=load)
    assert depth_at_um(1e6, 10, share_per_um=share, load=load) <= depth_um


def test_two_sides_of_different_pace() -> None:
    """200 µm at 20 and 15 µm/min: 5.714 min, 114.3 µm from the front; one side 10 min (craft reference A9)."""
    found = break_through(200, 20, 15)
    assert (found.time_s / 60, found.plane_um) == pytest.approx((5.714, 114.29), abs=0.005)
    assert break_through(200, 20).time_s / 60 == pytest.approx(10)


@pytest.mark.parametrize(("bath_c", "times"), [(30, 2), (25, 1.414), (15, 0.7071), (20, 1)])
def test_warmth_doubles_the_rate_each_ten_degrees(bath_c: float, times: float) -> None:
    """Trade notes D12."""
    assert rate_at(10, 20, bath_c) == pytest.approx(10 * times, rel=1e-3)


def test_half_etch_goes_as_deep_as_the_through_etch_decides() -> None:
    """k·T/2, ± 25 µm (craft reference S30); gone from k 2 on, weak below 35 % of T."""
    usual = half_etch(150, over_etch=1.2)
    assert (usual.depth_um, usual.left_um, usual.tolerance_um) == (pytest.approx(90), pytest.approx(60), 25)
    assert "60 µm are left" in usual.sentence
    assert "weak" in half_etch(150, over_etch=1.4).sentence
    assert "lose all" in half_etch(150, over_etch=2).sentence


def test_looks_begin_at_the_lower_end_and_come_every_tenth() -> None:
    """Seen, not timed."""
    assert looks_s(600, 4) == pytest.approx((600, 660, 720, 780))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: etch_time_s(-1, 10),
        lambda: etch_time_s(100, 0),
        lambda: etch_time_s(100, 10, load=1.1),
        lambda: etch_time_s(100, math.nan),
        lambda: depth_at_um(-1, 10),
        lambda: rate_at(10, 20, 200),
        lambda: break_through(0, 10),
        lambda: share_per_um(100, 8.5, 0, 50),
        lambda: half_etch(-150),
        lambda: looks_s(600, 0),
    ],
)
def test_bad_numbers_are_named(wrong) -> None:  # type: ignore[no-untyped-def]
    """And never answered."""
    with pytest.raises(ValueError, match="must"):
        wrong()
