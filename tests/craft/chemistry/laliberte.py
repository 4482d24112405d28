"""A judge of densities that shares nothing with the tables: the Laliberté–Cooper model with its published parameters.

M. Laliberté, J. Chem. Eng. Data 2009, 54, 1725 (doi 10.1021/je8008123), parameters as the thermo library carries them.
"""

from math import exp

PARAMETERS = {
    "HCl": (0.000283872260482906, 0.00394946957169882, 2.85020047681807, -0.0157747012568046, -3766.20868665006),
    "NaOH": (319.020509469838, 528.592358475315, -0.102197896602724, 0.000350420706415566, 765.970470238438),
    "KOH": (821.119043254761, 1043.20173374381, 0.112873330222752, 0.00124023636407386, 539.630388368877),
    "Na2CO3": (5.45486543455015e-07, 1.72154929405038e-07, -0.0825850207323492, 0.00168822949783412, 4705.39822185746),
    "K2CO3": (2290.10867876218, 1038.77363895405, 0.109769327294915, 0.000497783340935823, -74.0786862142127),
    "FeCl3": (-14.9299417767922, 63.3168799033122, 1.15885132665007, 0.0104820838890175, 2163.05805284003),
    "CuCl2": (1917.97652624503, 1586.41138951085, 0.158851434053574, 0.00163872645947993, -527.007314154372),
    "H2O2": (1245.67858462509, 1565.31293687729, 0.986168814056093, 0.00271435211005942, 200.77493156052),
}


def water_kg_m3(celsius: float) -> float:
    """Equation of the paper for water."""
    t = celsius
    above = ((((-2.8054253e-10 * t + 1.0556302e-7) * t - 4.6170461e-5) * t - 0.0079870401) * t + 16.945176) * t
    return (above + 999.83952) / (1 + 0.01687985 * t)


def density_g_cm3(solute: str, wt_percent: float, celsius: float = 20.0) -> float:
    """Of one solute in water."""
    c0, c1, c2, c3, c4 = PARAMETERS[solute]
    w = wt_percent / 100
    apparent = (c0 * w + c1) * exp(1e-6 * (celsius + c4) ** 2) / (w + c2 + c3 * celsius)
    return 1 / ((1 - w) / water_kg_m3(celsius) + w / apparent) / 1000
