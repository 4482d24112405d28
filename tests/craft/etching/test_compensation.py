"""What to draw: published rules, and a front stepped in time that shares no code."""

import math
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.etching.compensation import compensate, finished, growth
from sumlight.craft.etching.factor import MeaningNeededError

THICKNESS = st.floats(20, 500)
FACTOR = st.floats(0.8, 6)
OVER = st.floats(1, 2.5)


@pytest.mark.parametrize(
    ("over_etch", "wanted_at", "drawn_um"),
    [(1.0, "surface", 225), (1.0, "waist", 300), (1.2, "waist", 250), (1.5, "waist", 216)],
)
def test_a_hole_of_300_in_150_with_factor_2(over_etch: float, wanted_at: str, drawn_um: float) -> None:
    """The first is the handbook rule, finished - 2·T/(2F) (craft reference S10); the others design §2.5."""
    found = compensate(300, "opening", 150, 2, over_etch=over_etch, wanted_at=wanted_at)
    assert found.drawn_um == pytest.approx(drawn_um, abs=0.5)


def test_one_side_and_a_line() -> None:
    """One-sided hole 300 → 150; line 200 → 275 at the surface of a two-sided sheet (craft reference A9)."""
    assert compensate(300, "opening", 150, 2, sides=1, over_etch=1, wanted_at="surface").drawn_um == pytest.approx(150)
    assert compensate(200, "line", 150, 2, over_etch=1, wanted_at="surface").drawn_um == pytest.approx(275)


@given(
    thickness_um=THICKNESS,
    factor=FACTOR,
    over_etch=OVER,
    wanted_um=st.floats(100, 5000),
    kind=st.sampled_from(["opening", "line"]),
    wanted_at=st.sampled_from(["surface", "waist"]),
    sides=st.sampled_from([1, 2]),
)
def test_what_is_drawn_comes_out_as_wanted(
    thickness_um: float, factor: float, over_etch: float, wanted_um: float, kind: str, wanted_at: str, sides: int
) -> None:
    """`finished` is the inverse, or the size is refused."""
    edge = growth(thickness_um, factor, sides=sides, over_etch=over_etch)
    ask = partial(  # type: ignore[misc]
        *(compensate, wanted_um, kind, thickness_um, factor), sides=sides, over_etch=over_etch, wanted_at=wanted_at
    )
    offset = edge.surface_um if wanted_at == "surface" else edge.waist_um
    gone = kind == "opening" and wanted_um - 2 * offset < 50
    if gone or (kind == "line" and wanted_um + 2 * offset <= 2 * edge.surface_um):
        with pytest.raises(ValueError, match="cannot be made"):
            ask()
        return
    found = ask()
    out = dict(zip(("surface", "waist"), finished(found.drawn_um, kind, found.growth), strict=True))
    assert out[wanted_at] == pytest.approx(wanted_um)
    assert out == {"surface": found.surface_um, "waist": found.waist_um}


@given(thickness_um=THICKNESS, factor=FACTOR, over_etch=OVER)
def test_more_etching_grows_more_and_leaves_a_smaller_cusp(
    thickness_um: float, factor: float, over_etch: float
) -> None:
    """Why holes are drawn smaller and etched longer: straighter walls (craft reference S28)."""
    some, more = (
        growth(thickness_um, factor, over_etch=over_etch),
        growth(thickness_um, factor, over_etch=over_etch + 0.3),
    )
    assert more.surface_um > some.surface_um >= some.waist_um
    assert more.waist_um > some.waist_um
    assert more.cusp_um < some.cusp_um


@pytest.mark.parametrize("over_etch", [1.1, 1.3, 1.6])
def test_a_front_stepped_in_time_agrees(over_etch: float) -> None:
    """Factor 1: metal goes where the nearest open point is within reach, counted cell by cell on a section of 1 µm."""
    thickness, drawn = 60, 40
    reach = over_etch * thickness / 2
    gone_at = {}
    for depth in (0.0, thickness / 2):
        x = 0.0
        while any(
            math.hypot(drawn / 2 + x - mask, depth - face) <= reach
            for face in (0.0, thickness)
            for mask in range(-20, 21)
        ):
            x += 0.1
        gone_at[depth] = x
    found = growth(thickness, 1.0, over_etch=over_etch)
    assert (found.surface_um, found.waist_um) == pytest.approx((gone_at[0.0], gone_at[thickness / 2]), abs=0.15)


def test_openings_too_small_to_draw_are_refused_with_the_smallest_that_works() -> None:
    """T 100, factor 1, hole 120 would be drawn 20 µm (craft reference A9)."""
    with pytest.raises(ValueError, match=r"drawn 20 µm wide, and 50 is the least that prints; the smallest .* is 150"):
        compensate(120, "opening", 100, 1, over_etch=1, wanted_at="surface")
    assert compensate(150, "opening", 100, 1, over_etch=1, wanted_at="surface").drawn_um == pytest.approx(50)


def test_a_line_whose_surface_would_be_gone_is_refused() -> None:
    """Waist as wanted, but nothing of the surface left."""
    with pytest.raises(ValueError, match="surface of the line would be eaten away"):
        compensate(60, "line", 200, 1, over_etch=1, wanted_at="waist")


@pytest.mark.parametrize(
    ("thickness_um", "factor", "sides", "over_etch", "named"),
    [
        (-150, 2, 2, 1.2, "thickness_um must lie between 5 and 3000, not -150"),
        (150, 2, 3, 1.2, "sides must be 1 or 2, not 3"),
        (150, 2, 2, 0.5, "over_etch must lie between 1 and 3, not 0.5"),
        (math.nan, 2, 2, 1.2, "thickness_um must be a number"),
    ],
)
def test_bad_numbers_are_named(thickness_um: float, factor: float, sides: int, over_etch: float, named: str) -> None:
    """Field, value, what is allowed."""
    with pytest.raises(ValueError, match=named):
        growth(thickness_um, factor, sides=sides, over_etch=over_etch)
    with pytest.raises(MeaningNeededError):
        growth(150, 0.4)
