"""The judge of the safety chain, fed by hand."""

import pytest

from sumlight.box.lid import LidState
from sumlight.box.signals import SignalReading
from sumlight.control.safety.interlocks import K1_FOLLOW_S, OPENINGS_MAX, OPENINGS_SPAN_S, Interlocks

WELL = SignalReading(k1_dropped=True, stop_released=True, cool=True)
NOTHING = SignalReading(None, None, None)


def look(
    chain: Interlocks, now_s: float, reading: SignalReading = WELL, *, lid: LidState = "shut", held: bool = False
) -> list[str]:
    """The names of what is found."""
    return [name for name, _ in chain.look(now_s, reading, lid=lid, k1_held=held, lid_both_open=False)]


def test_a_sound_chain_finds_nothing() -> None:
    """K1 follows its line, within the time it has."""
    chain = Interlocks()
    assert look(chain, 10.0) == []
    closed = SignalReading(k1_dropped=False, stop_released=True, cool=True)
    assert look(chain, 11.0, held=True) == []
    assert look(chain, 11.0 + K1_FOLLOW_S, closed, held=True) == []
    assert look(chain, 20.0, closed, held=True) == []
    assert look(chain, 21.0, closed) == []
    assert look(chain, 21.0 + K1_FOLLOW_S, WELL) == []
    assert look(chain, 30.0, WELL) == []
    assert chain.present == set()


@pytest.mark.parametrize(
    ("reading", "name"),
    [
        (SignalReading(k1_dropped=True, stop_released=False, cool=True), "emergency_stop"),
        (SignalReading(k1_dropped=True, stop_released=True, cool=False), "too_hot"),
    ],
)
def test_an_open_contact_is_found_in_the_same_look_and_stays_present(reading: SignalReading, name: str) -> None:
    """Until it is closed again."""
    chain = Interlocks()
    assert look(chain, 1.0, reading) == [name]
    assert look(chain, 2.0, reading) == [name]
    assert chain.present == {name}
    assert look(chain, 3.0) == []
    assert chain.present == set()


def test_trouble_that_is_over_is_present_no_more_although_all_is_as_it_was_before() -> None:
    """A chain that says the same again is heard once: not beyond something else that it said in between."""
    chain = Interlocks()
    assert look(chain, 1.0) == []
    assert look(chain, 2.0, WELL._replace(stop_released=False)) == ["emergency_stop"]
    assert look(chain, 3.0) == []
    assert chain.present == set()


def test_signals_left_out_find_nothing() -> None:
    """Not known is not trouble here; the page shows that they are left out."""
    chain = Interlocks()
    for now_s in (0.0, 5.0, 10.0):
        assert look(chain, now_s, NOTHING, held=now_s > 1) == []


def test_k1_that_does_not_drop_is_welded_after_its_time() -> None:
    """Counted from the tick in which its pump stopped."""
    chain = Interlocks()
    closed = SignalReading(k1_dropped=False, stop_released=True, cool=True)
    look(chain, 1.0, held=True)
    assert look(chain, 3.0, closed) == []
    assert look(chain, 3.0 + K1_FOLLOW_S, closed) == []
    assert look(chain, 3.001 + K1_FOLLOW_S, closed) == ["k1_welded"]
    assert chain.present == {"k1_welded"}


def test_k1_closed_at_the_very_start_is_welded() -> None:
    """Nobody has fed its pump yet."""
    chain = Interlocks()
    closed = SignalReading(k1_dropped=False, stop_released=True, cool=True)
    assert look(chain, 0.0, closed) == []
    assert look(chain, 1.0, closed) == ["k1_welded"]


def test_k1_that_does_not_close_is_silent_after_its_time() -> None:
    """A fuse, the stop's or the lid's mains contact."""
    chain = Interlocks()
    look(chain, 1.0)
    assert look(chain, 2.0, held=True) == []
    assert look(chain, 2.0 + K1_FOLLOW_S, held=True) == []
    assert look(chain, 2.001 + K1_FOLLOW_S, held=True) == ["k1_silent"]


def test_a_lid_that_opens_again_and_again_bounces() -> None:
    """More openings than a hand makes."""
    chain = Interlocks()
    look(chain, 0.0)
    found: list[str] = []
    for number in range(OPENINGS_MAX + 1):
        assert found == []
        found = look(chain, 1.0 + 0.2 * number, lid="open")
        if number < OPENINGS_MAX:
            look(chain, 1.1 + 0.2 * number, lid="shut")
    assert found == ["lid_bounces"]
    assert look(chain, 1.0 + OPENINGS_SPAN_S + 0.1, lid="shut") == []


def test_a_lid_opened_by_hand_now_and_then_does_not_bounce() -> None:
    """However often, if there is time in between; one long opening counts once."""
    chain = Interlocks()
    for number in range(30):
        assert look(chain, number * 1.0, lid="shut") == []
        assert look(chain, number * 1.0 + 0.3, lid="disagree") == []
        assert look(chain, number * 1.0 + 0.4, lid="open") == []


ALL_OPEN = SignalReading(k1_dropped=False, stop_released=False, cool=False)


