"""Solutions in water: density, and the ways in which the trade says how strong one is.

Everything is turned into wt%: grams of the dry substance in 100 g of finished solution. Densities at 20 °C in g/cm³ by
the model of Laliberté and Cooper (J. Chem. Eng. Data 2009, 54, 1725), linear between the rows: error at most 0.001.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sumlight.craft.checks import above, between, number, one_of
from sumlight.craft.chemistry.substances import MOLAR_MASS_G_MOL, NAMES, REACTIONS
from sumlight.text.message import Message, say

WATER_G_CM3 = 0.9982
IDEAL_L_MOL_0C = 22.414
"""Litres of a mole of ideal gas at 0 °C and 1 atm, to which strengths in volumes refer."""
WATER_60F_G_CM3 = 0.9990
"""Water at 60 °F, to which specific gravities of 60 °F/60 °F refer."""

DENSITY_20C_G_CM3: dict[str, tuple[tuple[float, float], ...]] = {
    "HCl": (
        *((1, 1.0031), (3, 1.0128), (5, 1.0226), (10, 1.0473), (15, 1.0723), (20, 1.0975), (25, 1.1229)),
        *((30, 1.1486), (35, 1.1743), (37, 1.1846)),
    ),
    "NaOH": (
        *((1, 1.0092), (3, 1.0312), (5, 1.0532), (10, 1.1085), (15, 1.1638), (20, 1.2187), (25, 1.2728)),
        *((30, 1.3257), (35, 1.3769), (40, 1.4260), (45, 1.4726), (50, 1.5163)),
    ),
    "KOH": (
        *((1, 1.0072), (3, 1.0254), (5, 1.0438), (10, 1.0904), (15, 1.1382), (20, 1.1872), (25, 1.2375)),
        *((30, 1.2892), (35, 1.3424), (40, 1.3972), (45, 1.4538), (50, 1.5123)),
    ),
    "Na2CO3": ((1, 1.0087), (3, 1.0297), (5, 1.0507), (10, 1.1036), (15, 1.1581)),
    "K2CO3": (
        *((1, 1.0070), (3, 1.0248), (5, 1.0427), (10, 1.0883), (15, 1.1354), (20, 1.1848), (25, 1.2368)),
        *((30, 1.2920), (35, 1.3509)),
    ),
    "FeCl3": (
        *((1, 1.0064), (3, 1.0231), (5, 1.0402), (10, 1.0848), (15, 1.1321), (20, 1.1824), (25, 1.2358)),
        *((30, 1.2925), (35, 1.3525), (40, 1.4162), (45, 1.4834), (50, 1.5543)),
    ),
    "CuCl2": (
        *((1, 1.0073), (3, 1.0258), (5, 1.0446), (10, 1.0937), (15, 1.1459), (20, 1.2017), (25, 1.2615)),
        *((30, 1.3262), (35, 1.3964)),
    ),
    "H2O2": (
        *((1, 1.0019), (3, 1.0093), (5, 1.0167), (10, 1.0353), (15, 1.0542), (20, 1.0733), (25, 1.0928)),
        *((30, 1.1126), (35, 1.1328)),
    ),
}
"""Rows of (wt%, g/cm³). Each ends where the model or the trade ends; soda ends below what water takes up at 20 °C."""

BAUME_MODULI = (144.0, 144.3, 145.0, 146.78)
"""In use: old Dutch, continental (from memory), modern US, Gerlach. Two cans of '42 °Bé' differ by 0.5 wt%."""

HEXAHYDRATE_SHARE = MOLAR_MASS_G_MOL["FeCl3"] / MOLAR_MASS_G_MOL["FeCl3(H2O)6"]


@dataclass(frozen=True)
class Strength:
    """How strong a solution is, said in every way: the dry substance in the finished solution, at 20 °C."""

    solute: str
    wt_percent: float
    density_g_cm3: float
    g_per_l: float
    mol_per_l: float

    @property
    def echo(self) -> Message:
        """Say it back before it is used."""
        return say("strength_echo", wt=self.wt_percent, name=NAMES[self.solute])


def strength(solute: str, wt_percent: float) -> Strength:
    """Say wt% in every other way. Raises ValueError outside the table of the solute."""
    density = density_g_cm3(solute, wt_percent)
    grams = wt_percent / 100 * density * 1000
    return Strength(solute, wt_percent, density, grams, grams / MOLAR_MASS_G_MOL[solute])


def strongest_wt_percent(solute: str) -> float:
    """The end of the solute's table in wt%. Raises ValueError for one that has none."""
    return _rows(solute)[-1][0]


def density_g_cm3(solute: str, wt_percent: float) -> float:
    """Density at 20 °C. Raises ValueError for a strength below 0 or beyond the table: the trade sells none."""
    rows = _rows(solute)
    hint = say("hint_not_sold", name=NAMES[solute])
    return _line(rows, between("wt_percent", wt_percent, 0, rows[-1][0], hint))


def wt_percent_of_density(solute: str, density_g_cm3: float) -> float:
    """Strength of a solution of that density at 20 °C; the inverse of `density_g_cm3`. Raises ValueError outside."""
    rows = _rows(solute)
    hint = say("hint_weigh_100_ml")
    density = between("density_g_cm3", density_g_cm3, WATER_G_CM3, rows[-1][1], hint)
    return _line([(y, x) for x, y in rows], density)


