"""Baths of one substance, mixed to a volume: developer, stripper, iron, persulfate. Masses decide, at 20 °C.

What goes in weighs what comes out; volumes follow from densities. Spoons and cups are no unit.
"""

from dataclasses import dataclass

from sumlight.craft.checks import above, between, one_of
from sumlight.craft.chemistry.hazards import CAUTIONS
from sumlight.craft.chemistry.powder import STRIP_RULES
from sumlight.craft.chemistry.solutions import WATER_G_CM3, density_g_cm3, strongest_wt_percent
from sumlight.craft.chemistry.substances import NAMES
from sumlight.text.message import Message, say

SMALLEST_L, LARGEST_L = 0.02, 200.0


@dataclass(frozen=True)
class BathRecipe:
    """How a bath is mixed: what of, how strong it may be, at which temperature it works, and who says so."""

    solute: str
    usual_wt_percent: float
    low_wt_percent: float
    high_wt_percent: float
    work_c: tuple[float, float]
    source: str


PERSULFATE_G_PER_L = (50.0, 400.0)
USUAL_PERSULFATE_G_PER_L = 250.0

RECIPES = {
    "developer": BathRecipe(
        *("Na2CO3", 0.85, 0.3, 3.0, (26.0, 33.0)),
        "0.80 to 0.90 wt% dry soda, 26 °C in a bubbled tank, 31 ± 2 °C sprayed: data sheet of a film (trade notes E1)",
    ),
    "developer-potash": BathRecipe(
        *("K2CO3", 1.1, 0.4, 4.0, (26.0, 33.0)), "as many moles as soda of 0.85 wt%; common practice, no source"
    ),
    "stripper": BathRecipe(
        *("NaOH", 3.0, 0.5, 5.0, (15.0, 30.0)),
        "1.5 to 3 wt% at room temperature: data sheet of a film (trade notes E1)",
    ),
    "iron": BathRecipe(
        *("FeCl3", 36.0, 10.0, 45.0, (35.0, 50.0)), "38 to 42 °Bé, usually 45 °C (craft reference S10, D14)"
    ),
}


@dataclass(frozen=True)
class Portion:
    """One thing that goes in. `density_g_cm3` is None for a powder: it is weighed."""

    name: Message
    mass_g: float
    density_g_cm3: float | None

    @property
    def volume_ml(self) -> float:
        """Of a liquid. Raises ValueError for a powder."""
        if self.density_g_cm3 is None:
            raise ValueError(say("weighed_not_poured", name=self.name))
        return self.mass_g / self.density_g_cm3


@dataclass(frozen=True)
class Mix:
    """A bath to be mixed: `portions` in the order in which they go in, `steps` the same in words.

    Mass and density are None where no table of densities is at hand. `echo` says back how the strength was understood.
    `work_c` is where the bath works, in °C.
    """

    bath: str
    volume_l: float
    mass_g: float | None
    density_g_cm3: float | None
    wt_percent: dict[str, float]
    portions: tuple[Portion, ...]
    echo: Message
    steps: tuple[Message, ...]
    cautions: tuple[Message, ...]
    work_c: tuple[float, float]


def mix_powder(bath: str, volume_l: float, wt_percent: float | None = None, *, dry_share: float = 1.0) -> Mix:
    """Mix a bath of `RECIPES` from powder; `dry_share` is what a gram counts for, from `powder`.

    Raises ValueError for a bath without recipe, a volume outside 0.02 to 200 L, a strength the bath never has, or a
    powder that counts for less than 0.3.
    """
    recipe = _recipe(bath)
    wt = _wanted(recipe, wt_percent)
    above("dry_share", dry_share, 0.3, 1.0, say("hint_which_powder"))
    mass = _mass_g(recipe, volume_l, wt)
    dry = mass * wt / 100
    powder = dry / dry_share
    water = mass - powder
    name = NAMES[recipe.solute]
    if dry_share <= 0.995:
        name = say("powder_as_it_is", name=name, percent=100 * dry_share)
    portions = (_water(water), Portion(name, powder, None))
    millilitres = portions[0].volume_ml
    steps = (
        say("put_cold_water", grams=water, ml=millilitres)
        if recipe.solute in ("NaOH", "KOH")
        else say("put_warm_water", grams=water, ml=millilitres),
        say(
            "stir_in_little",
            grams=powder,
            name=name,
        ),
    )
    return _mix(bath, volume_l, mass, wt, portions, steps)


