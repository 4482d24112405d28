"""Stencils: their steps, the black that a resist needs, and a strip as thick as the panel."""

from dataclasses import replace
from datetime import timedelta

import pytest

from sumlight.craft.jobs import plans
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.stock import metal, shelf, stencils
from sumlight.craft.stock.metal import Metal
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.stencils import Done, Lit, Measured, Stencil
from tests.craft.stock.test_rolls import NOW

GEAR = Stencil("gear", 2, 150.0)
SHEET = PanelNumbers("sheet_two", "brass", 150.0, "blue-38", 60.0, 900.0, resist="Invented film")


@pytest.mark.parametrize(("first_clean_step", "density"), [(10, 1.7), (14, 2.3)])
def test_the_black_that_a_resist_needs(first_clean_step: int, density: float) -> None:
    """Trade notes 1.4, by the densities of a published step tablet: clean at step 10 wants 1.7, at step 14 2.3."""
    assert stencils.black_needed(first_clean_step) == pytest.approx(density)


@pytest.mark.parametrize(
    ("density", "code"), [(2.31, "black_good"), (2.2, "black_weak"), (1.71, "black_weak"), (1.6, "black_thin")]
)
def test_a_density_is_judged_by_that(density: float, code: str) -> None:
    """The last one measured counts."""
    measured = (Measured("2026-03-01T00:00:00Z", 6.0), Measured("2026-03-02T00:00:00Z", density))
    assert code in [told.code for told in stencils.sentences(replace(GEAR, measured=measured), NOW)]


def test_a_later_step_leaves_those_before_behind() -> None:
    """None needs an entry."""
    assert stencils.open_steps(GEAR) == ("print", "condition", "register", "check")
    assert stencils.open_steps(replace(GEAR, done={"register": Done("2026-03-01")})) == ("check",)
    assert stencils.open_steps(Stencil("gear", 1, done={"check": Done("2026-03-01")})) == ()


def test_every_step_has_words_for_one_film_and_for_two() -> None:
    """And for both ways to hold them."""
    for stencil in (GEAR, replace(GEAR, held="pins"), Stencil("gear", 1)):
        told = [str(stencils.sentence(step, stencil)) for step in stencils.steps_of(stencil)]
        assert len(set(told)) == len(told)
        assert all("lamps" in one or "light" in one or "films" in one for one in told)


@pytest.mark.parametrize(
    ("spacer_um", "panel_um", "fits"),
    [(150.0, 150.0, True), (190.0, 150.0, True), (250.0, 150.0, False), (100.0, 500.0, False), (400.0, 500.0, True)],
)
def test_a_strip_is_as_thick_as_the_panel(spacer_um: float, panel_um: float, fits: bool) -> None:
    """Off by a quarter or 50 µm at most: common practice, no source."""
    assert stencils.spacer_fits(spacer_um, panel_um) is fits


@pytest.mark.parametrize(
    ("days", "panels", "code"),
    [(29, 49, None), (30, 0, "stencil_worn"), (0, 50, "stencil_worn"), (29, 0, None)],
)
def test_a_registration_holds_for_a_month_or_fifty_panels(days: int, panels: int, code: str | None) -> None:
    """Whichever comes first (common practice, no source); panels from before it was measured do not count."""
    measured = replace(GEAR, measured=(Measured((NOW - timedelta(days=days)).isoformat(), apart_um=30.0),))
    before = [(NOW - timedelta(days=60)).isoformat()] * 70
    since = [(NOW + timedelta(minutes=1)).isoformat()] * panels
    told = stencils.worn(measured, NOW, [*before, *since])
    assert (None if told is None else told.code) == code
    uncarded = replace(measured, lit=tuple(Lit(utc, "P") for utc in (*before, *since)))
    assert (stencils.worn(uncarded, NOW) is None) == (code is None)
    assert (code in [each.code for each in stencils.sentences(measured, NOW, since)]) == (code is not None)


def test_a_registration_that_was_never_measured_is_said_and_one_film_has_none() -> None:
    """A density alone is no registration."""
    dense = Measured(NOW.isoformat(), density=2.4)
    told = stencils.worn(replace(GEAR, measured=(dense,)), NOW)
    assert told is not None
    assert told.code == "stencil_not_measured"
    assert stencils.worn(Stencil("gear", 1), NOW) is None


def test_what_fits_a_job() -> None:
    """The resist of its recipe, its metal as thick as it is, films for as many sides as are lit."""
    assert shelf.fits(Roll("invented FILM"), SHEET)
    assert not shelf.fits(Roll("another"), SHEET)
    assert shelf.fits(Metal("brass", 152.0), SHEET)
    assert not shelf.fits(Metal("brass", 200.0), SHEET)
    assert not shelf.fits(Metal("copper", 150.0), SHEET)
    assert shelf.fits(GEAR, SHEET)
    assert not shelf.fits(GEAR, replace(SHEET, plan="board_one"))


def test_a_card_says_of_the_shelf_what_matters_at_its_step() -> None:
    """And nothing at any other step."""
    things = (Roll("Invented film"), Metal("brass", 150.0, 3), GEAR)
    said = {step.kind for step in plans.steps_of("sheet_two") for one in things if shelf.told(step, 1, one, SHEET, NOW)}
    assert said == {"cut", "laminate", "expose"}


def test_pieces_are_left_until_there_are_none() -> None:
    """Where nobody counts them, nothing is said."""
    assert [metal.left(Metal("brass", 150.0, 3), used) for used in (0, 2, 5)] == [3, 1, 0]
    assert metal.sentences(Metal("brass", 150.0), 4) == ()


@pytest.mark.parametrize("given", [{"artwork": ""}, {"sides": 3}, {"spacer_um": -1.0}, {"held": "glue"}])
def test_a_stencil_that_cannot_be_is_refused(given: dict[str, object]) -> None:
    """Each by the name of its field."""
    with pytest.raises(ValueError, match=next(iter(given))):
        Stencil(**{"artwork": "gear"} | given)  # type: ignore[arg-type]
