"""Judges the steps in which one hard-wired contact must drop K1 by itself, while the heart beats on. Pure."""

from typing import NamedTuple

from sumlight.control.commissioning.steps import ALONE_LIMIT_S, Step
from sumlight.control.safety.k1_alone import DROP_LIMIT_S, K1Alone
from sumlight.control.safety.permit import K1_ALONE_S

STEADY_S = 0.5
"""K1 must have been held this long before the person is asked to act."""

SIGNAL_AFTER_S = 1.0
"""A hard-wired contact may open before the one that tells the program, by as much as a slow hand needs."""

DONE = {
    "lid": "the lid was opened",
    "stop": "the emergency stop was pressed",
    "heat": "the over-temperature contact opened",
}
NOT_DONE = {"lid": "the lid was not opened", "stop": "the emergency stop was not pressed"}
SLOW = "Begin anew, and act as soon as the box says so."
MIRROR_HINT = "The mirror may be bridged, or K1 does not follow: mains off, then an electrician looks at both."
LIGHT_HINT = (
    "With the lid shut a bank relay may be welded: mains off, an electrician looks at it. With the lid open it was the "
    "room's light: darken the room and begin anew."
)


class Verdict(NamedTuple):
    """How it came out: `drop_s` from contact to mirror where both were seen; `hint` empty for the step's own."""

    passed: bool
    found: str
    hint: str = ""
    drop_s: float | None = None


def judge(step: Step, alone: K1Alone, now_s: float, opened: tuple[str, ...]) -> Verdict | None:
    """The verdict, or None while there is none yet; `opened` are the contacts that stand open now."""
    match alone.ended:
        case None:
            return None
        case "dropped":
            return _dropped(step, alone, now_s, opened)
        case "late" if _own(step) in alone.contacts:
            return Verdict(False, f"{DONE[_own(step)]}, but K1 stayed held for {DROP_LIMIT_S:g} s: {_missing(step)}")
        case "late":
            return Verdict(False, f"another contact than the one asked for opened: {', '.join(alone.contacts)}", SLOW)
        case "time" if step.trigger is not None:
            return Verdict(False, f"{NOT_DONE[step.trigger]} within {K1_ALONE_S:g} s", SLOW)
        case "time":
            found = f"K1 stayed held for {K1_ALONE_S:g} s: {_missing(step)}"
            return Verdict(False, f"{found}, or nobody pressed its button")
        case "not_at_rest":
            return Verdict(False, "K1's mirror did not show it dropped at first", MIRROR_HINT)
        case "not_closed":
            return Verdict(False, "K1's mirror did not show it held although the heart beat", MIRROR_HINT)
        case "too_early":
            return Verdict(False, "a contact opened before K1 was held", SLOW)
        case "light":
            return Verdict(False, "light was seen while K1 was held with all lamps off", LIGHT_HINT)
        case "fault":
            return Verdict(False, f"K1 was let go: {alone.why}", "Read the fault on the page, then begin anew.")
    return Verdict(False, "K1 was let go because somebody wanted dark", "Begin anew.")


def _own(step: Step) -> str:
    """The signal that goes with the contact: a cut-out may open that of the heat with it."""
    return step.trigger or "heat"


def _missing(step: Step) -> str:
    return f"{step.part} is missing in K1's coil circuit, or bridged"


def _dropped(step: Step, alone: K1Alone, now_s: float, opened: tuple[str, ...]) -> Verdict | None:
    """K1 dropped while edges ran: by the contact asked for, in time, and by no other."""
    contacts = {*alone.contacts, *opened}
    dropped_s = now_s if alone.dropped_s is None else alone.dropped_s
    others = contacts - {_own(step)}
    if others:
        return Verdict(False, f"another contact than the one asked for opened: {', '.join(sorted(others))}", SLOW)
    if step.trigger and step.trigger not in contacts:
        if now_s - dropped_s < SIGNAL_AFTER_S:
            return None
        return Verdict(False, f"K1 dropped by itself: {NOT_DONE[step.trigger]}", MIRROR_HINT)
    drop_s = None if alone.acted_s is None else dropped_s - alone.acted_s
    if drop_s is not None and drop_s > ALONE_LIMIT_S:
        return Verdict(False, f"too slow: K1 dropped {drop_s:.2f} s after the contact opened", drop_s=drop_s)
    return Verdict(True, "K1 dropped by this contact alone, while the heart beat on", drop_s=drop_s)
