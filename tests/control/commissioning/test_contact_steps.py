"""What a step makes of K1 held alone: only the contact asked for, in time, with the mirror dropping, passes it.

The times are of this test's own; what K1 does is told tick by tick, as the loop does.
"""

import pytest

from sumlight.control.commissioning.contact_steps import Verdict, judge
from sumlight.control.commissioning.facts import Facts
from sumlight.control.commissioning.state_machine import AFTER_OFF_S, Commissioning
from sumlight.control.commissioning.steps import ALONE_LIMIT_S, SETTLE_S, Step, steps_for
from sumlight.control.safety.k1_alone import CLOSE_LIMIT_S, DROP_LIMIT_S, Contact, K1Alone, K1Seen
from sumlight.control.safety.permit import K1_ALONE_S
from sumlight.text.message import say
from tests.control.bench_box import demo_box

TICK_S = 0.005


def step(name: str) -> Step:
    """One step of the demo box's walk."""
    return next(each for each in steps_for(demo_box())[0] if each.name == name)


def seen(*contacts: Contact, dropped: bool | None) -> K1Seen:
    """A tick in which these contacts stand open."""
    fine = {"banks_off": True, "meter_reads": True, "no_other_fault": True, "loop_in_time": True}
    return K1Seen(contacts, dropped, light=False, **fine)


def held() -> K1Alone:
    """K1 was at rest at 0 s and is held since 0.1 s."""
    alone = K1Alone(0.0)
    alone.look(0.0, seen(dropped=True))
    alone.look(0.1, seen(dropped=False))
    assert (alone.held_s, alone.ended) == (0.1, None)
    return alone


def opened(*contacts: Contact, drops_after_s: float) -> K1Alone:
    """Held, then these contacts open at 1 s and the mirror drops so much later."""
    alone = held()
    alone.look(1.0, seen(*contacts, dropped=False))
    alone.look(1.0 + drops_after_s, seen(*contacts, dropped=True))
    return alone


def verdict(name: str, alone: K1Alone, now_s: float, *open_now: str) -> Verdict:
    """That of the step; there must be one."""
    found = judge(step(name), alone, now_s, open_now)
    assert found is not None
    return found


@pytest.mark.parametrize(("name", "contact"), [("lid_alone", "lid"), ("stop_alone", "stop"), ("cut_out_alone", "heat")])
def test_k1_that_drops_with_the_contact_asked_for_passes_and_later_than_a_tenth_of_a_second_does_not(
    name: str, contact: Contact
) -> None:
    """About 100 ms are asked for: the pump alone would let go of K1 some time after its last edge."""
    quick = verdict(name, opened(contact, drops_after_s=0.03), 1.03, contact)
    assert quick.passed
    assert quick.drop_s == pytest.approx(0.03)
    slow = verdict(name, opened(contact, drops_after_s=ALONE_LIMIT_S + TICK_S), 1.2, contact)
    assert not slow.passed
    assert "Too slow" in slow.found
    assert pytest.approx(0.1) == ALONE_LIMIT_S


@pytest.mark.parametrize(
    ("name", "contact", "words"),
    [
        ("lid_alone", "lid", "the lid switch S3 is missing"),
        ("stop_alone", "stop", "the emergency stop S2 is missing"),
        ("cut_out_alone", "heat", "the thermal cut-out F3 is missing"),
    ],
)
def test_k1_that_stays_held_three_tenths_of_a_second_after_the_contact_fails_and_names_the_part(
    name: str, contact: Contact, words: str
) -> None:
    """Not before: until then the edges run on."""
    alone = held()
    alone.look(1.0, seen(contact, dropped=False))
    alone.look(1.0 + DROP_LIMIT_S - TICK_S, seen(contact, dropped=False))
    assert judge(step(name), alone, 1.0 + DROP_LIMIT_S - TICK_S, (contact,)) is None
    alone.look(1.0 + DROP_LIMIT_S + TICK_S, seen(contact, dropped=False))
    found = verdict(name, alone, 1.0 + DROP_LIMIT_S + TICK_S, contact)
    assert not found.passed
    assert words in found.found
    assert pytest.approx(0.3) == DROP_LIMIT_S


@pytest.mark.parametrize(
    ("name", "other"),
    [("lid_alone", "stop"), ("lid_alone", "heat"), ("stop_alone", "lid"), ("cut_out_alone", "lid")],
)
@pytest.mark.parametrize("drops_after_s", [0.03, None])
def test_another_contact_proves_nothing_of_the_one_asked_for(
    name: str, other: Contact, drops_after_s: float | None
) -> None:
    """Whether K1 follows it or not: the part asked for is neither passed nor called missing."""
    if drops_after_s is None:
        alone = held()
        alone.look(1.0, seen(other, dropped=False))
        alone.look(1.4, seen(other, dropped=False))
    else:
        alone = opened(other, drops_after_s=drops_after_s)
    found = verdict(name, alone, 1.5, other)
    assert not found.passed
    assert "Another contact than the one asked for" in found.found


