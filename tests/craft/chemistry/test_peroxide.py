"""The peroxide bath: its limits refuse, its order is water, peroxide, acid, and its heat is counted."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry.peroxide import heat, largest_copper_g, mix_peroxide, mix_peroxide_parts
from tests.craft.chemistry import laliberte


@given(
    volume_l=st.floats(0.05, 20),
    peroxide_stock=st.floats(3, 12),
    acid_stock=st.floats(28, 37),
    peroxide=st.floats(0.1, 1.6),
    acid=st.floats(1, 12),
)
def test_what_goes_in_is_what_is_in_it(
    volume_l: float, peroxide_stock: float, acid_stock: float, peroxide: float, acid: float
) -> None:
    """Mass, peroxide and acid are kept; the volumes that are poured make the volume that was asked for."""
    mix = mix_peroxide(volume_l, peroxide_stock, acid_stock, peroxide_wt_percent=peroxide, acid_wt_percent=acid)
    by_name = {portion.name.split(" of ")[0]: portion for portion in mix.portions}
    assert mix.mass_g is not None
    assert sum(portion.mass_g for portion in mix.portions) == pytest.approx(mix.mass_g)
    assert by_name["hydrogen peroxide"].mass_g * peroxide_stock == pytest.approx(mix.mass_g * peroxide)
    assert by_name["hydrochloric acid"].mass_g * acid_stock == pytest.approx(mix.mass_g * acid)
    assert sum(portion.volume_ml for portion in mix.portions) == pytest.approx(1000 * volume_l)
    assert [*by_name] == ["water", "hydrogen peroxide", "hydrochloric acid"][-len(by_name) :]


def test_acid_goes_in_last_slowly_into_the_open_tray() -> None:
    """Water, peroxide, acid."""
    steps = mix_peroxide(1, 11.9, 31).steps
    assert [word in step for step, word in zip(steps, ("water", "peroxide", "acid"), strict=False)] == [True] * 3
    assert "first" in steps[0]
    assert "last, slowly, into the open tray" in steps[2]
    assert "last, slowly, into the open tray" in mix_peroxide_parts(1, 2, 3, 1, 31).steps[1]


def test_chlorine_has_its_own_caution() -> None:
    """And the lid."""
    words = " ".join(mix_peroxide(1, 11.9, 31).cautions)
    assert "Chlorine" in words
    assert "never a tight lid" in words


def test_the_ratio_of_the_trade_is_echoed_as_volumes_of_stated_strengths() -> None:
    """2 : 1 of 3 and 31 wt%: 1.9 wt% peroxide, worked out by the model's densities."""
    mix = mix_peroxide_parts(1, 2, 3, 1, 31)
    peroxide, acid = 2 * laliberte.density_g_cm3("H2O2", 3), laliberte.density_g_cm3("HCl", 31)
    assert mix.wt_percent["H2O2"] == pytest.approx(3 * peroxide / (peroxide + acid), rel=1e-3)
    assert mix.wt_percent["HCl"] == pytest.approx(31 * acid / (peroxide + acid), rel=1e-3)
    assert "2 of hydrogen peroxide of 3 wt% to 1 volume of hydrochloric acid of 31 wt%" in mix.echo
    assert "1.9 wt% peroxide, 11.3 wt% acid" in mix.echo


@given(st.floats(12.01, 100))
def test_strong_peroxide_is_refused_whatever_the_bath(stock: float) -> None:
    """However thin the bath would be."""
    with pytest.raises(RefusedError, match="too strong to mix from"):
        mix_peroxide(1, stock, 31, peroxide_wt_percent=0.1, acid_wt_percent=1)
    with pytest.raises(RefusedError, match="too strong to mix from"):
        mix_peroxide_parts(1, 0.01, stock, 0.1, 31, 10)


