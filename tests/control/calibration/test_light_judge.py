"""The judge of a bank's light alone, by numbers made by hand; and what jumps and colour leave in doubt."""

import math
from dataclasses import replace

import pytest

from sumlight.control.calibration.dose_uncertainty import jump_doubt, spectral_doubt, window_doubt
from sumlight.control.calibration.expected_light import ExpectedLight, LightJudge
from sumlight.control.calibration.lamp_colour import Spectrum
from sumlight.control.calibration.seen_light import SeenLight, seen_in
from sumlight.light.fingerprint import Comparison
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7331
from sumlight.text.message import NOTHING, Later

UNIT = 800.0
"""Counts of one basic count: gain 16 and 50 ms."""
NET = (10.0, 8.0, 0.05, 0.02, 3.5, 0.01)
BEFORE = SeenLight(NET, 0, 100.0, "below", "")
EXPECTED = ExpectedLight("tubes", 0.5, 0.3, calibrated=True, before=BEFORE)


def judge(expected: ExpectedLight | None = EXPECTED) -> LightJudge:
    """Of bank lower."""
    made = LightJudge("lower")
    made.expect(expected)
    made.begin()
    return made


def scaled(factor: float, violet: float = 1.0) -> tuple[float, ...]:
    """All channels by a factor, violet by another one on top."""
    return (NET[0] * factor * violet, *(channel * factor for channel in NET[1:]))


def words(found: Later | None) -> str:
    """What was found."""
    return "" if found is None else found.said()


def test_the_light_of_the_last_panel_is_no_news() -> None:
    """Nor is half of it, of the same colour, as in the cold."""
    made = judge()
    for factor in (1.0, 0.5, 2.0):
        assert made.early(scaled(factor), UNIT, 2) is None
        assert made.settled(scaled(factor), UNIT, 10) is None
    assert made.unlikely is None


def test_light_stronger_than_lamps_can_give_is_told_at_the_second_conversion() -> None:
    """Whatever its colour; a calibrated box has a colour to go by, and one odd reading proves nothing."""
    made = judge(replace(EXPECTED, calibrated=False, before=None))
    assert made.strength(scaled(12.0)) is None
    assert made.strength(scaled(1.0)) is None
    assert made.strength(scaled(12.0)) is None
    assert "60 mW/cm² is more than such lamps can give" in words(made.strength(scaled(12.0)))
    assert made.unlikely is not None
    sure = judge()
    assert [sure.strength(scaled(12.0)) for _ in range(3)] == [None] * 3


@pytest.mark.parametrize("factor", [0.3, 3.4])
def test_light_that_is_three_times_more_or_less_is_told(factor: float) -> None:
    """In the same colour: no room does that."""
    made = judge()
    found = made.settled(scaled(factor), UNIT, 10)
    assert "the light of the last panel" in words(found)
    assert made.unlikely is not None


def test_light_of_other_lamps_long_ago_or_of_none_is_not_compared_with() -> None:
    """Where nothing is known, only the kind of lamps is judged."""
    made = judge(replace(EXPECTED, before=None))
    assert made.settled(scaled(5.0), UNIT, 10) is None
    blind = judge(None)
    assert blind.early(scaled(1.0, violet=40.0), UNIT, 2) is None


def test_blue_that_changes_within_one_light_is_told_without_any_past() -> None:
    """A bit of violet that begins to count: 6144 of 8000 counts and then 3 % less."""
    made = judge(None)
    assert made.settled(scaled(0.8), UNIT, 10) is None
    assert made.settled(scaled(0.85), UNIT, 10) is None
    assert "within this light" in words(made.settled(scaled(0.9, violet=0.97), UNIT, 10))


def test_a_jump_is_noticed_once_and_a_warm_up_is_none() -> None:
    """8 % at once against half a per cent a second for ten seconds; a change of gain is no jump either."""
    made = judge()
    for step in range(200):
        made.follow(10.0 * (1 + 0.005 * 0.05 * step), UNIT)
    assert made.jumps_ln == []
    for _ in range(40):
        made.follow(10.5 * 0.92, UNIT)
    assert [math.exp(jump) for jump in made.jumps_ln] == pytest.approx([0.92], abs=0.005)
    for _ in range(40):
        made.follow(10.5 * 0.92 * 1.03, UNIT / 2)
    assert len(made.jumps_ln) == 1
    assert "-8%" in " ".join(made.remarks())
    made.expect(EXPECTED)
    assert made.remarks() == []


def test_less_light_than_last_is_told_while_nobody_has_looked_at_the_window() -> None:
    """A fifth less; not after a fresh self-check, and not for a tenth."""
    made, looked = judge(), judge(replace(EXPECTED, window_seen=True))
    for each in (made, looked):
        each.settled(scaled(0.8), UNIT, 10)
    assert "20% less light" in " ".join(made.remarks())
    assert window_doubt(made.weaker) == pytest.approx(-math.log(0.8))
    assert (looked.remarks(), window_doubt(looked.weaker)) == ([], 0.0)
    made.settled(scaled(0.9), UNIT, 10)
    assert "20% less light" in " ".join(made.remarks()), "what lamps that warm up hide again is not forgotten"
    made.begin()
    made.settled(scaled(0.9), UNIT, 10)
    assert made.remarks() == []


def test_a_jump_is_in_doubt_with_all_of_it() -> None:
    """Rectangular over its size (JCGM 100, 4.3.7); there and back again is no worse than there."""
    assert jump_doubt([]) == 0.0
    assert jump_doubt([-0.09]) == pytest.approx(0.09 / math.sqrt(3))
    assert jump_doubt([-0.09, 0.09]) == pytest.approx(0.09 / math.sqrt(3))
    assert jump_doubt([0.05, 0.05]) == pytest.approx(0.1 / math.sqrt(3))


def test_a_change_of_colour_soon_after_the_calibration_is_not_age() -> None:
    """The same change counts less the older the calibration is, and never more than half of it."""
    drift = Comparison("drifting", 5.0, 0.06, False, NOTHING)
    of = [spectral_doubt(drift, age_h) for age_h in (0.0, 20.0, 100.0, 1000.0)]
    assert of == sorted(of, reverse=True)
    assert of[0] > 3 * of[-1]
    assert of[0] <= 0.03
    assert spectral_doubt(drift, None) == of[-1]
    assert spectral_doubt(None, 0.0) == 0.0


@pytest.mark.parametrize("budget", ["", "[]", "{}", '{"settled_basic_counts": [1, 2], "anchor": {}}', "{"])
def test_a_record_without_settled_light_tells_nothing(budget: str) -> None:
    """Older ones, and what a failing card made of one."""
    assert seen_in(budget) is None


def test_another_gain_is_no_ripple() -> None:
    """Steps of gain are off by per cents, and steady light then reads otherwise; this one, made up, by a fifth."""
    spectrum = Spectrum("lower", AS7331)
    spectrum.switched(on=True, now_s=0.0)
    for number in range(120):
        gain_code, count = (5, 10_000) if number < 60 else (6, 24_000)
        end_s = 10 + 0.064 * number
        spectrum.lit(Sample(end_s, end_s - 0.032, (count, 0, 0, 0, 0, 0), gain_code, 0), first_light_s=0.8)
    assert spectrum.signs is not None
    assert spectrum.signs.swing == pytest.approx(0.0, abs=1e-9)