def mix_stock(bath: str, volume_l: float, stock_wt_percent: float, wt_percent: float | None = None) -> Mix:
    """Thin stock of a stated strength to a bath of `RECIPES`; what the stock brings in is taken off the water.

    Raises ValueError as `mix_powder` does, and for stock that nobody sells or that is weaker than the bath.
    """
    recipe = _recipe(bath)
    wt = _wanted(recipe, wt_percent)
    most = strongest_wt_percent(recipe.solute)
    hint = say(
        "hint_stock",
        name=NAMES[recipe.solute],
        most=most,
    )
    between("stock_wt_percent", stock_wt_percent, wt, most, hint)
    mass = _mass_g(recipe, volume_l, wt)
    stock = mass * wt / stock_wt_percent
    water = mass - stock
    name = say("stock_of_strength", name=NAMES[recipe.solute], wt=stock_wt_percent)
    poured = Portion(name, stock, density_g_cm3(recipe.solute, stock_wt_percent))
    pour = say("pour_in", grams=stock, ml=poured.volume_ml, name=name)
    if water < mass * 1e-6:
        return _mix(bath, volume_l, mass, wt, (poured,), (pour,))
    fill = say("put_water", grams=water, ml=water / WATER_G_CM3)
    return _mix(bath, volume_l, mass, wt, (_water(water), poured), (fill, pour))


def mix_persulfate(volume_l: float, g_per_l: float = USUAL_PERSULFATE_G_PER_L) -> Mix:
    """Mix sodium persulfate by grams in a litre of finished bath: no density is needed, fill up to the mark.

    250 g/L is common practice, no source. Raises ValueError for a volume outside 0.02 to 200 L or a strength outside
    50 to 400 g/L.
    """
    volume = between("volume_l", volume_l, SMALLEST_L, LARGEST_L)
    grams = volume * between("g_per_l", g_per_l, *PERSULFATE_G_PER_L, say("hint_persulfate"))
    name = NAMES["Na2S2O8"]
    steps = (
        say("put_warm_water_ml", ml=700 * volume),
        say("stir_in_clear", grams=grams, name=name),
        say("fill_up", litres=volume),
        say("works_at_persulfate", low=40, high=50),
    )
    echo = say(
        "mix_echo_per_litre",
        grams=grams,
        name=name,
        litres=volume,
        g_per_l=g_per_l,
    )
    return Mix(
        bath="persulfate",
        volume_l=volume,
        mass_g=None,
        density_g_cm3=None,
        wt_percent={},
        portions=(Portion(name, grams, None),),
        echo=echo,
        steps=steps,
        cautions=CAUTIONS["persulfate"],
        work_c=(40.0, 50.0),
    )


def _recipe(bath: str) -> BathRecipe:
    return RECIPES[one_of("bath", bath, tuple(RECIPES))]


def _wanted(recipe: BathRecipe, wt_percent: float | None) -> float:
    wt = recipe.usual_wt_percent if wt_percent is None else wt_percent
    hint = say("hint_usual_strength", usual=recipe.usual_wt_percent)
    return between("wt_percent", wt, recipe.low_wt_percent, recipe.high_wt_percent, hint)


def _mass_g(recipe: BathRecipe, volume_l: float, wt_percent: float) -> float:
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, say("hint_vessel_holds"))
    return volume_l * 1000 * density_g_cm3(recipe.solute, wt_percent)


def _water(mass_g: float) -> Portion:
    return Portion(say("water"), mass_g, WATER_G_CM3)


def _mix(
    bath: str,
    volume_l: float,
    mass_g: float,
    wt_percent: float,
    portions: tuple[Portion, ...],
    steps: tuple[Message, ...],
) -> Mix:
    recipe = RECIPES[bath]
    dry = mass_g * wt_percent / 100
    low, high = recipe.work_c
    works = say("works_at", low=low, high=high)
    last = (works, STRIP_RULES) if bath.startswith("developer") else (works,)
    echo = say(
        "mix_echo",
        dry=dry,
        name=NAMES[recipe.solute],
        mass=mass_g,
        wt=wt_percent,
    )
    return Mix(
        bath=bath,
        volume_l=volume_l,
        mass_g=mass_g,
        density_g_cm3=mass_g / (1000 * volume_l),
        wt_percent={recipe.solute: wt_percent},
        portions=portions,
        echo=echo,
        steps=(*steps, *last),
        cautions=CAUTIONS[bath.partition("-")[0]],
        work_c=recipe.work_c,
    )
