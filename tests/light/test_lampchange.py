"""Jumps of the light and their causes, and what is made of them in words."""

import math
from random import Random

import pytest

from sumlight.light.ageing import LampPoint
from sumlight.light.lampanswer import BankHistory, UsualRecipe, answer, compare
from sumlight.light.lampchange import dirt, find_steps, flicker, wear_of, without_dirt

RATE = 2.5e-4


def days_of(
    count: int,
    *,
    seed: int = 3,
    scatter: float = 0.012,
    at: int = 10**9,
    factor: float = 1.0,
    check_factor: float | None = None,
    light: float = 5.0,
    step_h: float = 3.0,
) -> list[LampPoint]:
    """One seasoned day after the other; from day `at` on, light and self-check are multiplied."""
    chance, found = Random(seed), []
    for day in range(count):
        hours = 100 + step_h * day
        value = light * math.exp(-RATE * hours) * math.exp(chance.gauss(0, scatter))
        check = None if check_factor is None else math.exp(chance.gauss(0, 0.003))
        if day >= at:
            value *= factor
            check = None if check is None or check_factor is None else check * check_factor
        found.append(LampPoint(hours, value, day, 1.0, check))
    return found


@pytest.mark.parametrize("scatter", [0.005, 0.03])
def test_a_steady_bank_seldom_shows_a_jump(scatter: float) -> None:
    """By simulation: at most 1 % of steady histories."""
    found = sum(bool(find_steps(days_of(40, seed=seed, scatter=scatter))) for seed in range(300))
    assert found <= 3


@pytest.mark.parametrize("at", [4, 30, 57])
def test_a_tube_gone_out_is_named_three_days_later(at: int) -> None:
    """One tube of six, early, in the middle and at the end."""
    steps = find_steps(days_of(60, at=at, factor=5 / 6), tube_count=6)
    assert [(s.cause, s.tubes, round(s.hours)) for s in steps] == [("tube_out", 1, 100 + 3 * at)]
    assert steps[0].share == pytest.approx(-1 / 6, abs=0.02)


def test_dirt_is_told_from_lamps_by_the_sensors_own_light() -> None:
    """The same loss, with and without the self-check falling."""
    assert [s.cause for s in find_steps(days_of(60, at=30, factor=0.9, check_factor=0.9))] == ["fouling"]
    assert [s.cause for s in find_steps(days_of(60, at=30, factor=0.9, check_factor=1.0))] == ["loss"]
    assert [s.cause for s in find_steps(days_of(60, at=30, factor=1.1, check_factor=1.1))] == ["cleaned"]


def test_more_light_without_a_recorded_swap_asks_for_one() -> None:
    """With the swap recorded it is expected."""
    days = days_of(60, at=30, factor=1.08)
    assert [s.cause for s in find_steps(days, air_known=True)] == ["unknown_swap"]
    assert [s.cause for s in find_steps(days, swap_hours=[190.0])] == ["swap"]


def test_one_stray_day_is_no_jump() -> None:
    """Two days at a third less light, then as before."""
    days = days_of(60)
    strays = [LampPoint(p.hours, p.mw_cm2 * (0.66 if p.day in (30, 44) else 1), p.day) for p in days]
    assert find_steps(strays, tube_count=6) == []


def test_two_jumps_are_both_found() -> None:
    """A tube out, later cleaned."""
    days = days_of(80, at=25, factor=5 / 6)
    days = [LampPoint(p.hours, p.mw_cm2 * (1.1 if p.day >= 55 else 1), p.day) for p in days]
    assert [s.cause for s in find_steps(days, tube_count=6)] == ["tube_out", "unknown_swap"]


def test_slow_dirt_is_taken_out_of_the_lamps() -> None:
    """A tenth of the light lost to dust over the readings, told and taken out."""
    days = [
        LampPoint(p.hours, p.mw_cm2 * (1 - p.day / 600), p.day, 1.0, 1 - p.day / 600)
        for p in days_of(60, scatter=0.004)
    ]
    assert dirt(days) == pytest.approx(0.095, abs=0.01)
    first, last = without_dirt(days)[0], without_dirt(days)[-1]
    assert last.mw_cm2 / first.mw_cm2 == pytest.approx(math.exp(-RATE * 177), abs=0.02)
    told = answer(BankHistory("upper", 280, days)).sentences
    assert any("clean the diffuser" in sentence for sentence in told)


