"""The peroxide bath: hydrogen peroxide and hydrochloric acid on copper. The one that can hurt: limits are not warnings.

Volumes are taken as additive (common practice; the error is a few parts in a thousand). 20 °C.
"""

from dataclasses import dataclass

from sumlight.craft.checks import RefusedError, above, between
from sumlight.craft.chemistry.hazards import CAUTIONS, check_peroxide_bath, check_peroxide_stock
from sumlight.craft.chemistry.mixing import LARGEST_L, SMALLEST_L, Mix, Portion
from sumlight.craft.chemistry.solutions import WATER_G_CM3, density_g_cm3
from sumlight.craft.chemistry.substances import MOLAR_MASS_G_MOL, NAMES
from sumlight.text.message import Message, say

WEAKEST_ACID_WT_PERCENT, STRONGEST_ACID_WT_PERCENT = 1.0, 37.0
USUAL_PEROXIDE_WT_PERCENT = 1.8
USUAL_ACID_WT_PERCENT = 11.0
"""About what two volumes of 3 % peroxide and one of 31 % acid give; common practice, no source."""
BATH_G_CM3 = 1.06
"""What these volumes weigh together."""
WORK_C = (18.0, 30.0)

COPPER_KJ_MOL = 315.6
DECAY_KJ_MOL = 94.7
"""Heat given off per mole of copper dissolved and of peroxide that falls apart: CODATA key values, 298 K."""
SOLUTION_J_G_K = 3.9
WARN_RISE_K = 10.0
LARGEST_RISE_K = 25.0
"""From where a batch is told of, and from where it is refused (common practice, no source)."""


@dataclass(frozen=True)
class Heat:
    """How much warmer the bath would get with no heat lost: by copper dissolved, by the peroxide left, by both."""

    copper_k: float
    decay_k: float
    rise_k: float
    sentence: Message


def mix_peroxide(
    volume_l: float,
    peroxide_stock_wt_percent: float,
    acid_stock_wt_percent: float,
    *,
    peroxide_wt_percent: float = USUAL_PEROXIDE_WT_PERCENT,
    acid_wt_percent: float = USUAL_ACID_WT_PERCENT,
) -> Mix:
    """Mix to a volume: water first, then peroxide, acid last and slowly, in the open tray.

    `peroxide_wt_percent` and `acid_wt_percent` are those of the finished bath. Raises RefusedError for peroxide stock
    above 12 wt% or a bath above 2.5 wt% peroxide or 12 wt% acid, ValueError for what cannot be mixed.
    """
    check_peroxide_stock(peroxide_stock_wt_percent)
    _check_acid_stock(acid_stock_wt_percent)
    check_peroxide_bath(peroxide_wt_percent, acid_wt_percent)
    above("peroxide_wt_percent", peroxide_wt_percent, 0, 100)
    above("acid_wt_percent", acid_wt_percent, 0, 100)
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, say("hint_tray_holds"))
    peroxide = peroxide_wt_percent / peroxide_stock_wt_percent
    acid = acid_wt_percent / acid_stock_wt_percent
    water = 1 - peroxide - acid
    if water < -1e-9:
        told = say(
            "peroxide_cannot_reach",
            peroxide_stock=peroxide_stock_wt_percent,
            acid_stock=acid_stock_wt_percent,
            peroxide=peroxide_wt_percent,
            acid=acid_wt_percent,
        )
        raise ValueError(told)
    per_gram_ml = (
        max(water, 0.0) / WATER_G_CM3
        + peroxide / density_g_cm3("H2O2", peroxide_stock_wt_percent)
        + acid / density_g_cm3("HCl", acid_stock_wt_percent)
    )
    mass = 1000 * volume_l / per_gram_ml
    stocks = (peroxide_stock_wt_percent, acid_stock_wt_percent)
    return _mix(volume_l, mass * max(water, 0.0), mass * peroxide, mass * acid, stocks)


def mix_peroxide_parts(
    volume_l: float,
    peroxide_parts: float,
    peroxide_stock_wt_percent: float,
    acid_parts: float,
    acid_stock_wt_percent: float,
    water_parts: float = 0.0,
) -> Mix:
    """Mix by a ratio of volumes of stated strengths, '2 volumes of 3 wt% to 1 of 31 wt%'. Raises as `mix_peroxide`."""
    check_peroxide_stock(peroxide_stock_wt_percent)
    _check_acid_stock(acid_stock_wt_percent)
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, say("hint_tray_holds"))
    parts = (
        between("water_parts", water_parts, 0, 1000),
        above("peroxide_parts", peroxide_parts, 0, 1000),
        above("acid_parts", acid_parts, 0, 1000),
    )
    stocks = (peroxide_stock_wt_percent, acid_stock_wt_percent)
    millilitres = [1000 * volume_l * part / sum(parts) for part in parts]
    densities = (WATER_G_CM3, density_g_cm3("H2O2", stocks[0]), density_g_cm3("HCl", stocks[1]))
    water, peroxide, acid = (ml * density for ml, density in zip(millilitres, densities, strict=True))
    mass = water + peroxide + acid
    check_peroxide_bath(peroxide * stocks[0] / mass, acid * stocks[1] / mass)
    return _mix(volume_l, water, peroxide, acid, stocks)