def test_inputs_that_all_open_at_once_wait_a_moment_and_then_are_one_fault() -> None:
    """Within 50 ms nobody knows yet; none of their own names is latched meanwhile."""
    chain = Interlocks()
    chain.look(0.0, WELL, lid="shut", k1_held=True, lid_both_open=False)
    for tick in range(1, 11):
        found = chain.look(0.005 * tick, ALL_OPEN, lid="disagree", k1_held=False, lid_both_open=True)
        assert found == []
        assert chain.unpowered
    (fault,) = chain.look(0.0551, ALL_OPEN, lid="disagree", k1_held=False, lid_both_open=True)
    assert fault[0] == "inputs_unpowered"
    assert chain.present == {"inputs_unpowered"}


@pytest.mark.parametrize(
    ("reading", "names"),
    [
        (SignalReading(k1_dropped=False, stop_released=False, cool=True), ["emergency_stop"]),
        (SignalReading(k1_dropped=None, stop_released=True, cool=False), ["too_hot"]),
        (SignalReading(k1_dropped=True, stop_released=False, cool=False), ["emergency_stop", "too_hot"]),
    ],
)
def test_one_input_that_still_reads_closed_proves_the_supply(reading: SignalReading, names: list[str]) -> None:
    """Each of the others then means what it says, at once."""
    found = Interlocks().look(0.0, reading, lid="disagree", k1_held=True, lid_both_open=True)
    assert [name for name, _ in found] == names


def test_a_mirror_alone_proves_no_missing_supply() -> None:
    """It is open whenever K1 is held."""
    chain = Interlocks()
    reading = SignalReading(k1_dropped=False, stop_released=None, cool=None)
    for tick in range(30):
        assert chain.look(0.005 * tick, reading, lid="disagree", k1_held=True, lid_both_open=True) == []
    assert not chain.unpowered


def test_inputs_that_have_been_open_for_just_50_ms_are_the_fault() -> None:
    """Not a look later."""
    chain = Interlocks()
    assert chain.look(0.0, ALL_OPEN, lid="disagree", k1_held=False, lid_both_open=True) == []
    ((name, _),) = chain.look(0.05, ALL_OPEN, lid="disagree", k1_held=False, lid_both_open=True)
    assert name == "inputs_unpowered"


def test_openings_of_long_ago_do_not_hide_a_lid_that_bounces_now() -> None:
    """Only the last ones count: seven within three seconds, whatever came before."""
    chain = Interlocks()
    for opened_s in (0.0, 20.0, 40.0):
        look(chain, opened_s)
        look(chain, opened_s + 1.0, lid="open")
    found: list[str] = []
    for number in range(7):
        look(chain, 60.0 + 0.4 * number)
        found = look(chain, 60.2 + 0.4 * number, lid="open")
    assert found == ["lid_bounces"]


@pytest.mark.parametrize("held", [True, False])
def test_k1_that_contradicts_the_other_way_round_has_its_time_anew(held: bool) -> None:
    """Line and mirror changed within the same look: each contradiction is judged by its own time."""
    chain = Interlocks()
    odd = {way: SignalReading(k1_dropped=way, stop_released=True, cool=True) for way in (True, False)}
    assert look(chain, 0.0, odd[held], held=held) == []
    assert look(chain, 0.4, odd[not held], held=not held) == []
    assert look(chain, 0.8, odd[not held], held=not held) == []
    assert look(chain, 1.0, odd[not held], held=not held) == [("k1_welded" if held else "k1_silent")]


@pytest.mark.parametrize(("apart_s", "names"), [(0.5, ["lid_bounces"]), (0.502, [])])
def test_seven_openings_bounce_if_they_lie_within_three_seconds(apart_s: float, names: list[str]) -> None:
    """Three seconds from the first to the last are within."""
    chain = Interlocks()
    found: list[str] = []
    for number in range(7):
        look(chain, 10.0 + apart_s * number - 0.1)
        found = look(chain, 10.0 + apart_s * number, lid="open")
    assert found == names


def test_a_supply_that_is_back_and_fails_again_has_its_moment_anew() -> None:
    """What was counted before counts no more."""
    chain = Interlocks()
    assert chain.look(0.0, ALL_OPEN, lid="disagree", k1_held=False, lid_both_open=True) == []
    assert look(chain, 0.04) == []
    assert not chain.unpowered
    assert chain.look(0.06, ALL_OPEN, lid="disagree", k1_held=False, lid_both_open=True) == []


def test_a_shut_lid_proves_the_supply_of_signals_that_all_read_open() -> None:
    """Its contacts have the same supply."""
    assert look(Interlocks(), 0.0, ALL_OPEN) == ["emergency_stop", "too_hot"]


def test_k1_that_agreed_in_between_has_its_time_anew() -> None:
    """A contact that bounces is not welded."""
    chain = Interlocks()
    closed = SignalReading(k1_dropped=False, stop_released=True, cool=True)
    assert look(chain, 0.0, closed) == []
    assert look(chain, 0.4) == []
    assert look(chain, 0.6, closed) == []
