"""Gas of bottles and of neutralising."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry.gas import gas_l, neutralise, oxygen_l, persulfate_oxygen_l, tight_lid_atm

MOL_L_20C = 24.055
"""Litres of a mole of ideal gas at 20 °C and 1 atm, CODATA (reference values §7)."""


def test_a_mole_of_ideal_gas() -> None:
    """24.055 L at 20 °C and 1 atm, 24.374 at 1 bar, 22.414 at 0 °C (CODATA)."""
    assert gas_l(1) == pytest.approx(MOL_L_20C, abs=0.001)
    assert gas_l(1, pressure_pa=1e5) == pytest.approx(24.374, abs=0.001)
    assert gas_l(1, 0) == pytest.approx(22.414, abs=0.001)


@given(moles=st.floats(0, 1000), celsius=st.floats(0, 80))
def test_gas_grows_with_amount_and_warmth(moles: float, celsius: float) -> None:
    """In proportion to moles and to kelvin."""
    assert gas_l(moles, celsius) == pytest.approx(moles * gas_l(1, 0) * (celsius + 273.15) / 273.15)


@pytest.mark.parametrize(
    ("wt_percent", "density", "litres"), [(3, 1.0095, 10.7), (12, 1.0422, 44.2), (35, 1.1323, 140)]
)
def test_oxygen_of_a_litre_of_peroxide(wt_percent: float, density: float, litres: float) -> None:
    """Craft reference A6, at 20 °C."""
    assert oxygen_l(1, wt_percent, density) == pytest.approx(litres, rel=0.005)


def test_a_closed_bottle_bursts() -> None:
    """A litre of 2 : 1 bath gives 7.1 L of oxygen; into 0.2 L of space that is about 36 bar (craft reference A6)."""
    wt_percent, density = 1.9089, 1.0574
    assert oxygen_l(1, wt_percent, density) == pytest.approx(7.1, abs=0.05)
    bar = tight_lid_atm(oxygen_l(1, wt_percent, density), 0.2) * 1.01325
    assert bar == pytest.approx(36, abs=0.5)
    with pytest.raises(ValueError, match="headspace_l must be above 0"):
        tight_lid_atm(7.1, 0)


def test_oxygen_of_a_litre_of_persulfate() -> None:
    """Two of it give one O2 (2 Na2S2O8 + 2 H2O); 238.1 g to the mole by molmass, 24.055 L of gas (CODATA), by hand."""
    assert persulfate_oxygen_l(1, 238.1) == pytest.approx(MOL_L_20C / 2, rel=1e-3)
    assert persulfate_oxygen_l(2, 238.1) == pytest.approx(MOL_L_20C, rel=1e-3)
    with pytest.raises(ValueError, match="g_per_l"):
        persulfate_oxygen_l(1, -1)


@pytest.mark.parametrize(
    ("powder", "grams", "litres"), [("bicarbonate", 84.0, 24.06), ("soda", 53.0, 12.03), ("lime", 37.05, 0)]
)
def test_a_mole_of_acid(powder: str, grams: float, litres: float) -> None:
    """Molar masses by molmass, half as much soda and gas as of bicarbonate (craft reference A6)."""
    found = neutralise(1, powder, authority_allows=True, acid_mol_per_l=1)
    assert (found.powder_g, found.gas_l) == pytest.approx((grams, litres), rel=1e-3)
    assert found.vessel_l == pytest.approx(3)


@pytest.mark.parametrize(("powder", "grams", "litres"), [("bicarbonate", 879, 252), ("soda", 555, 126)])
def test_a_litre_of_iron_chloride(powder: str, grams: float, litres: float) -> None:
    """40 wt% is 3.489 mol/L (craft reference A6)."""
    found = neutralise(1, powder, authority_allows=True, iron_chloride_mol_per_l=3.489)
    assert (found.powder_g, found.gas_l) == pytest.approx((grams, litres), rel=0.002)


def test_copper_of_a_spent_bath() -> None:
    """37.7 g/L: 100 g of bicarbonate and 21.4 L, on top of the acid (craft reference A6)."""
    found = neutralise(1, "bicarbonate", authority_allows=True, copper_g_per_l=37.7)
    assert (found.powder_g, found.gas_l) == pytest.approx((99.7, 21.4), rel=0.005)
    both = neutralise(1, "bicarbonate", authority_allows=True, copper_g_per_l=37.7, acid_mol_per_l=2.083)
    assert (both.powder_g - found.powder_g, both.gas_l - found.gas_l) == pytest.approx((175, 50.1), rel=0.001)


@pytest.mark.parametrize("answer", [None, False])
def test_without_the_authority_s_yes_nothing_is_told(answer: bool | None) -> None:
    """The question comes first."""
    with pytest.raises(RefusedError, match="first ask your local waste authority"):
        neutralise(1, "soda", authority_allows=answer, acid_mol_per_l=1)


@pytest.mark.parametrize("powder", ["lye", "NaOH", "KOH", "caustic"])
def test_solid_lye_is_refused(powder: str) -> None:
    """It heats a bath by 50 K (craft reference A7)."""
    with pytest.raises(RefusedError, match="solid lye"):
        neutralise(1, powder, authority_allows=True, acid_mol_per_l=1)


def test_foam_and_drain_are_spoken_of() -> None:
    """In the sentence."""
    words = neutralise(1, "bicarbonate", authority_allows=True, acid_mol_per_l=1).sentence
    assert "foam" in words
    assert "gets cold" in words
    assert "never goes into the drain" in words
    with pytest.raises(ValueError, match="powder must be one of"):
        neutralise(1, "chalk", authority_allows=True)