def heat(
    volume_l: float,
    copper_g: float,
    peroxide_wt_percent: float,
    *,
    density_g_cm3: float = BATH_G_CM3,
) -> Heat:
    """Predict the rise when `copper_g` dissolves and every bit of peroxide that is left then falls apart, none lost.

    rise = heat / (mass · 3.9 J/g K). Raises ValueError for numbers that cannot be, and RefusedError above 25 K.
    """
    above("volume_l", volume_l, 0, LARGEST_L)
    between("copper_g", copper_g, 0, 1e5)
    between("peroxide_wt_percent", peroxide_wt_percent, 0, 100)
    mass_g = volume_l * 1000 * between("density_g_cm3", density_g_cm3, 0.99, 1.6)
    peroxide_mol = mass_g * peroxide_wt_percent / 100 / MOLAR_MASS_G_MOL["H2O2"]
    copper_mol = copper_g / MOLAR_MASS_G_MOL["Cu"]
    left_mol = max(0.0, peroxide_mol - copper_mol)
    kelvin_per_kj = 1000 / (mass_g * SOLUTION_J_G_K)
    copper_k = copper_mol * COPPER_KJ_MOL * kelvin_per_kj
    decay_k = left_mol * DECAY_KJ_MOL * kelvin_per_kj
    rise = copper_k + decay_k
    if rise > LARGEST_RISE_K:
        told = say(
            "bath_too_warm",
            grams=copper_g,
            litres=volume_l,
            rise=rise,
            limit=LARGEST_RISE_K,
        )
        raise RefusedError(told)
    return Heat(copper_k, decay_k, rise, _heat_words(rise))


def largest_copper_g(volume_l: float, peroxide_wt_percent: float, *, density_g_cm3: float = BATH_G_CM3) -> float:
    """Grams of copper that warm the bath by 25 K at most. Raises RefusedError if its peroxide alone does."""
    empty = heat(volume_l, 0.0, peroxide_wt_percent, density_g_cm3=density_g_cm3)
    mass_g = volume_l * 1000 * density_g_cm3
    kelvin_per_mol = 1000 / (mass_g * SOLUTION_J_G_K)
    with_peroxide = (LARGEST_RISE_K - empty.rise_k) / ((COPPER_KJ_MOL - DECAY_KJ_MOL) * kelvin_per_mol)
    peroxide_mol = mass_g * peroxide_wt_percent / 100 / MOLAR_MASS_G_MOL["H2O2"]
    return min(with_peroxide, peroxide_mol) * MOLAR_MASS_G_MOL["Cu"]


def _heat_words(rise_k: float) -> Message:
    if rise_k > WARN_RISE_K:
        return say("bath_may_warm_much", rise=rise_k)
    return say("bath_may_warm", rise=rise_k)


def _check_acid_stock(wt_percent: float) -> None:
    hint = say("hint_acid_sold", most=STRONGEST_ACID_WT_PERCENT)
    between("acid_stock_wt_percent", wt_percent, WEAKEST_ACID_WT_PERCENT, STRONGEST_ACID_WT_PERCENT, hint)


def _mix(volume_l: float, water_g: float, peroxide_g: float, acid_g: float, stocks: tuple[float, float]) -> Mix:
    mass = water_g + peroxide_g + acid_g
    portions = [
        Portion(say("water"), water_g, WATER_G_CM3),
        Portion(_bottle("H2O2", stocks[0]), peroxide_g, density_g_cm3("H2O2", stocks[0])),
        Portion(_bottle("HCl", stocks[1]), acid_g, density_g_cm3("HCl", stocks[1])),
    ]
    portions = [portion for portion in portions if portion.mass_g > mass * 1e-6]
    density = mass / (1000 * volume_l)
    wt = {"H2O2": peroxide_g * stocks[0] / mass, "HCl": acid_g * stocks[1] / mass}
    batch_g = largest_copper_g(volume_l, wt["H2O2"], density_g_cm3=density)
    batch = say(
        "largest_batch",
        grams=batch_g,
        limit=LARGEST_RISE_K,
    )
    works = say("works_at_peroxide", low=WORK_C[0], high=WORK_C[1])
    return Mix(
        bath="peroxide",
        volume_l=volume_l,
        mass_g=mass,
        density_g_cm3=density,
        wt_percent=wt,
        portions=tuple(portions),
        echo=_echo(portions, wt),
        steps=(*_steps(portions), batch, works),
        cautions=CAUTIONS["peroxide"],
        work_c=WORK_C,
    )


def _bottle(solute: str, wt_percent: float) -> Message:
    return say("stock_of_strength", name=NAMES[solute], wt=wt_percent)


def _echo(portions: list[Portion], wt: dict[str, float]) -> Message:
    """As volumes of stated strengths, the acid being one."""
    *others, acid = portions
    volumes = say("one_volume", name=acid.name)
    for portion in reversed(others):
        share = portion.volume_ml / acid.volume_ml
        volumes = say("volumes_to", share=share, name=portion.name, rest=volumes)
    return say(
        "mix_echo_volumes",
        volumes=volumes,
        peroxide=wt["H2O2"],
        acid=wt["HCl"],
    )


def _steps(portions: list[Portion]) -> list[Message]:
    """Water, peroxide, acid: whatever there is of them, in this order."""
    first, *between_them, last = portions
    return [
        say("tray_first", ml=first.volume_ml, grams=first.mass_g, name=first.name),
        *(say("tray_next", ml=one.volume_ml, grams=one.mass_g, name=one.name) for one in between_them),
        say("tray_last", ml=last.volume_ml, grams=last.mass_g, name=last.name),
    ]