@pytest.mark.parametrize(("peroxide", "acid", "named"), [(2.6, 5, "peroxide"), (1, 12.1, "acid"), (3, 13, "and")])
def test_a_bath_beyond_its_limits_is_refused(peroxide: float, acid: float, named: str) -> None:
    """2.5 wt% peroxide, 12 wt% acid, in the finished bath."""
    with pytest.raises(RefusedError, match=f"the finished bath would hold .*{named}"):
        mix_peroxide(1, 12, 37, peroxide_wt_percent=peroxide, acid_wt_percent=acid)


def test_a_bath_at_its_limits_is_mixed() -> None:
    """Limits are allowed."""
    assert mix_peroxide(1, 12, 37, peroxide_wt_percent=2.5, acid_wt_percent=12).wt_percent == {
        "H2O2": pytest.approx(2.5),
        "HCl": pytest.approx(12),
    }


@pytest.mark.parametrize(("peroxide_parts", "stock"), [(1, 3), (2, 6), (2, 12)])
def test_ratios_beyond_the_limits_are_refused_too(peroxide_parts: float, stock: float) -> None:
    """1 : 1 has 16 wt% of acid; stronger peroxide in the usual ratio has too much of it."""
    with pytest.raises(RefusedError, match="the finished bath would hold"):
        mix_peroxide_parts(1, peroxide_parts, stock, 1, 31)


def test_what_cannot_be_mixed_is_said() -> None:
    """From bottles too weak, and acid that nobody sells."""
    with pytest.raises(ValueError, match=r"cannot give 1\.8 and 11 wt%: ask for less"):
        mix_peroxide(1, 3, 20)
    with pytest.raises(ValueError, match="hydrochloric acid is not sold above 37"):
        mix_peroxide(1, 3, 45)
    with pytest.raises(ValueError, match="volume_l"):
        mix_peroxide(0, 3, 31)


def test_heat_of_a_fresh_bath_by_hand() -> None:
    """10 g/L: 0.157 mol · 315.6 kJ, and the peroxide left · 94.7 kJ, over 1060 g · 3.9 J/g K; CODATA heats."""
    found = heat(1, 10, 1.9)
    copper = 10 / 63.546
    left = 0.019 * 1060 / 34.0147 - copper
    assert found.copper_k == pytest.approx(copper * 315600 / (1060 * 3.9), rel=1e-6)
    assert found.decay_k == pytest.approx(left * 94700 / (1060 * 3.9), rel=1e-6)
    assert found.rise_k == pytest.approx(found.copper_k + found.decay_k)
    assert "take the panel out above 35 °C" in found.sentence


def test_heat_agrees_with_a_measured_decay() -> None:
    """35 wt% alone rose by 231.7 K (calorimetry, journalimcms.org), with the heat of water: ours is refused far below.

    Per gram of peroxide that is 231.7 · 4.186 / 0.35 = 2771 J; ours 94 700 / 34.0147 = 2784.
    """
    with pytest.raises(RefusedError, match="could warm it by"):
        heat(1, 0, 35, density_g_cm3=1.13)
    small = heat(1, 0, 1, density_g_cm3=1.0)
    assert small.decay_k * 3.9 / 0.01 == pytest.approx(231.7 * 4.186 / 0.35, rel=0.01)


def test_too_much_metal_at_once_is_refused() -> None:
    """A full load of 37.7 g/L rises by 46 K (craft reference A7)."""
    with pytest.raises(RefusedError, match=r"by 46 K|by 45 K"):
        heat(1, 37.7, 1.9)


@given(volume_l=st.floats(0.1, 10), peroxide=st.floats(0.1, 2.5))
def test_the_largest_batch_is_where_the_refusal_begins(volume_l: float, peroxide: float) -> None:
    """A little less is allowed, and a little more is refused unless peroxide ends first."""
    most = largest_copper_g(volume_l, peroxide)
    heat(volume_l, most * 0.999, peroxide)
    if heat(volume_l, most * 0.999, peroxide).rise_k > 24.9:
        with pytest.raises(RefusedError):
            heat(volume_l, most * 1.01, peroxide)
