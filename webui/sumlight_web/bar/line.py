"""The line over the bar's two places: the state of the box, and the time left or whether lamps are on. Pure."""

from sumlight.protocol.snapshot import Exposure, Side, Snapshot
from sumlight_web import words
from sumlight_web.bar.act import BOTH, NO_WORD, is_draft, side_words
from sumlight_web.language import N_, _, named

SHORT = {"paused": N_("Paused"), "faulted": N_("Fault"), "done": N_("Done")}
"""States without the lamps, which stand beside them here."""

TOLD_AFTER_S = 2.0
"""Before so much light the time left is a guess by lamps that have only just been lit."""


def bar_line(snapshot: Snapshot | None, *, live: bool) -> tuple[str, str, str]:
    """State, time left or what the lamps do, and the mark of the lamps: on, off or unknown."""
    if snapshot is None or not live:
        return _(NO_WORD), words.NOTHING, "unknown"
    on = any(bank["commanded"] for bank in snapshot["banks"])
    exposure, state = snapshot["exposure"], snapshot["state"]
    if state == "light" and exposure is not None:
        lit = [side for side in exposure["sides"] if side["state"] in ("lit", "cut")]
        return _lit_words(exposure, lit), _left(lit), "on" if on else "off"
    told = _(SHORT[state]) if state in SHORT else named("state", state)
    if exposure is not None and state == "turn" and exposure["sides_mode"] == "series":
        told = _("Next round")
    elif exposure is not None and state == "done" and exposure["outcome"] == "abandoned":
        told = _("Given up")
    return told, _("lamps are on") if on else _("all lamps off"), "on" if on else "off"


def percent(side: Side) -> float:
    """How far a side is on its way to its dose, or through its time."""
    wanted_s = side.get("lit_for_s")
    if side["target_mj_cm2"] is not None and side["target_mj_cm2"] > 0:
        share = side["dose_mj_cm2"] / side["target_mj_cm2"]
    elif wanted_s:
        share = side["lit_s"] / wanted_s
    else:
        share = 0.0
    return min(100.0, max(0.0, 100.0 * share))


def left_s(side: Side) -> float | None:
    """The time that a lit side still takes; None before there was enough light to tell it from."""
    timed = side["target_mj_cm2"] is None
    return side["left_s"] if timed or side["lit_s"] >= TOLD_AFTER_S else None


def _lit_words(exposure: Exposure, lit: list[Side]) -> str:
    if not lit:
        return named("state", "light")
    share = f"{min(percent(side) for side in lit):.0f}"
    if exposure["sides_mode"] == "series":
        return _("Round {n} of {count}: {share} %", n=lit[0]["side"], count=len(exposure["sides"]), share=share)
    due = BOTH if len(lit) > 1 else lit[0]["side"]
    told = f"{side_words(due)}: {share} %"
    return words.capital(_("draft, {time}", time=told) if is_draft(exposure) else told)


def _left(lit: list[Side]) -> str:
    times = [left_s(side) for side in lit if side["state"] == "lit"]
    known = [seconds for seconds in times if seconds is not None]
    return _("{time} left", time=words.duration(max(known))) if known else words.NOTHING
