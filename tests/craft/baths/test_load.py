"""What a bath takes: against published capacities and masses (craft reference A2, A5), not against our constants."""

import pytest

from sumlight.craft.baths import contents, life, load, tempo
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry import mixing, peroxide


@pytest.mark.parametrize(("wt", "copper_g_per_l"), [(30, 75.9), (36, 96.2), (40, 110.9), (44, 126.6)])
def test_a_litre_of_copper_foil_fills_iron_chloride(wt: float, copper_g_per_l: float) -> None:
    """Published grams a litre, dissolved as 35 µm foil of 3.136 g to the dm²: the share is one."""
    area_cm2 = 100 * copper_g_per_l / 3.136
    share = load.share_of(Contents("iron", 1.0, wt), Taken("copper", area_cm2, 35.0))
    assert share == pytest.approx(1, rel=0.006)


@pytest.mark.parametrize(("um", "grams"), [(100, 8.5), (150, 12.75), (200, 17.0)])
def test_brass_sheet_through_weighs_what_the_trade_says(um: float, grams: float) -> None:
    """1 dm² through (A5): both faces open, half of the thickness from each."""
    assert load.metal_g(Taken("brass", 200.0, um / 2)) == pytest.approx(grams)


def test_a_developer_is_loaded_by_film() -> None:
    """The chart of the trade gives 25.08 dm² of 38 µm film to a litre (A2); half of the film, half of the load."""
    bath = Contents("developer", 2.0, 0.85)
    assert load.share_of(bath, Taken("", 2 * 2508.0, 38.0)) == pytest.approx(1, rel=0.01)
    assert load.share_of(bath, Taken("", 2 * 2508.0, 19.0)) == pytest.approx(0.5, rel=0.01)


def test_a_stripper_is_loaded_by_area_and_says_that_this_is_practice() -> None:
    """Common practice, no source: 50 dm² a litre."""
    bath = Contents("stripper", 1.0, 3.0)
    panels = [Taken("", 2500.0)] * 2
    assert load.used(bath, panels).share == pytest.approx(1)
    assert any("no source" in sentence for sentence in load.sentences(bath, panels))
    assert life.verdict(bath, load.used(bath, panels), None, panels[0]).code == "bath_new_by_area"


def test_the_peroxide_bath_holds_what_its_limiting_part_dissolves() -> None:
    """2:1 by volume of 3 % and 31 %: 37.7 g of copper a litre, peroxide limits (A5)."""
    mix = peroxide.mix_peroxide_parts(1.0, 2, 3.0, 1, 31.0)
    share = load.share_of(contents.contents_of(mix), Taken("copper", 100 * 37.7 / 3.136, 35.0))
    assert share == pytest.approx(1, rel=0.02)


def test_persulfate_by_grams_a_litre() -> None:
    """250 g/L dissolve 66.7 g of copper (A5)."""
    bath = contents.contents_of(mixing.mix_persulfate(2.0, 250.0))
    assert (bath.kind, bath.volume_l, bath.g_per_l) == ("persulfate", 2.0, pytest.approx(250))
    assert load.share_of(bath, Taken("copper", 200 * 66.7 / 3.136, 35.0)) == pytest.approx(1, rel=0.01)


@pytest.mark.parametrize(
    ("bath", "taken"),
    [
        (Contents("cupric", 1.0, 20.0), Taken("copper", 100.0, 35.0)),
        (Contents("iron", 1.0), Taken("copper", 100.0, 35.0)),
        (Contents("iron", 1.0, 40.0), Taken("nickel", 100.0, 35.0)),
        (Contents("iron", 1.0, 40.0), Taken("copper", None, 35.0)),
    ],
)
def test_what_nobody_can_reckon_is_left_out_and_said(bath: Contents, taken: Taken) -> None:
    """Air renews it, strength or area is not known, or no table has the metal."""
    assert load.share_of(bath, taken) is None
    assert load.used(bath, [taken]).not_counted == 1
    assert any(sentence.code == "bath_not_counted" for sentence in load.sentences(bath, [taken]))


@pytest.mark.parametrize(
    "bath",
    [
        Contents("peroxide", 1.0, peroxide_wt_percent=1.8, acid_wt_percent=11.0, bottle_percent=12.1),
        Contents("peroxide", 1.0, peroxide_wt_percent=2.6, acid_wt_percent=11.0),
        Contents("peroxide", 1.0, peroxide_wt_percent=1.8, acid_wt_percent=12.1),
    ],
)
def test_a_peroxide_bath_that_can_hurt_is_refused(bath: Contents) -> None:
    """Stock above 12, bath above 2.5 and 12 wt% (the issue's limits, common practice, no source)."""
    with pytest.raises(RefusedError):
        contents.checked(bath)


@pytest.mark.parametrize(
    "bath",
    [
        Contents("soup", 1.0),
        Contents("iron", -1.0),
        Contents("iron", 1.0, 140.0),
        Contents("persulfate", 1.0, g_per_l=5),
    ],
)
def test_what_cannot_be_is_told(bath: Contents) -> None:
    """A word that is none, a volume or a strength that no bath has."""
    with pytest.raises(ValueError, match="must"):
        contents.checked(bath)


def test_a_bath_says_what_it_was_mixed_of() -> None:
    """Strength, volume, and from what."""
    bath = Contents("peroxide", 1.5, peroxide_wt_percent=1.8, acid_wt_percent=11.0)
    assert contents.told(bath) == "1.5 L. 1.8 wt% peroxide and 11 wt% acid in the finished bath."
    assert contents.told(Contents("iron", 1.0, 36.0, bottle_percent=40.0)).endswith("Mixed from 40 %.")


def test_a_bath_ends_at_twice_its_fresh_time() -> None:
    """Change when the time doubles (trade notes D13): by its own times as soon as there are some."""
    bath, like = Contents("iron", 1.0, 40.0), Taken("copper", 50.0, 35.0)

    def said(ratio: float, timed: int) -> str:
        forecast = tempo.Forecast(50.0, 100.0 * ratio, 300.0, 100.0, timed)
        return life.verdict(bath, load.used(bath, [like]), forecast, like).code

    assert said(1.7, 5) == "bath_goes_on"
    assert said(1.85, 5) == "bath_soon_new"
    assert said(2.0, 5) == "bath_new_by_times"
    assert said(2.0, 0) == "bath_new_by_sum"
