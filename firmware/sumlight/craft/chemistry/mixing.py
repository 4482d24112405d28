"""Baths of one substance, mixed to a volume: developer, stripper, iron, persulfate. Masses decide, at 20 °C.

What goes in weighs what comes out; volumes follow from densities. Spoons and cups are no unit.
"""

from dataclasses import dataclass

from sumlight.craft.bounds import above, between, one_of
from sumlight.craft.chemistry.hazards import CAUTIONS
from sumlight.craft.chemistry.powder import STRIP_RULES
from sumlight.craft.chemistry.solutions import WATER_G_CM3, density_g_cm3, strongest_wt_percent
from sumlight.craft.chemistry.substances import NAMES
from sumlight.craft.saying import Said, say

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

    name: Said
    mass_g: float
    density_g_cm3: float | None

    @property
    def volume_ml(self) -> float:
        """Of a liquid. Raises ValueError for a powder."""
        if self.density_g_cm3 is None:
            raise ValueError(f"{self.name} is weighed, not poured")
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
    echo: Said
    steps: tuple[Said, ...]
    cautions: tuple[Said, ...]
    work_c: tuple[float, float]


def mix_powder(bath: str, volume_l: float, wt_percent: float | None = None, *, dry_share: float = 1.0) -> Mix:
    """Mix a bath of `RECIPES` from powder; `dry_share` is what a gram counts for, from `powder`.

    Raises ValueError for a bath without recipe, a volume outside 0.02 to 200 L, a strength the bath never has, or a
    powder that counts for less than 0.3.
    """
    recipe = _recipe(bath)
    wt = _wanted(recipe, wt_percent)
    above("dry_share", dry_share, 0.3, 1.0, say("ask which powder it is, or do the oven check"))
    mass = _mass_g(recipe, volume_l, wt)
    dry = mass * wt / 100
    powder = dry / dry_share
    water = mass - powder
    name = NAMES[recipe.solute]
    if dry_share <= 0.995:
        name = say("{name}, as it is: {percent} % of it is dry", name=name, percent=f"{100 * dry_share:.0f}")
    portions = (_water(water), Portion(name, powder, None))
    amounts = {"grams": f"{water:.0f}", "ml": f"{portions[0].volume_ml:.0f}"}
    steps = (
        say("Put {grams} g ({ml} mL) of cold water into a plastic vessel: it will heat up.", **amounts)
        if recipe.solute in ("NaOH", "KOH")
        else say("Put {grams} g ({ml} mL) of warm water into a plastic vessel.", **amounts),
        say(
            "Stir in {grams} g of {name}, a little at a time. Never pour water onto it.",
            grams=f"{powder:.3g}",
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
        "it must be at least as strong as the bath, and no {name} is sold above {most} wt%",
        name=NAMES[recipe.solute],
        most=f"{most:g}",
    )
    between("stock_wt_percent", stock_wt_percent, wt, most, hint)
    mass = _mass_g(recipe, volume_l, wt)
    stock = mass * wt / stock_wt_percent
    water = mass - stock
    name = say("{name} of {wt} wt%", name=NAMES[recipe.solute], wt=f"{stock_wt_percent:.3g}")
    poured = Portion(name, stock, density_g_cm3(recipe.solute, stock_wt_percent))
    amounts = {"grams": f"{stock:.0f}", "ml": f"{poured.volume_ml:.0f}", "name": name}
    pour = say("Pour in {grams} g ({ml} mL) of {name}, slowly, stirring.", **amounts)
    if water < mass * 1e-6:
        return _mix(bath, volume_l, mass, wt, (poured,), (pour,))
    amounts = {"grams": f"{water:.0f}", "ml": f"{water / WATER_G_CM3:.0f}"}
    fill = say("Put {grams} g ({ml} mL) of water into a plastic vessel.", **amounts)
    return _mix(bath, volume_l, mass, wt, (_water(water), poured), (fill, pour))


def mix_persulfate(volume_l: float, g_per_l: float = 250.0) -> Mix:
    """Mix sodium persulfate by grams in a litre of finished bath: no density is needed, fill up to the mark.

    250 g/L is common practice, no source. Raises ValueError for a volume outside 0.02 to 200 L or a strength outside
    50 to 400 g/L.
    """
    volume = between("volume_l", volume_l, SMALLEST_L, LARGEST_L)
    grams = volume * between("g_per_l", g_per_l, 50, 400, say("250 is usual; more does not dissolve well when cold"))
    name = NAMES["Na2S2O8"]
    litres = f"{volume:.4g}"
    steps = (
        say("Put {ml} mL of warm water into a plastic vessel.", ml=f"{700 * volume:.0f}"),
        say("Stir in {grams} g of {name} until it is clear.", grams=f"{grams:.3g}", name=name),
        say("Fill up with water to {litres} L.", litres=litres),
        say("Works at {low} to {high} °C; above 60 °C it falls apart by itself.", low="40", high="50"),
    )
    echo = say(
        "{grams} g of {name} in {litres} L of finished bath ({g_per_l} g in a litre)",
        grams=f"{grams:.3g}",
        name=name,
        litres=litres,
        g_per_l=f"{g_per_l:g}",
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
    usual = f"{recipe.usual_wt_percent:g}"
    hint = say("usual is {usual}, counted as dry substance in the finished solution", usual=usual)
    return between("wt_percent", wt, recipe.low_wt_percent, recipe.high_wt_percent, hint)


def _mass_g(recipe: BathRecipe, volume_l: float, wt_percent: float) -> float:
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, say("mix what the tray or tank holds"))
    return volume_l * 1000 * density_g_cm3(recipe.solute, wt_percent)


def _water(mass_g: float) -> Portion:
    return Portion(say("water"), mass_g, WATER_G_CM3)


def _mix(
    bath: str,
    volume_l: float,
    mass_g: float,
    wt_percent: float,
    portions: tuple[Portion, ...],
    steps: tuple[Said, ...],
) -> Mix:
    recipe = RECIPES[bath]
    dry = mass_g * wt_percent / 100
    low, high = (f"{celsius:g}" for celsius in recipe.work_c)
    works = say("Works at {low} to {high} °C.", low=low, high=high)
    last = (works, STRIP_RULES) if bath.startswith("developer") else (works,)
    echo = say(
        "{dry} g of dry {name} in {mass} g of finished solution ({wt} wt%)",
        dry=f"{dry:.3g}",
        name=NAMES[recipe.solute],
        mass=f"{mass_g:.4g}",
        wt=f"{wt_percent:.3g}",
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
