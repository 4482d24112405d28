"""From the break point to the dwell."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.developing import break_point_share, dwell, is_worn_out


def test_a_dwell_by_the_data_sheet() -> None:
    """Break point at 50 to 65 %, best 60 (data sheet of a film, trade notes E1): cleared in 30 s, 50 s in all."""
    found = dwell(30)
    assert (found.dwell_s, found.shortest_s, found.longest_s) == pytest.approx((50, 46.15, 60), abs=0.01)


@given(clear_s=st.floats(2, 3600), share=st.floats(0.5, 0.65))
def test_the_break_point_lies_where_it_was_asked(clear_s: float, share: float) -> None:
    """Inverse, within its bounds."""
    found = dwell(clear_s, share)
    assert break_point_share(clear_s, found.dwell_s) == pytest.approx(share)
    assert found.shortest_s <= found.dwell_s * 1.000001
    assert found.dwell_s <= found.longest_s * 1.000001


def test_a_bath_is_worn_out_by_its_own_time() -> None:
    """Half again as long as fresh (trade notes, capability 9)."""
    assert is_worn_out(45, 30)
    assert not is_worn_out(44, 30)


def test_times_that_cannot_be_are_named() -> None:
    """Field and value."""
    with pytest.raises(ValueError, match="clear_s must lie between 2 and 3600, not 0"):
        dwell(0)
    with pytest.raises(ValueError, match=r"share must lie between 0\.5 and 0\.65, not 0\.9"):
        dwell(30, 0.9)
    with pytest.raises(ValueError, match="dwell_s must lie between 60 and 36000, not 50"):
        break_point_share(60, 50)
