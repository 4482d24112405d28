"""How much a bath can take: metal for an etchant by stoichiometry, film for a developer, and when it is worn out.

Share used is grams of metal over what the oxidant at its mixed strength can dissolve. Published usable shares run from
0.45 to 0.95 of that and differ by a factor of two (trade notes D2, D13, D14), so the bath's own times decide.
"""

from dataclasses import dataclass

from sumlight.craft.checks import above, between, one_of
from sumlight.craft.chemistry.solutions import strength
from sumlight.craft.chemistry.substances import MOLAR_MASS_G_MOL, REACTIONS
from sumlight.text.message import say

USABLE_SHARE = 0.5
"""Until a bath's own times say more: fresh time doubled, for a bath whose rate falls as its share rises."""
CHART_UM_M2_PER_L = 9.5
"""Developer: 2.7 ft² of film in a litre of 9.2 g/L soda by a chart of the trade (D2), taken to be 38 µm film."""


@dataclass(frozen=True)
class Metal:
    """A sheet metal: density, and the share of mass that is each element."""

    density_g_cm3: float
    shares: dict[str, float]


METALS = {
    "copper": Metal(8.96, {"Cu": 1.0}),
    "brass": Metal(8.5, {"Cu": 0.63, "Zn": 0.37}),
    "steel": Metal(7.85, {"Fe": 1.0}),
}
"""Metals whose take-up is plain stoichiometry; others are learned from the bath's own times."""
_NAMES = {"Cu": "copper", "Zn": "zinc", "Fe": "steel"}


def capacity_iron_g_per_l(wt_percent: float, metal: str = "copper") -> float:
    """Grams of metal that a litre of ferric chloride dissolves, to copper(II). Raises ValueError outside the table."""
    per_l = strength("FeCl3", wt_percent).mol_per_l
    return _capacity("iron", "FeCl3", per_l, metal)


def capacity_peroxide_g_per_l(
    peroxide_wt_percent: float, acid_wt_percent: float, density_g_cm3: float, metal: str = "copper"
) -> float:
    """Grams of metal that a litre of peroxide bath can dissolve: whichever of peroxide and acid ends first.

    Raises ValueError for what cannot be.
    """
    grams = 10 * between("density_g_cm3", density_g_cm3, 0.99, 1.6)
    peroxide = grams * between("peroxide_wt_percent", peroxide_wt_percent, 0, 100) / MOLAR_MASS_G_MOL["H2O2"]
    acid = grams * between("acid_wt_percent", acid_wt_percent, 0, 100) / MOLAR_MASS_G_MOL["HCl"]
    return min(_capacity("peroxide", "H2O2", peroxide, metal), _capacity("peroxide", "HCl", acid, metal))


def capacity_persulfate_g_per_l(g_per_l: float) -> float:
    """Grams of copper that a litre of persulfate can dissolve. Raises ValueError outside 0 to 600 g/L."""
    moles = between("g_per_l", g_per_l, 0, 600) / MOLAR_MASS_G_MOL["Na2S2O8"]
    return _capacity("persulfate", "Na2S2O8", moles, "copper")


def metal_g(open_cm2: float, depth_um: float, density_g_cm3: float) -> float:
    """Grams etched away: the opening as etched (it grows by the undercut), not as drawn. Raises ValueError."""
    between("open_cm2", open_cm2, 0, 1e6)
    between("depth_um", depth_um, 0, 5000)
    return open_cm2 * depth_um * 1e-4 * above("density_g_cm3", density_g_cm3, 0, 25)


def load_share(dissolved_g: float, volume_l: float, capacity_g_per_l: float) -> float:
    """Share of the stoichiometric capacity that is used. Raises ValueError for what cannot be."""
    between("dissolved_g", dissolved_g, 0, 1e6)
    return dissolved_g / (above("volume_l", volume_l, 0, 200) * above("capacity_g_per_l", capacity_g_per_l, 0, 1000))


def worn_out_share(panel_share: float) -> float:
    """The share at which a panel takes twice its time in the fresh bath, when it uses `panel_share` by itself.

    From the law of `etching.times`, rate falling in proportion: (1 - x)/(2 - x), so 0.5 for a small panel.
    Raises ValueError outside 0 to below 1.
    """
    x = between("panel_share", panel_share, 0, 0.999)
    return (1 - x) / (2 - x)


def developer_load(film_dm2: float, film_um: float, volume_l: float) -> float:
    """Share of the practical capacity of a developer: film washed out, area times thickness.

    Capacity by a chart whose film thickness is not stated; it is a first word, and the time to clear has the last.
    Raises ValueError for what cannot be.
    """
    between("film_dm2", film_dm2, 0, 1e5)
    above("film_um", film_um, 0, 500, say("hint_film_um"))
    return film_um * film_dm2 / 100 / above("volume_l", volume_l, 0, 200) / CHART_UM_M2_PER_L


def _capacity(bath: str, oxidant: str, moles_per_l: float, metal: str) -> float:
    one_of("metal", metal, tuple(METALS))
    moles_per_gram = 0.0
    for element, share in METALS[metal].shares.items():
        name = f"{bath} on {_NAMES[element]}"
        if name not in REACTIONS:
            raise ValueError(say("metal_unknown_in_bath", metal=metal, bath=bath))
        moles_per_gram += share / MOLAR_MASS_G_MOL[element] * REACTIONS[name].moles(oxidant, element)
    return moles_per_l / moles_per_gram
