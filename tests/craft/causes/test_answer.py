"""What is answered: rows of the failure guide (craft reference, part E), each as a panel that shows what it says."""

from typing import Any

import pytest

from sumlight.craft.causes import answer, network
from sumlight.craft.causes.answer import why
from sumlight.craft.causes.facts import Facts
from sumlight.craft.causes.looks import LOOKS
from tests.benchmarks import job

GUIDE: tuple[tuple[str, tuple[str, ...], dict[str, Any], str], ...] = (
    ("E1 held 2 below", ("floats_off",), {"held_off": -2, "place": "everywhere"}, "underexposed"),
    ("E1 dwell over 3 times", ("floats_off",), {"dwell_share": 3.2, "held_off": 0}, "overdeveloped"),
    ("E2 patches, held as wanted", ("lifts_in_patches",), {"held_off": 0, "place": "patches"}, "dirty_metal"),
    ("E3 hold under 15 min", ("lifts_in_etchant",), {"rest": "short", "held_off": 0}, "rest_short"),
    ("E3 bath 12 K warmer", ("lifts_in_etchant",), {"etchant_off_c": 12.0}, "etchant_hot"),
    ("E4 twice the fresh time", ("nothing_clears",), {"clear_share": 2.6, "developer_used": 0.1}, "developer_weak"),
    ("E5 load over 0.8", ("clears_late", "scum"), {"developer_used": 0.95, "clear_share": 1.8}, "developer_spent"),
    ("E5 5 degrees colder", ("clears_late",), {"developer_off_c": -6.0, "clear_share": 1.5}, "developer_cold"),
    ("E6 beyond the longest hold", ("spots_unetched",), {"rest": "long"}, "rest_long"),
    ("E7 same place again", ("image_holes", "pitted"), {"same_place": True, "place": "scattered"}, "film_specks"),
    ("E7 another place", ("image_holes", "pitted"), {"same_place": False, "place": "scattered"}, "dust_or_bubbles"),
    ("E9 time over 1.2 of expected", ("part_thin",), {"etch_share": 1.5, "same_place": False}, "over_etched"),
    ("E11 by the vacuum", ("image_wide",), {"contact": "poor", "held_off": 0}, "poor_contact"),
    ("E11 held high", ("image_wide",), {"contact": "good", "held_off": 2}, "overexposed"),
    ("E12 film rough", ("edge_ragged", "image_blurred"), {"same_place": True}, "film_ragged"),
    ("E13 middle", ("middle_slow",), {"place": "middle"}, "uneven_etch"),
    ("E15 marks apart", ("wall_step",), {"faces_off_um": 180.0}, "films_shifted"),
    (
        "E15 one face slower",
        ("wall_step", "not_through"),
        {"faces_off_um": 20.0, "place": "one_face"},
        "one_face_starved",
    ),
    ("E16 load over 0.5", ("not_through",), {"etchant_used": 0.7, "etchant_off_c": 0.0}, "etchant_spent"),
    ("E16 cold", ("not_through",), {"etchant_used": 0.3, "etchant_off_c": -10.0}, "etchant_cold"),
    ("E17 film, no acid", ("stops_under_film",), {}, "acid_low"),
    ("E18 hot and fizzing", ("fizzes",), {"etchant_off_c": 14.0}, "etchant_hot"),
    ("E21 reversed", ("image_reversed",), {}, "film_reversed"),
    ("E22 size", ("image_wrong_size",), {"same_place": True}, "film_size"),
    ("E23 held high", ("strips_badly",), {"held_off": 2}, "overexposed"),
)


@pytest.mark.parametrize(("signs", "facts", "cause"), [row[1:] for row in GUIDE], ids=[row[0] for row in GUIDE])
def test_what_the_guide_says_is_named_first(signs: tuple[str, ...], facts: dict[str, Any], cause: str) -> None:
    """The evidence that the row names raises the cause that the row names."""
    found = why(signs, Facts(**facts))
    assert found.verdict == "told"
    assert found.causes[0].name == cause


def test_it_says_what_speaks_for_and_against() -> None:
    """In words, the strongest first."""
    first, *_ = why(("floats_off",), Facts(held_off=-2.0, dose_share=1.0)).causes
    assert "the held step is -2 off the one wanted" in first.speaks_for
    assert first.speaks_for[0].code in ("reason_seen", "reason_held_off")
    old = next(each for each in why(("floats_off",), Facts(held_off=-2.0)).causes if each.name == "old_resist")
    assert "not seen: clears late" in old.speaks_against


def test_the_held_step_says_by_how_much() -> None:
    """Two steps of the tablet are a factor of two in dose (trade notes E3, E7: 0.15 density a step)."""
    first, *_ = why(("floats_off",), Facts(held_off=-2.0)).causes
    assert first.change.code == "change_dose_by"
    assert first.change.values["times"] == pytest.approx(2, rel=0.01)


def test_a_check_separates_the_first_from_the_others() -> None:
    """Cold or used up: a thermometer says, within a minute."""
    found = why(("not_through",), Facts())
    assert found.look_minutes is not None
    assert found.look_minutes <= 15
    names = [cause.name for cause in found.causes]
    assert found.look is not None
    finds = LOOKS[found.look.code.removeprefix("look_")].finds
    assert 0 < len(finds & set(names)) < len(names)


def test_nothing_seen_is_not_enough() -> None:
    """No guess out of thin air, and no check that has nothing to check."""
    found = why((), Facts())
    assert found.verdict == "not_enough"
    assert found.look is None
    assert why((), Facts(), {"fogged": 500}).verdict == "not_enough"  # however often it was that


def test_a_sign_that_many_causes_show_is_not_enough() -> None:
    """A single one: what shows it best is still less likely than all the rest together. A number settles it."""
    assert why(("clears_late",), Facts()).verdict == "not_enough"
    assert why(("clears_late",), Facts(developer_off_c=-7.0)).verdict == "told"


def test_numbers_as_usual_and_no_sign_accuse_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each where it belongs, they double how likely it is that nothing went wrong; told beyond even odds only."""
    usual = Facts(
        dose_share=1.0,
        held_off=0.0,
        rest="kept",
        contact="good",
        faces_off_um=20.0,
        clear_share=1.1,
        dwell_share=1.67,
        developer_used=0.3,
        developer_off_c=0.0,
        etch_share=1.0,
        etchant_used=0.3,
        etchant_off_c=0.0,
    )
    found = why((), usual)
    assert found.verdict == "not_enough"
    assert found.sound > 2 * network.AT_WORK[0]
    monkeypatch.setattr(answer, "SOUND", 0.4)
    assert why((), usual).sentence.code == "why_sound"


@pytest.mark.long
def test_a_foreign_bench_finds_it_useful() -> None:
    """In short what the benchmark `job` judges at length: far better than naming what comes most often."""
    found = job.judged(60, 31_000)
    assert found.named / found.acted > 0.7
    assert found.named / found.acted > 0.25 + found.by_priors / found.acted
    assert found.untold / found.faulty < 0.25
