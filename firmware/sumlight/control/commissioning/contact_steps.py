"""Judges the steps in which one hard-wired contact must drop K1 by itself, while the heart beats on. Pure."""

from typing import NamedTuple

from sumlight.control.commissioning.steps import ALONE_LIMIT_S, Step
from sumlight.control.safety.k1_alone import DROP_LIMIT_S, K1Alone
from sumlight.control.safety.permit import K1_ALONE_S
from sumlight.text.message import Message, say

STEADY_S = 0.5
"""K1 must have been held this long before the person is asked to act."""

SIGNAL_AFTER_S = 1.0
"""A hard-wired contact may open before the one that tells the program, by as much as a slow hand needs."""

SLOW = say("act_as_soon_as_told")
MIRROR_HINT = say("mirror_may_be_bridged")
LIGHT_HINT = say("welded_or_room_light")


class Verdict(NamedTuple):
    """How it came out: `drop_s` from contact to mirror where both were seen; `hint` empty for the step's own."""

    passed: bool
    found: Message
    hint: Message | None = None
    drop_s: float | None = None


def judge(step: Step, alone: K1Alone, now_s: float, opened: tuple[str, ...]) -> Verdict | None:
    """The verdict, or None while there is none yet; `opened` are the contacts that stand open now."""
    match alone.ended:
        case None:
            return None
        case "dropped":
            return _dropped(step, alone, now_s, opened)
        case "late" if _own(step) in alone.contacts:
            return Verdict(False, _stayed_held(step))
        case "late":
            return Verdict(False, say("another_contact_opened", names=alone.contacts), SLOW)
        case "time":
            return _nothing_opened(step)
        case "not_at_rest":
            return Verdict(False, say("mirror_not_dropped"), MIRROR_HINT)
        case "not_closed":
            return Verdict(False, say("mirror_not_held"), MIRROR_HINT)
        case "too_early":
            return Verdict(False, say("contact_opened_too_early"), SLOW)
        case "light":
            return Verdict(False, say("light_while_k1_held"), LIGHT_HINT)
        case "fault" if alone.why is not None:
            return Verdict(False, say("k1_let_go", why=alone.why), say("read_fault_begin_anew"))
    return Verdict(False, say("k1_let_go_for_dark"), say("begin_anew"))


def _own(step: Step) -> str:
    """The signal that goes with the contact: a cut-out may open that of the heat with it."""
    return step.trigger or "heat"


def _stayed_held(step: Step) -> Message:
    match _own(step):
        case "lid":
            return say("lid_opened_k1_held", limit_s=DROP_LIMIT_S, part=step.part)
        case "stop":
            return say("stop_pressed_k1_held", limit_s=DROP_LIMIT_S, part=step.part)
    return say("heat_opened_k1_held", limit_s=DROP_LIMIT_S, part=step.part)


def _nothing_opened(step: Step) -> Verdict:
    match step.trigger:
        case "lid":
            return Verdict(False, say("lid_not_opened_in_time", limit_s=K1_ALONE_S), SLOW)
        case "stop":
            return Verdict(False, say("stop_not_pressed_in_time", limit_s=K1_ALONE_S), SLOW)
    return Verdict(False, say("k1_held_all_the_time", limit_s=K1_ALONE_S, part=step.part))


def _dropped(step: Step, alone: K1Alone, now_s: float, opened: tuple[str, ...]) -> Verdict | None:
    """K1 dropped while edges ran: by the contact asked for, in time, and by no other."""
    contacts = {*alone.contacts, *opened}
    dropped_s = now_s if alone.dropped_s is None else alone.dropped_s
    others = contacts - {_own(step)}
    if others:
        return Verdict(False, say("another_contact_opened", names=sorted(others)), SLOW)
    if step.trigger and step.trigger not in contacts:
        if now_s - dropped_s < SIGNAL_AFTER_S:
            return None
        by_itself = say("dropped_lid_not_opened") if step.trigger == "lid" else say("dropped_stop_not_pressed")
        return Verdict(False, by_itself, MIRROR_HINT)
    drop_s = None if alone.acted_s is None else dropped_s - alone.acted_s
    if drop_s is not None and drop_s > ALONE_LIMIT_S:
        return Verdict(False, say("dropped_too_late", time_s=drop_s), drop_s=drop_s)
    return Verdict(True, say("dropped_by_this_alone"), drop_s=drop_s)
