"""Gas: of a bath that falls apart in a bottle, and of neutralising. Ideal gas; what stays dissolved is not counted on.

Neutralising is arithmetic only: whether it may be done at home is the local waste authority's word.
"""

from dataclasses import dataclass

from sumlight.craft.checks import RefusedError, above, between, one_of
from sumlight.craft.chemistry.hazards import WASTE_WORDS
from sumlight.craft.chemistry.substances import MOLAR_MASS_G_MOL, REACTIONS
from sumlight.text.message import Message, say

R_J_MOL_K = 8.314462618
"""Gas constant, CODATA."""
ATMOSPHERE_PA = 101325.0
POWDERS = {"bicarbonate": "NaHCO3", "soda": "Na2CO3", "lime": "Ca(OH)2"}
NAMES = {"bicarbonate": say("bicarbonate"), "soda": say("soda"), "lime": say("lime")}
_HOW = {
    "bicarbonate": say("foams_gets_cold"),
    "soda": say("foams_gets_warm"),
    "lime": say("gets_hot"),
}
LARGEST_NEUTRALISED_L, MOST_ACID_MOL_L, MOST_COPPER_G_L, MOST_IRON_MOL_L = 200.0, 13.0, 400.0, 5.0
"""Slips of the pen lie beyond."""
LARGEST_SHARE_OF_VESSEL = 1 / 3
"""An open vessel at least three times the liquid, powder in portions (common practice, no source)."""


@dataclass(frozen=True)
class Neutralising:
    """Powder for a bath's acid and metal, the gas it gives off, the vessel it needs, and how to go about it."""

    powder_g: float
    gas_l: float
    vessel_l: float
    sentence: Message


def gas_l(moles: float, temperature_c: float = 20.0, pressure_pa: float = ATMOSPHERE_PA) -> float:
    """Litres of an ideal gas, V = nRT/p. Raises ValueError for what cannot be."""
    between("moles", moles, 0, 1e6)
    kelvin = between("temperature_c", temperature_c, -40, 200) + 273.15
    return 1000 * moles * R_J_MOL_K * kelvin / above("pressure_pa", pressure_pa, 0, 1e8)


def oxygen_l(volume_l: float, peroxide_wt_percent: float, density_g_cm3: float, temperature_c: float = 20.0) -> float:
    """Litres of oxygen at 1 atm when all peroxide of a bath falls apart. Raises ValueError for what cannot be."""
    above("volume_l", volume_l, 0, 200)
    between("peroxide_wt_percent", peroxide_wt_percent, 0, 100)
    grams = volume_l * 1000 * between("density_g_cm3", density_g_cm3, 0.99, 1.6) * peroxide_wt_percent / 100
    moles = grams / MOLAR_MASS_G_MOL["H2O2"] * REACTIONS["peroxide falls apart"].moles("O2", "H2O2")
    return gas_l(moles, temperature_c)


def persulfate_oxygen_l(volume_l: float, g_per_l: float, temperature_c: float = 20.0) -> float:
    """Litres of oxygen at 1 atm when all persulfate of a bath falls apart. Raises ValueError for what cannot be."""
    above("volume_l", volume_l, 0, 200)
    moles = volume_l * between("g_per_l", g_per_l, 0, 1000) / MOLAR_MASS_G_MOL["Na2S2O8"]
    return gas_l(moles * REACTIONS["persulfate falls apart"].moles("O2", "Na2S2O8"), temperature_c)


def tight_lid_atm(litres: float, headspace_l: float) -> float:
    """How many times the pressure of the air a tight lid holds back, over that outside, when a bath gives off `litres`.

    `litres` are at 1 atm and at the bath's temperature; by p = nRT/V they are pressed into the space above the liquid.
    Raises ValueError for what cannot be.
    """
    above("headspace_l", headspace_l, 0, 200, say("bottle_bursts"))
    return between("litres", litres, 0, 1e6) / headspace_l


def neutralise(
    volume_l: float,
    powder: str,
    *,
    authority_allows: bool | None,
    acid_mol_per_l: float = 0.0,
    copper_g_per_l: float = 0.0,
    iron_chloride_mol_per_l: float = 0.0,
) -> Neutralising:
    """Work out powder and gas for what is left of a bath: acid to salt, copper and iron to sludge.

    `authority_allows` answers whether the local waste authority allows treatment at home: without a yes nothing is
    told. `powder` is bicarbonate, soda or lime; never solid lye, which heats by 50 K where these foam. Raises
    RefusedError without a yes or for lye, ValueError for what cannot be.
    """
    if authority_allows is not True:
        told = say("ask_authority_first")
        raise RefusedError(told)
    if powder in ("lye", "caustic", "NaOH", "KOH"):
        raise RefusedError(say("lye_in_acid"))
    one_of("powder", powder, tuple(POWDERS))
    above("volume_l", volume_l, 0, LARGEST_NEUTRALISED_L)
    formula = POWDERS[powder]
    amounts = {
        ("acid", "HCl"): volume_l * between("acid_mol_per_l", acid_mol_per_l, 0, MOST_ACID_MOL_L),
        ("copper", "CuCl2"): volume_l
        * between("copper_g_per_l", copper_g_per_l, 0, MOST_COPPER_G_L)
        / MOLAR_MASS_G_MOL["Cu"],
        ("iron", "FeCl3"): volume_l * between("iron_chloride_mol_per_l", iron_chloride_mol_per_l, 0, MOST_IRON_MOL_L),
    }
    powder_mol = gas_mol = 0.0
    for (what, chloride), moles in amounts.items():
        reaction = REACTIONS[f"{what} with {powder}"]
        powder_mol += moles * reaction.moles(formula, chloride)
        if "CO2" in reaction.comes_out:
            gas_mol += moles * reaction.moles("CO2", chloride)
    grams, litres = powder_mol * MOLAR_MASS_G_MOL[formula], gas_l(gas_mol)
    vessel = volume_l / LARGEST_SHARE_OF_VESSEL
    words = say(
        "neutralising",
        grams=grams,
        powder=NAMES[powder],
        litres=litres,
        how=_HOW[powder],
        vessel=vessel,
        waste=WASTE_WORDS,
    )
    return Neutralising(grams, litres, vessel, words)
