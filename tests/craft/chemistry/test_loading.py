"""What a bath can take."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry.loading import (
    capacity_iron_g_per_l,
    capacity_peroxide_g_per_l,
    capacity_persulfate_g_per_l,
    developer_load,
    load_share,
    metal_g,
    worn_out_share,
)
from sumlight.craft.chemistry.solutions import strength
from sumlight.craft.etching.times import etch_time_s


@pytest.mark.parametrize(("wt_percent", "grams"), [(30, 75.9), (36, 96.2), (40, 110.9), (44, 126.6)])
def test_copper_in_iron_chloride(wt_percent: float, grams: float) -> None:
    """Craft reference A5, from densities read at handymath.com."""
    assert capacity_iron_g_per_l(wt_percent) == pytest.approx(grams, rel=0.002)


def test_other_metals_in_iron_chloride() -> None:
    """Brass 63/37 takes 1.0 % more grams than copper; steel 97.4 g/L of 40 wt% (craft reference A5)."""
    copper = capacity_iron_g_per_l(40)
    assert capacity_iron_g_per_l(40, "brass") / copper == pytest.approx(1.0105, abs=0.0005)
    assert capacity_iron_g_per_l(40, "steel") == pytest.approx(97.4, rel=0.002)


def test_a_published_typical_bath() -> None:
    """530 g/L, 38.1 wt%, can take 103.8 g; its rate was seen to fall 'after about 100' (trade notes D14)."""
    assert strength("FeCl3", 38.1).g_per_l == pytest.approx(530, rel=0.003)
    assert capacity_iron_g_per_l(38.1) == pytest.approx(103.8, rel=0.003)


def test_whichever_of_peroxide_and_acid_ends_first() -> None:
    """2 : 1 of 3 and 31 wt%: 37.7 g/L, peroxide ends; with 12 and 30 wt%: 100.1 g/L, acid ends (craft reference A5)."""
    assert capacity_peroxide_g_per_l(1.9089, 11.274, 1.0574) == pytest.approx(37.7, rel=0.003)
    peroxide, acid = 2 * 1.0422, 1.149
    mass = peroxide + acid
    strong = capacity_peroxide_g_per_l(12 * peroxide / mass, 30 * acid / mass, mass / 3)
    assert strong == pytest.approx(100.1, rel=0.003)


def test_persulfate() -> None:
    """250 g/L: 66.7 g of copper (craft reference A5)."""
    assert capacity_persulfate_g_per_l(250) == pytest.approx(66.7, abs=0.1)


def test_metals_that_are_refused_or_unknown_have_no_capacity() -> None:
    """Not a number by accident."""
    with pytest.raises(ValueError, match="metal must be one of copper, brass, steel, not 'aluminium'"):
        capacity_iron_g_per_l(40, "aluminium")
    with pytest.raises(ValueError, match="nobody knows what"):
        capacity_peroxide_g_per_l(1.9, 11, 1.06, "steel")


def test_metal_by_area() -> None:
    """35 µm of copper on 1 dm² weigh 3.136 g; brass of 8.5 through 0.1 mm 8.50 g (craft reference A5)."""
    assert metal_g(100, 35, 8.96) == pytest.approx(3.136)
    assert metal_g(100, 100, 8.5) == pytest.approx(8.50)
    assert load_share(3.136, 1, 37.7) == pytest.approx(0.0832, abs=1e-4)


@given(st.floats(1e-4, 0.95))
def test_a_worn_out_bath_takes_twice_the_fresh_time(panel_share: float) -> None:
    """Judged by the law of times itself, which shares no code with it; practice changes at twice (trade notes D13)."""
    load = worn_out_share(panel_share)
    fresh = etch_time_s(100, 10, share_per_um=panel_share / 100)
    assert etch_time_s(100, 10, share_per_um=panel_share / 100, load=load) == pytest.approx(2 * fresh, rel=1e-6)


def test_the_load_of_a_developer() -> None:
    """2.7 ft² of 38 µm film in a litre fill it by the chart of the trade (D2): 25.08 dm²."""
    assert developer_load(25.08, 38, 1) == pytest.approx(1, abs=0.01)
    assert developer_load(25.08, 19, 1) == pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize(
    "wrong", [lambda: metal_g(-1, 35, 8.9), lambda: load_share(1, 0, 40), lambda: developer_load(1, -38, 1)]
)
def test_what_cannot_be_is_said(wrong) -> None:  # type: ignore[no-untyped-def]
    """Negative area, no bath, negative film."""
    with pytest.raises(ValueError, match="must"):
        wrong()


def test_refusals_are_errors_that_any_reader_of_forms_understands() -> None:
    """So that no caller lets one through that only knows ValueError."""
    assert issubclass(RefusedError, ValueError)