def test_a_seasoned_bank_is_told_in_words() -> None:
    """Percent of new, hours left with an interval, what the recipe takes now and then."""
    days = days_of(400, step_h=1.5)  # more than a year, so that the room's part is known
    told = answer(BankHistory("lower", 697.0, days), UsualRecipe("blue-38", 60, 0.84))
    assert told.share is not None
    assert told.left_h is not None
    true = math.exp(-RATE * (697 - 125))  # of the mean light from 100 to 150 h
    assert told.share[0] == pytest.approx(true, abs=0.01)
    middle, low, high = told.left_h
    assert low is not None
    assert middle is not None
    assert high is not None
    true_left = (math.log(1 / 0.7) / RATE) + 125 - 697
    assert low <= true_left <= high
    words = " ".join(told.sentences)
    assert "of new" in words
    assert "Recipe blue-38 takes" in words
    assert told.seconds_at_level == pytest.approx(60 / (0.7 * 5 * math.exp(-RATE * 125) * 0.84), rel=0.01)


def test_nothing_is_foretold_while_lamps_run_in_or_are_hardly_known() -> None:
    """The reason is told instead."""
    young = [LampPoint(float(h), 5.0, h) for h in range(1, 60)]
    assert "still running in" in answer(BankHistory("lower", 59, young)).sentences[0]
    assert "At least 8" in answer(BankHistory("lower", 120, days_of(5))).sentences[0]


def test_an_end_beyond_the_rule_is_not_told() -> None:
    """Steady lamps: at least so far, and no further than six times what was seen."""
    days = [LampPoint(p.hours, 5.0 * math.exp(0.01 * ((p.day * 7) % 3 - 1)), p.day) for p in days_of(40)]
    told = answer(BankHistory("lower", 217, days))
    assert any("six times the observed time" in s for s in told.sentences)
    assert told.left_h is not None
    assert told.left_h[2] is None


def test_lamps_below_the_level_are_to_be_changed() -> None:
    """Whatever the interval says."""
    told = answer(BankHistory("lower", 1900, days_of(600)))
    assert any("change these lamps" in s for s in told.sentences)


def test_lamps_never_seen_young_have_no_percent_of_new() -> None:
    """And it is said."""
    days = [LampPoint(p.hours + 500, p.mw_cm2, p.day) for p in days_of(40)]
    told = answer(BankHistory("lower", 720, days))
    assert told.share is None
    assert any("not on record" in s for s in told.sentences)


def test_the_weak_bank_and_unequal_sides_are_named() -> None:
    """One bank lost a tube, the other did not."""
    good = answer(BankHistory("upper", 397, days_of(100)))
    bad = answer(BankHistory("lower", 397, days_of(100, seed=4, at=50, factor=5 / 6), tube_count=6))
    told = compare([good, bad])
    assert any("lower is the weak one" in s for s in told)
    assert any("Bank lower gives" in s for s in told)
    assert compare([good, answer(BankHistory("lower", 397, days_of(100, seed=9)))]) == []


def test_slow_strikes_and_long_warm_ups_are_signs_of_the_end() -> None:
    """Only when they stand clear of what was usual."""
    chance = Random(1)
    steady = [0.8 + chance.gauss(0, 0.05) for _ in range(60)]
    still = wear_of(steady, smallest=0.3)
    assert still is not None
    assert not still.clear
    assert wear_of(steady[:26], smallest=0.3) is None
    slow = [*steady, *(1.6 + chance.gauss(0, 0.1) for _ in range(7))]
    worn = wear_of(slow, smallest=0.3)
    assert worn is not None
    assert worn.clear
    assert (worn.usual, worn.now) == pytest.approx((0.8, 1.6), abs=0.1)
    told = answer(BankHistory("lower", 400, days_of(50), strikes_s=slow, warm_ups_s=[60.0] * 30 + [110.0] * 9))
    assert len(told.signs) == 2
    assert set(told.signs) <= set(told.sentences)


