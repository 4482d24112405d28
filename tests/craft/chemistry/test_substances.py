"""Molar masses and reactions, judged by molmass: an own table of elements, read from formulas."""

import numpy as np
import pytest
from molmass import Formula

from sumlight.craft.chemistry.substances import MOLAR_MASS_G_MOL, NAMES, REACTIONS, Reaction, grams_out


def atoms(formula: str) -> dict[str, int]:
    """How many of each element, by molmass."""
    return {symbol: item.count for symbol, item in Formula(formula).composition().items()}


@pytest.mark.parametrize("formula", [*MOLAR_MASS_G_MOL])
def test_molar_masses_are_those_of_a_chemistry_library(formula: str) -> None:
    """Within the rounding of standard atomic weights, which libraries take differently in the third digit."""
    assert MOLAR_MASS_G_MOL[formula] == pytest.approx(Formula(formula).mass, rel=6e-5)


@pytest.mark.parametrize("name", [*REACTIONS])
def test_a_reaction_has_the_only_coefficients_that_keep_every_atom(name: str) -> None:
    """The null space of its matrix of elements, by numpy and molmass, is one ray, and ours lies on it."""
    reaction = REACTIONS[name]
    signed = {**reaction.goes_in, **{formula: -count for formula, count in reaction.comes_out.items()}}
    elements = sorted({element for formula in signed for element in atoms(formula)})
    matrix = np.array([[atoms(formula).get(element, 0) for formula in signed] for element in elements], float)
    _, sizes, rays = np.linalg.svd(matrix)
    assert sum(sizes > 1e-9) == len(signed) - 1, "more than one way to balance it"
    ray, ours = rays[-1], np.array([*signed.values()], float)
    assert ours / np.linalg.norm(ours) == pytest.approx(ray * np.sign(ray[0] * ours[0]), abs=1e-9)
    assert np.gcd.reduce([abs(count) for count in signed.values()]) == 1


def test_a_reaction_that_loses_an_atom_would_be_seen() -> None:
    """The judge itself."""
    wrong = Reaction({"Cu": 1, "H2O2": 1, "HCl": 1}, {"CuCl2": 1, "H2O": 2})
    lost = sum(count * atoms(formula).get("Cl", 0) for formula, count in wrong.goes_in.items())
    assert lost != sum(count * atoms(formula).get("Cl", 0) for formula, count in wrong.comes_out.items())


def test_a_published_mix_of_peroxide_and_acid() -> None:
    """100 g of 3 % peroxide take 6.42 g of acid, 23.78 g of 27 % (sxlist.com, copper chloride etchant)."""
    acid_g = 3 * grams_out("peroxide on copper", "HCl", "H2O2")
    assert acid_g == pytest.approx(6.42, rel=0.003)
    assert acid_g / 0.27 == pytest.approx(23.78, rel=0.003)


def test_what_can_be_mixed_has_a_name() -> None:
    """In plain words."""
    assert all(formula in MOLAR_MASS_G_MOL for formula in NAMES)
