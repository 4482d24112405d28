"""Baths of one substance, mixed to a volume."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.chemistry.mixing import RECIPES, mix_persulfate, mix_powder, mix_stock
from sumlight.craft.chemistry.solutions import strongest_wt_percent
from tests.craft.chemistry import laliberte

BATHS = st.sampled_from([*RECIPES])
VOLUMES = st.floats(0.02, 200)
SHARE = st.floats(0, 1)


def strength_between(bath: str, share: float) -> float:
    """Within what the bath may have."""
    recipe = RECIPES[bath]
    return recipe.low_wt_percent + share * (recipe.high_wt_percent - recipe.low_wt_percent)


@given(bath=BATHS, volume_l=VOLUMES, share=SHARE, dry=st.floats(0.37, 1))
def test_what_goes_in_from_powder_weighs_what_comes_out(bath: str, volume_l: float, share: float, dry: float) -> None:
    """Mass is kept, the dry substance is what was asked, and the volume is right by a foreign density."""
    wt = strength_between(bath, share)
    if wt / dry > 99:
        return
    mix = mix_powder(bath, volume_l, wt, dry_share=dry)
    assert mix.mass_g is not None
    assert sum(portion.mass_g for portion in mix.portions) == pytest.approx(mix.mass_g)
    assert mix.portions[-1].mass_g * dry == pytest.approx(mix.mass_g * wt / 100)
    assert mix.mass_g / 1000 / laliberte.density_g_cm3(RECIPES[bath].solute, wt) == pytest.approx(volume_l, rel=0.001)
    assert mix.portions[0].name == "water"


@given(bath=BATHS, volume_l=VOLUMES, share=SHARE, stronger=SHARE)
def test_what_goes_in_from_stock_weighs_what_comes_out(
    bath: str, volume_l: float, share: float, stronger: float
) -> None:
    """Mass is kept and no dry substance is lost; water first."""
    wt = strength_between(bath, share)
    stock = wt + stronger * (strongest_wt_percent(RECIPES[bath].solute) - wt)
    mix = mix_stock(bath, volume_l, stock, wt)
    assert mix.mass_g is not None
    assert sum(portion.mass_g for portion in mix.portions) == pytest.approx(mix.mass_g)
    assert mix.portions[-1].mass_g * stock == pytest.approx(mix.mass_g * wt)
    assert all(portion.mass_g > 0 for portion in mix.portions)
    if len(mix.portions) == 2:
        assert mix.portions[0].name == "water"
        poured = sum(portion.volume_ml for portion in mix.portions) / 1000
        assert poured == pytest.approx(volume_l, rel=0.03)  # solutions shrink a little when they are thinned


def test_a_litre_of_developer_from_each_powder() -> None:
    """10.09 g dry, 11.80 g of monohydrate or 27.23 g of crystals for 1 wt% (craft reference A2)."""
    shares = {1.0: 10.09, 0.85473: 11.80, 0.37041: 27.23}
    for share, grams in shares.items():
        assert mix_powder("developer", 1, 1.0, dry_share=share).portions[-1].mass_g == pytest.approx(grams, rel=1e-3)


def test_three_weight_percent_of_lye_are_30_9_g_in_a_litre() -> None:
    """Craft reference E 23."""
    assert mix_powder("stripper", 1, 3.0).portions[-1].mass_g == pytest.approx(30.9, abs=0.1)


def test_a_strength_is_echoed_in_grams_of_dry_substance() -> None:
    """In grams of finished solution."""
    mix = mix_powder("developer", 1, 1.0, dry_share=0.3704)
    assert mix.echo == "10.1 g of dry soda (sodium carbonate) in 1009 g of finished solution (1 wt%)"
    assert mix_persulfate(2).echo == "500 g of sodium persulfate in 2 L of finished bath (250 g in a litre)"


def test_lye_goes_into_cold_water_and_never_the_other_way() -> None:
    """The order stands in the steps and in the cautions."""
    mix = mix_powder("stripper", 1)
    assert "cold water" in mix.steps[0]
    assert "Never pour water onto it" in mix.steps[1]
    assert any("never water onto lye" in caution for caution in mix.cautions)


def test_a_developer_begins_with_a_strip_that_overrules_the_sum() -> None:
    """Other baths do not."""
    assert any("overrules this sum" in step for step in mix_powder("developer", 1).steps)
    assert not any("overrules" in step for step in mix_powder("stripper", 1).steps)


@pytest.mark.parametrize("bath", [*RECIPES])
def test_every_bath_says_its_temperature_and_its_cautions_but_no_spoons(bath: str) -> None:
    """Celsius, gloves."""
    mix = mix_powder(bath, 1)
    assert any("°C" in step for step in mix.steps)
    assert any(re.search("[Gg]loves", caution) for caution in mix.cautions)
    assert not re.search(r"spoon|cup\b", " ".join(mix.steps))


def test_stock_of_the_strength_wanted_is_poured_as_it_is() -> None:
    """No step with 0 g of water."""
    mix = mix_stock("iron", 1, 36, 36)
    assert [portion.name for portion in mix.portions] == ["iron(III) chloride of 36 wt%"]
    assert not any("water" in step for step in mix.steps)


@pytest.mark.parametrize(
    ("bath", "volume_l", "wt_percent", "dry_share", "named"),
    [
        ("developer", 0, 1, 1, "volume_l must lie between 0.02 and 200, not 0"),
        ("developer", -1, 1, 1, "volume_l"),
        ("developer", float("nan"), 1, 1, "volume_l must be a number"),
        ("developer", 1, 10, 1, "wt_percent must lie between 0.3 and 3, not 10: usual is 0.85"),
        ("developer", 1, 1, 0, "dry_share must be above 0.3 and at most 1, not 0: ask which powder"),
        ("tea", 1, 1, 1, "bath must be one of developer, "),
    ],
)
def test_what_cannot_be_mixed_is_said(
    bath: str, volume_l: float, wt_percent: float, dry_share: float, named: str
) -> None:
    """Field, value, what is allowed."""
    with pytest.raises(ValueError, match=re.escape(named)):
        mix_powder(bath, volume_l, wt_percent, dry_share=dry_share)


def test_stock_weaker_than_the_bath_or_stronger_than_sold_is_said() -> None:
    """72 % is a hexahydrate."""
    for stock in (30, 72):
        with pytest.raises(ValueError, match=rf"stock_wt_percent must lie between 36 and 50, not {stock}"):
            mix_stock("iron", 1, stock, 36)
    with pytest.raises(ValueError, match="g_per_l must lie between 50 and 400"):
        mix_persulfate(1, 900)
