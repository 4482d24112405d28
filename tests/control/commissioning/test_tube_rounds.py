"""What each tube gives of a sensor's light: the parts, the tubes that are not seen, and looks that prove nothing."""

from collections.abc import Sequence

import pytest

from sumlight.box.description import Sight
from sumlight.control.commissioning.tube_rounds import SAME, SEEN_SHARE, WHOLE, Sighted, TubeRounds
from sumlight.light.tubefield import tube_irradiance

SIX = Sight(tubes=6, pitch_mm=50, height_mm=80, accepts_deg=63)
LONG_MM = 100_000.0
DROP_LIMIT = 0.1


def given_by(place: int, sight: Sight = SIX) -> float:
    """Light of one very long tube at the sensor, by the planner's closed form (Keitz), not by what judges."""
    across_mm = (place - (sight.tubes + 1) / 2) * sight.pitch_mm - sight.across_mm
    return tube_irradiance(1.0, LONG_MM, across_mm, 0.0, sight.height_mm) * LONG_MM


GIVEN = [given_by(place) for place in range(1, 7)]


def looked(levels_mw_cm2: Sequence[float], sight: Sight = SIX) -> Sighted:
    """All rounds, with one reading in the last moment of each."""
    rounds = TubeRounds("lower", sight, 60.0, DROP_LIMIT)
    for level in levels_mw_cm2:
        assert rounds.sighted() is None
        assert not rounds.look(59.9, level)
        assert rounds.look(60.0, level)
    found = rounds.sighted()
    assert found is not None
    return found


def levels(given: Sequence[float], first: float = 1.0) -> list[float]:
    """The light of a bank whose tubes give so much: all, without each, all; the first light `first` times as strong."""
    return [first * sum(given), *(sum(given) - each for each in given), sum(given)]


def test_the_parts_of_a_sound_bank_are_those_of_long_tubes() -> None:
    """Shares by the planner: 8, 15 and 26 % from the edge to the middle, as drawings/sensor.svg has them."""
    found = looked(levels(GIVEN))
    assert (found.proved, found.unseen) == (True, ())
    shares = [f"tube {place}: {each / sum(GIVEN):.0%}" for place, each in enumerate(GIVEN, start=1)]
    assert ", ".join(shares) in found.found
    assert "sees 6 of 6 tubes" in found.found


def test_tubes_whose_loss_no_fault_would_tell_are_named() -> None:
    """The outer ones give 8 %, the drop limit is 10 %."""
    assert "less than the 10% of drop_limit: 1, 6" in looked(levels(GIVEN)).found


@pytest.mark.parametrize("hidden", [(1,), (1, 2), (1, 6), (3,)])
def test_a_tube_that_a_collar_hides_is_not_seen(hidden: tuple[int, ...]) -> None:
    """Whatever box.yaml says of the angle."""
    given = [0.0 if place in hidden else each for place, each in enumerate(GIVEN, start=1)]
    found = looked(levels(given))
    assert (found.proved, found.unseen) == (True, hidden)
    assert f"sees {6 - len(hidden)} of 6" in found.found
    assert f"Not seen: {', '.join(map(str, hidden))}." in found.found


@pytest.mark.parametrize(("share", "unseen"), [(0.9 * SEEN_SHARE, (1,)), (1.1 * SEEN_SHARE, ())])
def test_half_of_its_part_is_what_a_tube_has_to_give(share: float, unseen: tuple[int, ...]) -> None:
    """As the guide says."""
    rest = sum(GIVEN[1:])
    part = share * GIVEN[0] / sum(GIVEN)
    assert looked(levels([rest * part / (1 - part), *GIVEN[1:]])).unseen == unseen


def test_tubes_on_one_ballast_prove_nothing() -> None:
    """Each of a pair takes the other's light along: the parts make twice the whole."""
    pairs = [GIVEN[0] + GIVEN[1]] * 2 + [GIVEN[2] + GIVEN[3]] * 2 + [GIVEN[4] + GIVEN[5]] * 2
    found = looked([sum(GIVEN), *(sum(GIVEN) - each for each in pairs), sum(GIVEN)])
    assert (found.proved, found.unseen) == (False, ())
    assert "make 200% of the light" in found.found


@pytest.mark.parametrize(("stray", "proved"), [(0.5 * WHOLE, True), (1.5 * WHOLE, False)])
def test_other_light_beside_the_tubes_leaves_the_parts_short(stray: float, proved: bool) -> None:
    """Daylight through a lid that leaks, as a share of all that the sensor sees."""
    extra = stray * sum(GIVEN) / (1 - stray)
    assert looked([level + extra for level in levels(GIVEN)]).proved is proved


@pytest.mark.parametrize(
    ("first", "proved"), [(1 - 0.9 * SAME, True), (1 - 1.1 * SAME, False), (1 + 1.1 * SAME, False)]
)
def test_a_bank_that_is_another_at_the_end_proves_nothing(first: float, proved: bool) -> None:
    """A tube that was not put back, say."""
    found = looked(levels(GIVEN, first))
    assert found.proved is proved
    assert proved or "at first and" in found.found


def test_a_bank_without_light_proves_nothing() -> None:
    """And divides by nothing."""
    assert not looked([0.0] * 8).proved


def test_the_person_is_told_which_tube_goes_out_and_which_goes_back() -> None:
    """In this order, and what hands do is what the words say."""
    rounds = TubeRounds("lower", SIX, 60.0, DROP_LIMIT)
    moves, words = [], []
    while rounds.sighted() is None:
        moves.append((rounds.back, rounds.out))
        words.append(rounds.words())
        rounds.look(60.0, 1.0)
    assert moves == [(0, 0), (0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 0)]
    assert "All tubes of bank lower are in" in words[0]
    assert "Take out tube 1 of bank lower, counted from the side where across_mm is negative" in words[1]
    assert "Put tube 4 of bank lower back and take out tube 5" in words[5]
    assert "Put tube 6 of bank lower back: now all are in" in words[7]
    assert all("Isolate the lamps from the mains and let the tubes cool" in each for each in words[1:])


def test_only_the_end_of_each_light_counts() -> None:
    """While the tubes warm up, the light still grows; without a reading the round goes on."""
    rounds = TubeRounds("lower", SIX, 60.0, DROP_LIMIT)
    assert not rounds.look(10.0, 99.0)
    assert not rounds.look(60.0, None)
    assert not rounds.look(58.0, 1.0)
    assert rounds.look(60.0, 3.0)
    assert rounds._levels_mw_cm2 == [2.0]
