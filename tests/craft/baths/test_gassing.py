"""What a tight lid over a bath would hold back, against the gas that publications give."""

import pytest

from sumlight.craft.baths import gassing
from sumlight.craft.baths.contents import Contents
from sumlight.craft.chemistry import hazards

SPACE_PER_LITRE = 1 / 3
"""Litres of air over a litre of liquid in a vessel that is three quarters full (by hand)."""


@pytest.mark.parametrize("volume_l", [0.5, 1.0, 3.0])
def test_a_lid_holds_the_published_gas_back_in_the_space_that_is_left(volume_l: float) -> None:
    """A litre of bath of 1.909 % gives 7.1 L of oxygen (craft reference A6); how much there is makes no difference."""
    bath = Contents("peroxide", volume_l, peroxide_wt_percent=1.9089, acid_wt_percent=11.0)
    assert gassing.tight_lid_atm(bath) == pytest.approx(7.1 / SPACE_PER_LITRE, rel=0.01)


def test_a_stronger_bath_presses_harder() -> None:
    """In proportion to what falls apart: 250 g/L of persulfate are 1.05 mol and half as much oxygen (by molmass)."""
    weak, strong = (gassing.tight_lid_atm(Contents("persulfate", 1.0, g_per_l=grams)) for grams in (125.0, 250.0))
    assert strong == pytest.approx(250 / 238.1 / 2 * 24.055 / SPACE_PER_LITRE, rel=1e-3)
    assert strong == pytest.approx(2 * (weak or 0))


def test_only_of_baths_that_gas_by_themselves_anything_is_said() -> None:
    """Whatever else is in the register; where nobody knows the strength it is said of a usual one."""
    said = {kind: gassing.tight_lid(Contents(kind, 1.0)) for kind in hazards.KINDS}
    assert {kind for kind, told in said.items() if told} == {"peroxide", "persulfate"}
    assert {told.code for told in said.values() if told} == {"tight_lid_holds_usually"}
    known = gassing.tight_lid(Contents("persulfate", 1.0, g_per_l=250.0))
    assert str(known).startswith("Why the cap is vented: if all of it fell apart in a container three quarters full")
    assert "hold back 38 times the pressure of the air" in str(known)


def test_every_bath_of_which_it_is_said_has_the_caution_beside_it() -> None:
    """A figure is no caution: the label says vented cap, never a tight lid."""
    for kind in gassing.USUAL:
        assert any("never a tight lid" in str(line) for line in hazards.CAUTIONS[kind])
        assert any("Never a tight lid" in str(line) for line in hazards.container(kind).label)
