"""The etch factor: ours, and what others mean."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.etching.factor import (
    MEANINGS,
    MeaningNeededError,
    etch_factor,
    etch_factor_meaning,
    etch_factor_of_coupon,
    undercut_um,
)


@pytest.mark.parametrize(
    ("factor", "thickness_um", "undercut"),
    [
        *((2.80, 50, 9), (2.80, 500, 89)),  # brass 70/30
        *((2.58, 50, 10), (2.58, 500, 97)),  # aluminium
        *((2.72, 50, 9), (2.72, 300, 55)),  # cupronickel
        *((2.74, 50, 9), (2.74, 500, 91)),  # bronze
    ],
)
def test_published_undercuts_of_two_sided_sheets(factor: float, thickness_um: float, undercut: float) -> None:
    """Published etch formulas (craft reference S10): confirms arithmetic and definition, hardly nature."""
    assert undercut_um(thickness_um / 2, factor) == pytest.approx(undercut, abs=0.5)


def test_a_published_worked_example() -> None:
    """35 µm foil and factor 1: no line below 70 µm (IPC-T-50 as quoted on the technet list, June 2012)."""
    assert 2 * undercut_um(35, 1) == 70


@pytest.mark.parametrize("value", [0.5, 0.79, 6.01, 25, 75])
def test_a_factor_outside_is_not_used_until_it_is_known_what_it_means(value: float) -> None:
    """The question names the ratio upside down, both sides, and a length."""
    with pytest.raises(MeaningNeededError) as asked:
        etch_factor(value)
    assert "undercut over depth" in asked.value.question
    assert "both sides" in asked.value.question
    assert "length" in asked.value.question
    assert "depth-over-undercut" not in asked.value.answers
    with pytest.raises(MeaningNeededError):
        undercut_um(75, value)


@pytest.mark.parametrize("value", [0.0, -2.0, math.nan, math.inf, True])
def test_what_is_no_factor_is_an_error_and_no_question(value: float) -> None:
    """Nothing to ask about."""
    with pytest.raises(ValueError, match="etch_factor must") as wrong:
        etch_factor(value)
    assert not isinstance(wrong.value, MeaningNeededError)


@given(factor=st.floats(0.8, 6), depth_um=st.floats(5, 3000))
def test_every_meaning_leads_back_to_the_same_undercut(factor: float, depth_um: float) -> None:
    """Written by hand from its definition: u is the undercut of one side."""
    u = depth_um / factor
    said = {
        "depth-over-undercut": depth_um / u,
        "depth-over-both": depth_um / (2 * u),
        "undercut-over-depth": u / depth_um,
        "undercut-um": u,
        "artwork-um": 2 * u,
        "trapezoid": 2 * depth_um / (2 * u),
    }
    assert said.keys() == MEANINGS.keys()
    for meaning, value in said.items():
        if 0.800001 < factor < 5.999999:
            assert etch_factor_meaning(value, meaning, depth_um) == pytest.approx(factor)


def test_answers_that_still_make_no_sense_are_refused() -> None:
    """A length without a depth, a ratio that stays outside."""
    with pytest.raises(ValueError, match="depth_um must be given"):
        etch_factor_meaning(25, "undercut-um")
    with pytest.raises(ValueError, match=r"must lie between 0\.8 and 6, not 0\.1: .*upside down"):
        etch_factor_meaning(10, "undercut-over-depth")
    with pytest.raises(ValueError, match="meaning must be one of"):
        etch_factor_meaning(2, "angle")


@given(factor=st.floats(0.81, 5.99), depth_um=st.floats(10, 500), slot_um=st.floats(50, 2000))
def test_a_coupon_gives_the_factor_that_it_was_etched_with(factor: float, depth_um: float, slot_um: float) -> None:
    """PCMI 1982: half of what the slot grew."""
    grown = slot_um + 2 * undercut_um(depth_um, factor)
    assert etch_factor_of_coupon(depth_um, grown, slot_um) == pytest.approx(factor)


def test_a_coupon_that_did_not_grow_is_refused() -> None:
    """Something was read in the wrong order."""
    with pytest.raises(ValueError, match="metal_opening_um must be above 200"):
        etch_factor_of_coupon(50, 190, 200)
