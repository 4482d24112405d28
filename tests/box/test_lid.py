"""The lid's two contacts, judged over time."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.box.lid import SETTLE_S, Lid, LidJudge
from tests.box.parts import Bench

LIMIT_S = 0.5
SHUT = {"says_shut": True, "says_open": False}
OPEN = {"says_shut": False, "says_open": True}
NEITHER = {"says_shut": False, "says_open": False}
BOTH = {"says_shut": True, "says_open": True}


def judged(*readings: tuple[float, dict[str, bool]]) -> LidJudge:
    """A judge that has seen these readings."""
    judge = LidJudge(LIMIT_S)
    for at_s, contacts in readings:
        judge.update(at_s, **contacts)
    return judge


def test_a_new_judge_does_not_say_shut() -> None:
    """The value at the start is the safe one."""
    assert LidJudge(LIMIT_S).state == "disagree"


def test_shutting_is_believed_after_a_tenth_of_a_second() -> None:
    """Not a moment earlier."""
    judge = judged((10.0, OPEN), (10.1, SHUT), (10.1 + SETTLE_S - 0.001, SHUT))
    assert judge.state == "open"
    assert judge.update(10.1 + SETTLE_S + 0.001, **SHUT) == "shut"


def test_a_contact_that_bounces_begins_anew() -> None:
    """A tenth of a second without interruption."""
    judge = judged((10.0, OPEN), (10.0, SHUT), (10.09, SHUT), (10.095, NEITHER), (10.1, SHUT), (10.19, SHUT))
    assert judge.state != "shut"
    assert judge.update(10.21, **SHUT) == "shut"


@pytest.mark.parametrize("contacts", [OPEN, NEITHER, BOTH])
def test_opening_is_believed_at_once(contacts: dict[str, bool]) -> None:
    """One reading is enough, also one where the contacts contradict each other."""
    judge = judged((10.0, SHUT), (10.2, SHUT))
    assert judge.state == "shut"
    assert judge.update(10.205, **contacts) == ("open" if contacts is OPEN else "disagree")


def test_a_contradiction_for_a_moment_is_not_an_open_lid() -> None:
    """Nor shut; it stays what it is until the contacts have agreed for long enough."""
    judge = judged((10.0, SHUT), (10.2, SHUT), (10.205, NEITHER))
    assert judge.update(10.21, **SHUT) == "disagree"
    assert judge.update(10.32, **SHUT) == "shut"


@pytest.mark.parametrize("contacts", [NEITHER, BOTH])
def test_a_contradiction_becomes_a_mismatch_after_its_limit(contacts: dict[str, bool]) -> None:
    """Half a second here; agreement ends it."""
    judge = judged((10.0, contacts), (10.0 + LIMIT_S, contacts))
    assert not judge.mismatch
    judge.update(10.51, **contacts)
    assert judge.mismatch
    judge.update(10.52, **OPEN)
    assert not judge.mismatch


def test_the_two_contradictions_count_as_one() -> None:
    """Both, then neither: still no agreement."""
    judge = judged((10.0, BOTH), (10.3, NEITHER), (10.6, BOTH))
    assert judge.mismatch


@given(st.lists(st.tuples(st.floats(0.001, 0.3), st.booleans(), st.booleans()), max_size=60))
def test_shut_is_only_said_after_unbroken_agreement(readings: list[tuple[float, bool, bool]]) -> None:
    """Whatever the contacts do."""
    judge = LidJudge(LIMIT_S)
    now_s, agreed_since_s = 0.0, None
    for span_s, says_shut, says_open in readings:
        now_s += span_s
        state = judge.update(now_s, says_shut=says_shut, says_open=says_open)
        if not (says_shut and not says_open):
            agreed_since_s = None
            assert state != "shut"
        else:
            agreed_since_s = now_s if agreed_since_s is None else agreed_since_s
            assert (state == "shut") == (now_s - agreed_since_s >= SETTLE_S)


class Watched:
    """The lid of a simulated box, read at every tick."""

    def __init__(self) -> None:
        self.bench = Bench()
        self.lid = Lid(self.bench.box.lid, self.bench.pins)
        self.states: list[str] = []
        self.run(0.2)

    def read(self) -> None:
        """One reading."""
        self.states.append(self.lid.read(self.bench.clock.now_s))

    def run(self, seconds: float) -> list[str]:
        """The states of the next seconds."""
        before = len(self.states)
        self.bench.run(seconds, self.read)
        return self.states[before:]


def test_a_shut_lid_reads_shut_once_settled() -> None:
    """From the first tick to the twentieth it does not."""
    watched = Watched()
    assert set(watched.states[:19]) == {"disagree"}
    assert watched.states[-1] == "shut"


def test_a_lid_that_opens_reads_not_shut_at_the_next_tick_through_all_bounce() -> None:
    """And never shut again while it stands open."""
    watched = Watched()
    watched.bench.happen("lid_opens")
    states = watched.run(1.0)
    assert "shut" not in states
    assert states[-1] == "open"


def test_a_lid_that_shuts_reads_shut_a_tenth_of_a_second_after_its_bounce() -> None:
    """Once, and then for good."""
    watched = Watched()
    watched.bench.happen("lid_opens")
    watched.run(0.5)
    watched.bench.happen("lid_closes")
    states = watched.run(0.5)
    first = states.index("shut")
    assert 0.10 <= (first + 1) * 0.005 <= 0.12
    assert set(states[first:]) == {"shut"}


@pytest.mark.parametrize("contact", ["shut", "open"])
@pytest.mark.parametrize("grounded", [False, True], ids=["wire broken", "wire shorted to ground"])
def test_a_broken_or_shorted_wire_never_reads_shut_with_the_lid_open(contact: str, grounded: bool) -> None:
    """Whichever of the two it is; after half a second it is a fault as well, unless the other tells the truth."""
    watched = Watched()
    number = getattr(watched.bench.box.lid, f"{contact}_pin")
    pin = watched.bench.pin(number)
    if contact == "shut" and not grounded:
        assert watched.run(0.1)[-1] == "shut"
    watched.bench.happen("contact_sticks", contact=contact)
    watched.bench.world._lid.contacts[contact].closed = grounded  # what the stuck contact says from now on
    pin.ground(grounded, watched.bench.clock.now_s)
    watched.bench.happen("lid_opens")
    states = watched.run(1.0)
    assert "shut" not in states
    truthful = grounded == (contact == "open")
    assert watched.lid.judge.mismatch is not truthful


def test_a_broken_wire_of_the_shut_contact_never_reads_shut_at_all() -> None:
    """Not even with the lid shut."""
    watched = Watched()
    watched.bench.happen("contact_sticks", contact="shut")
    watched.bench.pin(23).ground(False, watched.bench.clock.now_s)
    states = watched.run(1.0)
    assert set(states) == {"disagree"}
    assert watched.lid.judge.mismatch


def test_closing_the_lid_device_releases_both_pins() -> None:
    """They can be taken anew."""
    watched = Watched()
    watched.lid.close()
    Lid(watched.bench.box.lid, watched.bench.pins).close()


def test_levels_are_read_and_edges_are_not_asked_for() -> None:
    """The pin library's thread for edges can hold a line at the end ("GPIO busy")."""
    watched = Watched()
    pins = watched.bench.pins
    for number in (watched.bench.box.lid.shut_pin, watched.bench.box.lid.open_pin):
        assert pins.pin(number).when_changed is None