def wt_percent_of_g_per_l(solute: str, g_per_l: float) -> float:
    """Strength of a litre of finished solution that holds so many grams of dry substance. Raises ValueError."""
    most = strongest_wt_percent(solute)
    hint = say("hint_litre_holds", name=NAMES[solute])
    between("g_per_l", g_per_l, 0, strength(solute, most).g_per_l, hint)
    return _solved(lambda wt: strength(solute, wt).g_per_l, g_per_l, most)


def wt_percent_of_parts(parts_dry: float, parts_other: float, *, other_is: str) -> float:
    """Turn a ratio by mass, '1 : 115', into wt%.

    `other_is` says what the second number counts, for sheets differ: `water` that is added (1 : 115 gives 0.862 wt%)
    or the `whole` finished solution (0.870 wt%). Raises ValueError for ratios that cannot be.
    `parts_dry` and `parts_other` are masses in one unit.
    """
    above("parts_dry", parts_dry, 0, 1e6)
    above("parts_other", parts_other, 0, 1e9)
    one_of("other_is", other_is, ("water", "whole"))
    whole = parts_other + (parts_dry if other_is == "water" else 0)
    if parts_dry > whole:
        raise ValueError(say("more_dry_than_whole", whole=whole, dry=parts_dry))
    return 100 * parts_dry / whole


def wt_percent_of_oxygen_volumes(volumes: float) -> float:
    """Strength of hydrogen peroxide sold as '10 vol': litres of oxygen (0 °C, 1 atm) from one litre of it.

    3 % is 10 vol, 12 % is 41 vol (ideal gas law; the trade rounds). Raises ValueError for what is not sold.
    """
    most = strongest_wt_percent("H2O2")
    between("volumes", volumes, 0, _volumes(most), say("hint_read_label"))
    return _solved(_volumes, volumes, most)


def wt_percent_of_volume_parts(solute: str, stock_wt_percent: float, stock_parts: float, water_parts: float) -> float:
    """Strength of so many volumes of stock of a stated strength in so many of water. Raises ValueError."""
    stock = above("stock_parts", stock_parts, 0, 1e6) * density_g_cm3(solute, stock_wt_percent)
    water = between("water_parts", water_parts, 0, 1e6) * WATER_G_CM3
    return stock_wt_percent * stock / (stock + water)


def wt_percent_of_hexahydrate(wt_percent_hydrate: float) -> float:
    """Strength in dry iron(III) chloride of a can that counts the hexahydrate ('72 %' is 43 wt%). Raises ValueError.

    `wt_percent_hydrate` is what the can says, in %.
    """
    return HEXAHYDRATE_SHARE * between("wt_percent_hydrate", wt_percent_hydrate, 0, 83, say("hint_read_label"))


def specific_gravity_of_baume(baume: float, modulus: float) -> float:
    """Specific gravity (60 °F/60 °F) of a liquid heavier than water: modulus / (modulus - °Bé).

    US standard scale, modulus 145 (antoine.frostburg.edu, table of the Baumé scale); `modulus` has no default, since
    scales differ. Raises ValueError for a scale that nobody uses or a reading outside 0 to 70.
    """
    return _modulus(modulus) / (modulus - between("baume", baume, 0, 70, say("hint_read_hydrometer")))


def baume_of_specific_gravity(specific_gravity: float, modulus: float) -> float:
    """Degrees Baumé; the inverse of `specific_gravity_of_baume`. Raises ValueError as that does."""
    hint = say("hint_lighter_liquids")
    return _modulus(modulus) * (1 - 1 / between("specific_gravity", specific_gravity, 1, 1.95, hint))


def wt_percent_of_baume(solute: str, baume: float, modulus: float) -> float:
    """Strength by a hydrometer in °Bé; good to about 1 wt%: 60 °F is read in a table of 20 °C. Raises ValueError."""
    return wt_percent_of_density(solute, WATER_60F_G_CM3 * specific_gravity_of_baume(baume, modulus))


def _modulus(modulus: float) -> float:
    if number("modulus", modulus) not in BAUME_MODULI:
        told = say(
            "baume_modulus",
            known=[f"{one:g}" for one in BAUME_MODULI],
            modulus=modulus,
        )
        raise ValueError(told)
    return modulus


def _rows(solute: str) -> tuple[tuple[float, float], ...]:
    one_of("solute", solute, tuple(DENSITY_20C_G_CM3))
    return ((0.0, WATER_G_CM3), *DENSITY_20C_G_CM3[solute])


def _volumes(wt_percent: float) -> float:
    oxygen_moles = REACTIONS["peroxide falls apart"].moles("O2", "H2O2")
    return strength("H2O2", wt_percent).mol_per_l * oxygen_moles * IDEAL_L_MOL_0C


def _line(rows: Sequence[tuple[float, float]], x: float) -> float:
    """On the straight between two rows; x lies within them."""
    for (x0, y0), (x1, y1) in pairwise(rows):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return rows[-1][1]


def _solved(rising: Callable[[float], float], value: float, most: float) -> float:
    """Where a rising function of wt% takes a value: halving, to the last digit."""
    low, high = 0.0, most
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < value else (low, middle)
    return (low + high) / 2