@pytest.mark.parametrize(("name", "contact"), [("lid_alone", "lid"), ("stop_alone", "stop")])
def test_one_more_contact_beside_the_one_asked_for_proves_nothing_either(name: str, contact: Contact) -> None:
    """Both open: nobody knows which of them has dropped K1."""
    found = verdict(name, opened(contact, "heat", drops_after_s=0.03), 1.1, contact)
    assert not found.passed
    assert "Another contact" in found.found


@pytest.mark.parametrize(("name", "words"), [("lid_alone", "the lid was not opened"), ("stop_alone", "not pressed")])
def test_k1_that_drops_by_itself_fails_it_once_a_slow_hand_cannot_be_the_reason(name: str, words: str) -> None:
    """A hard-wired contact may open a little before the one that tells the program: for a second that is waited for."""
    alone = held()
    alone.look(1.0, seen(dropped=True))
    assert judge(step(name), alone, 1.9, ()) is None
    found = verdict(name, alone, 2.1)
    assert not found.passed
    assert "by itself" in found.found
    assert words in found.found
    assert verdict(name, alone, 1.9, step(name).trigger or "").passed


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("lid_alone", "was not opened within 20 s"),
        ("stop_alone", "was not pressed within 20 s"),
        ("cut_out_alone", "nobody pressed its button"),
    ],
)
def test_nothing_done_within_its_time_fails_it(name: str, words: str) -> None:
    """Of a cut-out, whose button tells the program nothing, it may be missing as well."""
    alone = held()
    alone.over(K1_ALONE_S)
    found = verdict(name, alone, K1_ALONE_S)
    assert not found.passed
    assert words in found.found


def test_whatever_else_ends_it_fails_it_and_says_what() -> None:
    """Each by itself."""
    early, idle, closed, bright, faulty, unwanted = (K1Alone(0.0) for _ in range(6))
    early.look(0.0, seen(dropped=True))
    early.look(0.1, seen("lid", dropped=True))
    idle.look(0.0, seen(dropped=True))
    idle.look(CLOSE_LIMIT_S, seen(dropped=True))
    closed.look(0.0, seen(dropped=False))
    bright.end("light")
    faulty.end("fault", say("no_reading"))
    unwanted.end("withdrawn")
    ends = {
        "before K1 was held": early,
        "did not show it held": idle,
        "did not show it dropped at first": closed,
        "Light was seen while K1 was held": bright,
        "K1 was let go: ": faulty,
        "somebody wanted dark": unwanted,
    }
    for words, alone in ends.items():
        found = verdict("lid_alone", alone, 1.0)
        assert not found.passed, words
        assert words in found.found


def test_k1_counts_as_shown_to_give_no_light_only_if_it_was_held_dark_by_its_mirror() -> None:
    """Before a person opens anything: each condition alone, at the end of a light whose relays must darken."""

    def walked(*, k1_held: bool, k1_dropped: bool, light: bool) -> Commissioning:
        run = Commissioning([step("bank_relay")], "A", disagreement_limit_s=1.0)
        run.next(Facts(0.0, "idle", "shut", False, False, None, None, 0.0, True, True, ()))
        for now_s in (0.5, 0.5 + SETTLE_S):
            run.look(Facts(now_s, "light", "shut", True, True, 5.0, 5.0, 0.0, False, True, ()))
        assert run.phase == "act"
        off_s = SETTLE_S + 1.0
        for now_s in (off_s, off_s + AFTER_OFF_S + 0.1):
            dark = Facts(now_s, "done", "shut", False, False, 0.0, 0.0, 0.0, k1_dropped, True, (), k1_held, light)
            run.look(dark)
        return run

    shown = walked(k1_held=True, k1_dropped=False, light=False)
    assert (shown.outcome, shown.k1_shown) == ("passed", True)
    for odd in (
        {"k1_held": False, "k1_dropped": False, "light": False},
        {"k1_held": True, "k1_dropped": True, "light": False},
        {"k1_held": True, "k1_dropped": False, "light": True},
    ):
        run = walked(**odd)
        assert (run.outcome, run.k1_shown) == ("failed", False), odd
        assert "K1" in run.results[-1].found


@pytest.mark.parametrize(("dropped", "outcome"), [(True, "passed"), (False, "failed"), (None, "failed")])
def test_at_rest_the_mirror_has_to_show_k1_dropped(dropped: bool | None, outcome: str) -> None:
    """A mirror that is bridged, or silent, is found before anything is lit."""
    run = Commissioning([step("k1_rest")], "A", disagreement_limit_s=1.0)
    run.next(Facts(0.0, "idle", "shut", False, False, None, None, 0.0, dropped, True, ()))
    assert run.outcome == outcome
    assert ("shows it closed" in run.results[-1].found) is (outcome == "failed")
