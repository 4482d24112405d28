"""Panels that are developed and read: the tablet's arithmetic, scatter, residue, reciprocity and artwork."""

import math
from statistics import fmean, pstdev

import pytest

from sumlight.twin.panel import STEPS, Artwork, Panel, Resist, step_density

EXACT = Resist(threshold_mj_cm2=6.5, panel_sigma=0.0, zone_sigma=0.0)


def test_the_tablet_has_its_usual_steps() -> None:
    """0.05 to 3.05 by 0.15; the eighth lets 0.0794 through (reference values §5)."""
    assert step_density(1) == 0.05
    assert step_density(STEPS) == pytest.approx(3.05)
    assert 10 ** -step_density(8) == pytest.approx(0.0794, abs=5e-5)


@pytest.mark.parametrize("held", range(1, 21))
def test_the_held_step_is_the_last_behind_which_the_threshold_was_reached(held: int) -> None:
    """A dose that puts the threshold just behind a step holds that step; a hair less, the one before."""
    dose = 6.5 * 10 ** step_density(held)
    panel = Panel(EXACT, 1)
    assert panel.develop_tablet(dose * 1.0001).step == held
    assert panel.develop_tablet(dose * 0.9999).step == (held - 1 if held > 1 else "all_gone")


@pytest.mark.parametrize(("steps", "factor"), [(1, 1.41254), (2, 1.99526), (4, 3.98107)])
def test_each_step_takes_the_published_factor_of_dose(steps: int, factor: float) -> None:
    """×10^0.15 a step: 5→7 ×1.99526, 4→8 ×3.98107 (reference values §5)."""
    panel = Panel(EXACT, 1)
    assert panel.develop_tablet(60.0).step == 7
    assert panel.develop_tablet(60.0 * factor).step == 7 + steps


def test_half_held_means_more_than_half_of_the_next_step() -> None:
    """From half a step of dose above the held one on."""
    panel = Panel(EXACT, 1)
    for part, half in ((0.02, False), (0.48, False), (0.52, True), (0.98, True)):
        read = panel.develop_tablet(6.5 * 10 ** step_density(7 + part))
        assert (read.step, read.half) == (7, half)


def test_all_held_and_all_gone_are_no_numbers() -> None:
    """Far too much, far too little; the other convention says the same in its own way."""
    panel = Panel(EXACT, 1)
    much, little, fair = (panel.develop_tablet(dose) for dose in (1e5, 1.0, 60.0))
    assert (much.step, much.half, much.first_cleared, much.first_clean) == ("all_held", False, None, None)
    assert (little.step, little.half, little.first_cleared, little.first_clean) == ("all_gone", False, 1, 1)
    assert (fair.step, fair.first_cleared) == (7, 8)


def test_between_held_and_clean_some_steps_keep_a_residue() -> None:
    """Clean below 0.4 of the threshold: log10(1/0.4) is 2.65 steps."""
    read = Panel(EXACT, 1).develop_tablet(6.5 * 10 ** step_density(7.01))
    assert (read.step, read.first_clean) == (7, 10)


def test_panels_scatter_and_zones_of_one_panel_less() -> None:
    """3 % from panel to panel, 1 % from zone to zone, each about its own centre."""
    panels = [Panel(Resist(), seed) for seed in range(2000)]
    logs = [math.log(panel.threshold_mj_cm2 / 6.5) for panel in panels]
    assert fmean(logs) == pytest.approx(0.0, abs=0.0025)
    assert pstdev(logs) == pytest.approx(0.034, rel=0.06)
    zones = [math.log(panels[0].zone_threshold_mj_cm2(str(n)) / panels[0].threshold_mj_cm2) for n in range(2000)]
    assert pstdev(zones) == pytest.approx(0.013, rel=0.06)


def test_the_same_panel_reads_the_same_twice_and_in_any_order() -> None:
    """A zone keeps its threshold."""
    first, again = Panel(Resist(), "P12"), Panel(Resist(), "P12")
    assert [first.zone_threshold_mj_cm2(zone) for zone in "123"] == [
        again.zone_threshold_mj_cm2(zone) for zone in "321"
    ][::-1]
    assert Panel(Resist(), "P13").threshold_mj_cm2 != first.threshold_mj_cm2


@pytest.mark.parametrize(("p", "factor"), [(1.0, 1.0), (0.9, 1.08006)])
def test_weak_light_needs_more_dose_as_schwarzschild_has_it(p: float, factor: float) -> None:
    """E · t^p = const: at half the irradiance and p 0.9 the dose × 1.08006 (reference values §5)."""
    resist = Resist(reciprocity_p=p)
    assert resist.effective_mj_cm2(60.0 * factor, resist.reference_mw_cm2 / 2) == pytest.approx(60.0, rel=1e-5)
    assert resist.effective_mj_cm2(60.0, resist.reference_mw_cm2) == pytest.approx(60.0)


def test_a_resist_without_reciprocity_holds_fewer_steps() -> None:
    """Behind a step the light is weak as well."""
    plain, failing = (Panel(Resist(panel_sigma=0, zone_sigma=0, reciprocity_p=p), 1) for p in (1.0, 0.8))
    assert plain.develop_tablet(60.0, 5.0).step == 7
    assert failing.develop_tablet(60.0, 5.0).step == 5


def test_a_strip_is_held_from_some_dose_on() -> None:
    """Clean, residue, held with rising dose."""
    assert Panel(EXACT, 1).develop_strip([2.0, 2.5, 3.0, 6.0, 7.0, 14.0]) == [
        "clean",
        "clean",
        "residue",
        "residue",
        "held",
        "held",
    ]


@pytest.mark.parametrize(
    ("artwork", "dose", "lines", "blacks"),
    [
        (Artwork(0.06, 2.5), 60.0, "held", "clean"),
        (Artwork(0.06, 1.2), 60.0, "held", "residue"),
        (Artwork(0.06, 0.8), 60.0, "held", "held"),
        (Artwork(0.30, 2.5), 12.0, "residue", "clean"),
    ],
)
def test_artwork_shows_both_ways_of_failing(artwork: Artwork, dose: float, lines: str, blacks: str) -> None:
    """Thin blacks let light through, dense clear film starves the lines."""
    read = Panel(EXACT, 1).develop_artwork(dose, artwork)
    assert (read.lines, read.blacks) == (lines, blacks)


def test_a_resist_of_another_sensitivity_sees_other_lamps_otherwise() -> None:
    """One that answers up to 410 nm makes more of 405 nm than the actinic dose says; the ordinary one does not."""
    assert Resist().seen_share("led_405") == pytest.approx(1.0)
    violet = Resist(peak_nm=385.0, fwhm_nm=60.0)
    assert violet.seen_share("fluorescent") == pytest.approx(1.0)
    assert violet.seen_share("led_405") > 1.5
    assert violet.seen_share("fluorescent", 0.6, 0.85) == pytest.approx(1.0, abs=0.02)