def test_a_jump_at_a_calibration_is_one_of_the_unit() -> None:
    """20 % more on the same lamps: percent of new is as without it, and nobody is asked about swapped tubes."""
    plain = answer(BankHistory("lower", 397, days_of(100), tube_count=6))
    moved = days_of(100, at=50, factor=1.2)
    told = answer(BankHistory("lower", 397, moved, tube_count=6, calibration_hours=[249.5]))
    assert [step.cause for step in told.steps] == ["calibrated"]
    assert "+20% at 250 h: the box was calibrated then; earlier light is put into the new unit." in told.sentences
    assert plain.share is not None
    assert told.share is not None
    assert told.share[0] == pytest.approx(plain.share[0], abs=0.01)
    assert told.new_mw_cm2 == pytest.approx(1.2 * (plain.new_mw_cm2 or 0), rel=0.01)
    elsewhere = answer(BankHistory("lower", 397, moved, tube_count=6, calibration_hours=[180.0]))
    assert [step.cause for step in elsewhere.steps] == ["unknown_swap"]


def test_a_calibration_through_dirt_takes_the_dirt_into_the_unit() -> None:
    """Light and self-check jump alike: nothing is left over for the unit, and the light stays what it was."""
    days = days_of(60, at=30, factor=1.25, check_factor=1.25)
    (step,) = find_steps(days, calibration_hours=[189.5])
    assert step.cause == "calibrated"
    assert step.share == pytest.approx(0.0, abs=0.01)


def test_flicker_is_the_swing_of_short_conversions() -> None:
    """A sine of amplitude a has an rms of a/√2 (definition); a straight rise, as in warming up, has none."""
    counts = [1000 * (1 + 0.35 * math.sin(2 * math.pi * k / 50)) for k in range(500)]
    assert flicker(counts) == pytest.approx(0.35 / math.sqrt(2), rel=0.01)
    assert flicker([1000 + 7.0 * k for k in range(20)]) == pytest.approx(0, abs=1e-9)
    assert flicker([v + 7.0 * k for k, v in enumerate(counts)]) == pytest.approx(
        flicker(counts) * 1000 / 2746.5, rel=0.02
    )
    with pytest.raises(ValueError, match="light"):
        flicker([0.0, 0.0, 0.0])


def test_a_flicker_that_has_grown_is_named() -> None:
    """Against what these lamps did before, so that a ripple the box always leaves is no sign."""
    chance = Random(3)
    always = [0.011 + chance.gauss(0, 0.001) for _ in range(40)]
    assert answer(BankHistory("lower", 400, days_of(50), flickers=always)).signs == ()
    (sign,) = answer(BankHistory("lower", 400, days_of(50), flickers=[*always, *[0.045] * 7])).signs
    assert sign.startswith("The light flickers by 4.5%, it was 1.1%.")


def test_a_level_out_of_reason_is_refused() -> None:
    """From 30 to 95 %."""
    with pytest.raises(ValueError, match="replacement level"):
        answer(BankHistory("lower", 400, days_of(50)), level=1.2)


@pytest.mark.parametrize("scatter", [0.008, 0.02])
def test_what_is_left_of_the_running_in_is_no_jump(scatter: float) -> None:
    """By simulation: a bank that lost 12 % early, a quarter of it after 100 h, shows a jump in at most 1 % of lives."""
    found = 0
    for seed in range(200):
        days = days_of(150, seed=seed, scatter=scatter)
        late = [LampPoint(p.hours, p.mw_cm2 * (1 + 0.12 * math.exp(-p.hours / 60)), p.day) for p in days]
        found += bool(find_steps(late))
    assert found <= 2


@pytest.mark.parametrize(("first", "third"), [(1.0, 0.9), (1.05, 0.945), (1.05, 0.97), (0.95, 0.92)])
def test_days_that_are_odd_between_two_changes_do_not_spoil_the_answer(first: float, third: float) -> None:
    """Four days between two recorded changes of which none is like another: what they tell is no trend."""
    odd = {50: first, 51: 1.003 * first, 52: third, 53: 0.69}
    days = [
        LampPoint(p.hours, p.mw_cm2 * odd.get(p.day, 1.0 if p.day < 50 else 0.83), p.day)
        for p in days_of(100, scatter=0.002)
    ]
    steps = find_steps(days, swap_hours=[250.0, 262.0])
    assert {s.cause for s in steps} == {"swap"}
    assert math.prod(1 + s.share for s in steps) == pytest.approx(0.83, abs=0.02)


def test_tubes_changed_one_after_the_other_are_one_jump() -> None:
    """No reading lies between the two changes, so only their sum can be known."""
    days = days_of(100, at=50, factor=1.1, scatter=0.004)
    steps = find_steps(days, swap_hours=[248.5, 249.0])
    assert [(s.cause, s.hours) for s in steps] == [("swap", 249.0)]
    assert steps[0].share == pytest.approx(0.1, abs=0.01)
