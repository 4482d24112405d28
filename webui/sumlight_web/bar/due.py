"""What is due next of all panels on their way, and which timers ring. Pure."""

from dataclasses import dataclass

from sumlight.protocol.snapshot import Snapshot
from sumlight_web import words
from sumlight_web.language import _
from sumlight_web.texts import text_of


@dataclass(frozen=True)
class Ring:
    """A timer that calls: `what` it is for, `why` it rings now."""

    timer_id: int
    panel_id: int | None
    what: str
    why: str


def rings(snapshot: Snapshot | None) -> list[Ring]:
    """The timers that ring, in words."""
    if snapshot is None:
        return []
    found = []
    for timer in snapshot["jobs"]["timers"]:
        if timer["rings"] is not None:
            what = " · ".join(part for part in (timer["panel"] or "", text_of(timer["title"])) if part)
            unsure = _("The clock was set meanwhile: this time is not sure.") if timer["unsure"] else ""
            why = " ".join(part for part in (words.sentence(text_of(timer["rings"])), unsure) if part)
            found.append(Ring(timer["timer_id"], timer["panel_id"], what, why))
    return found


def due_words(snapshot: Snapshot | None) -> str:
    """One line: whose turn is next and what for; nothing while no panel is on its way."""
    due = snapshot["jobs"]["due"] if snapshot is not None else None
    if due is None:
        return ""
    title = text_of(due["title"]) if due["title"] else _("all steps are over")
    if due["left_s"] < 1:
        return _("Due next: {panel}, {step}", panel=due["panel"], step=title)
    return _("Next in {time}: {panel}, {step}", time=words.duration(due["left_s"]), panel=due["panel"], step=title)
