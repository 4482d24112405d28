"""What the baths are made of, and the reactions that happen in them.

Molar masses in g/mol from IUPAC's standard atomic weights; reactions in whole moles, written with neutral formulas.
Where a reaction was read, its source stands beside it; the rest is textbook stoichiometry.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from sumlight.text.message import say

MOLAR_MASS_G_MOL = {
    "H2O": 18.0153,
    "O2": 31.9988,
    "CO2": 44.0095,
    "Na2CO3": 105.9884,
    "Na2CO3(H2O)": 124.0037,
    "Na2CO3(H2O)10": 286.1412,
    "NaHCO3": 84.0066,
    "K2CO3": 138.2055,
    "NaOH": 39.9971,
    "KOH": 56.1056,
    "HCl": 36.4609,
    "H2O2": 34.0147,
    "FeCl3": 162.204,
    "FeCl3(H2O)6": 270.2957,
    "FeCl2": 126.751,
    "CuCl2": 134.452,
    "ZnCl2": 136.286,
    "NaCl": 58.4428,
    "Na2S2O8": 238.105,
    "Na2SO4": 142.042,
    "NaHSO4": 120.06,
    "CuSO4": 159.609,
    "Ca(OH)2": 74.0927,
    "CaCl2": 110.984,
    "Cu(OH)2": 97.5607,
    "Cu2CO3(OH)2": 221.1156,
    "Fe(OH)3": 106.867,
    "Cu": 63.546,
    "Zn": 65.38,
    "Fe": 55.845,
}

NAMES = {
    "Na2CO3": say("sodium_carbonate"),
    "K2CO3": say("potassium_carbonate"),
    "NaOH": say("caustic_soda"),
    "KOH": say("caustic_potash"),
    "HCl": say("hydrochloric_acid"),
    "H2O2": say("hydrogen_peroxide"),
    "FeCl3": say("iron_iii_chloride"),
    "CuCl2": say("copper_ii_chloride"),
    "Na2S2O8": say("sodium_persulfate"),
}


@dataclass(frozen=True)
class Reaction:
    """Moles of what goes in and what comes out, by formula."""

    goes_in: Mapping[str, int]
    comes_out: Mapping[str, int]

    def moles(self, of: str, per_mole_of: str) -> float:
        """Moles of one substance that go with a mole of another. Raises KeyError for one that takes no part."""
        counts = {**self.goes_in, **self.comes_out}
        return counts[of] / counts[per_mole_of]


REACTIONS = {
    # Iron(III) chloride on copper: weblog on the chemistry of home-etched boards, 2009-01-25 (craft reference S11).
    "iron on copper": Reaction({"FeCl3": 2, "Cu": 1}, {"FeCl2": 2, "CuCl2": 1}),
    "iron on zinc": Reaction({"FeCl3": 2, "Zn": 1}, {"FeCl2": 2, "ZnCl2": 1}),
    "iron on steel": Reaction({"FeCl3": 2, "Fe": 1}, {"FeCl2": 3}),
    # Peroxide and acid on copper: sxlist.com, calculation of copper chloride etchant (reference values 57).
    "peroxide on copper": Reaction({"Cu": 1, "H2O2": 1, "HCl": 2}, {"CuCl2": 1, "H2O": 2}),
    "peroxide on zinc": Reaction({"Zn": 1, "H2O2": 1, "HCl": 2}, {"ZnCl2": 1, "H2O": 2}),
    "persulfate on copper": Reaction({"Cu": 1, "Na2S2O8": 1}, {"CuSO4": 1, "Na2SO4": 1}),
    "peroxide falls apart": Reaction({"H2O2": 2}, {"H2O": 2, "O2": 1}),
    "persulfate falls apart": Reaction({"Na2S2O8": 2, "H2O": 2}, {"NaHSO4": 4, "O2": 1}),
    "acid with bicarbonate": Reaction({"HCl": 1, "NaHCO3": 1}, {"NaCl": 1, "H2O": 1, "CO2": 1}),
    "acid with soda": Reaction({"HCl": 2, "Na2CO3": 1}, {"NaCl": 2, "H2O": 1, "CO2": 1}),
    "acid with lime": Reaction({"HCl": 2, "Ca(OH)2": 1}, {"CaCl2": 1, "H2O": 2}),
    "iron with bicarbonate": Reaction({"FeCl3": 1, "NaHCO3": 3}, {"Fe(OH)3": 1, "NaCl": 3, "CO2": 3}),
    "iron with soda": Reaction({"FeCl3": 2, "Na2CO3": 3, "H2O": 3}, {"Fe(OH)3": 2, "NaCl": 6, "CO2": 3}),
    "iron with lime": Reaction({"FeCl3": 2, "Ca(OH)2": 3}, {"Fe(OH)3": 2, "CaCl2": 3}),
    "copper with bicarbonate": Reaction({"CuCl2": 2, "NaHCO3": 4}, {"Cu2CO3(OH)2": 1, "NaCl": 4, "CO2": 3, "H2O": 1}),
    "copper with soda": Reaction({"CuCl2": 2, "Na2CO3": 2, "H2O": 1}, {"Cu2CO3(OH)2": 1, "NaCl": 4, "CO2": 1}),
    "copper with lime": Reaction({"CuCl2": 1, "Ca(OH)2": 1}, {"Cu(OH)2": 1, "CaCl2": 1}),
    "crystals in the oven": Reaction({"Na2CO3(H2O)10": 1}, {"Na2CO3": 1, "H2O": 10}),
    "monohydrate in the oven": Reaction({"Na2CO3(H2O)": 1}, {"Na2CO3": 1, "H2O": 1}),
    "bicarbonate in the oven": Reaction({"NaHCO3": 2}, {"Na2CO3": 1, "H2O": 1, "CO2": 1}),
}


def grams_out(reaction: str, of: str, per_gram_of: str) -> float:
    """Grams of one substance of a reaction that go with a gram of another."""
    moles = REACTIONS[reaction].moles(of, per_gram_of)
    return moles * MOLAR_MASS_G_MOL[of] / MOLAR_MASS_G_MOL[per_gram_of]
