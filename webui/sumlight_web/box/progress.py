"""Where commissioning stands, in the reader's language: a snapshot in, the parts of its page out. Pure."""

from dataclasses import dataclass
from typing import Any

from sumlight.protocol.snapshot import Commissioning, CommissioningRun, Measure
from sumlight_web import words
from sumlight_web.box.reports import NAME
from sumlight_web.language import N_, _, figure
from sumlight_web.link import Latest
from sumlight_web.texts import text_of

OUTCOMES = {
    "passed": N_("Commissioning has passed."),
    "incomplete": N_(
        "Nothing failed, but commissioning is incomplete: what is not proved is left to a licensed electrician."
    ),
    "failed": N_("Commissioning has failed. Put right what the last step names, then start again."),
    "aborted": N_("Commissioning was given up. It has to be started again."),
}


@dataclass(frozen=True)
class Standing:
    """What holds for the present wiring, in one sentence; `alarm` when somebody must do something about it."""

    text: str
    alarm: bool


def commissioning_of(latest: Latest) -> Commissioning | None:
    """What control last said of it; None while nothing is known."""
    return latest.snapshot["commissioning"] if latest.snapshot is not None else None


def run_under_way(latest: Latest) -> CommissioningRun | None:
    """The run that somebody is walking through now."""
    told = commissioning_of(latest)
    run = None if told is None else told["run"]
    return run if run is not None and run["outcome"] is None else None


def standing(latest: Latest) -> Standing:
    """Needed, passed, unlocked or not known."""
    told = commissioning_of(latest)
    if told is None or latest.snapshot is None:
        return Standing(_("What is on record is not known until the box answers."), True)
    if latest.snapshot["simulated"]:
        text = _("Simulated box: nothing is locked here, and what passes here proves nothing about a real one.")
        return Standing(text, False)
    if told["passed_utc"]:
        when = words.local_day_and_time(told["passed_utc"])
        text = _("Passed for the present wiring on {when}, by {who}.", when=when, who=told["passed_by"] or "?")
        open_points = told["not_proved"]
        if open_points:
            titles = ", ".join(text_of(title) for title in open_points)
            text += " " + _("Incomplete. Not proved here: {points}.", points=titles)
        return Standing(text, bool(open_points))
    given = told["override"]
    if given:
        when = words.local_day_and_time(given["given_utc"])
        text = _(
            "Not commissioned for its present wiring. Unlocked all the same on {when} by {who}: {reason}",
            when=when,
            who=given["who"],
            reason=given["reason"],
        )
        return Standing(text, True)
    if told["older_walk"]:
        points = ", ".join(text_of(title) for title in told["older_walk"])
        text = _("Exposures are locked: this box was commissioned by an older walk that proved less.")
        return Standing(f"{text} " + _("Not proved so far: {points}.", points=points), True)
    return Standing(_("Exposures are locked: this box has not been commissioned for its present wiring."), True)


def facts(latest: Latest) -> list[tuple[str, str]]:
    """What the box sees at this moment, as pairs of name and value; empty when it is not heard."""
    snapshot = latest.snapshot
    if snapshot is None or not latest.live:
        return []
    lids = {"shut": _("Shut"), "open": _("Open"), "disagree": _("Contacts disagree")}
    found = [(_("Lid"), lids.get(snapshot["lid"], _("Not known")))]
    for bank in snapshot["banks"]:
        asked = _("Switched on") if bank["commanded"] else _("Switched off")
        seen = bank["irradiance_mw_cm2"]
        reads = bank["meter_ok"] and seen is not None
        found.append((_("Lamps {side}", side=bank["side"]), asked))
        found.append(
            (_("Meter {side}", side=bank["side"]), f"{words.number(seen, 2)} mW/cm²" if reads else _("Not reading"))
        )
    return found


def results(run: CommissioningRun) -> list[dict[str, Any]]:
    """The steps so far; `measures` hold what was measured, value and limit with their unit, and whether it was kept."""
    return [
        {
            "title": text_of(result["title"]),
            "passed": result["passed"],
            "proved": result["proved"],
            "found": text_of(result["found"]),
            "measures": [_measure(measure) for measure in result["measures"]],
        }
        for result in run["results"]
    ]


def _measure(measure: Measure) -> dict[str, Any]:
    unit = measure["unit"]
    return {
        "what": text_of(measure["what"]),
        "value": f"{figure(measure['value'], '.3g')} {unit}",
        "limit": f"{figure(measure['limit'], '.3g')} {unit}",
        "kept": measure["kept"],
    }


def outcome(run: CommissioningRun) -> str:
    """How the run ended, in words."""
    ended = run["outcome"] or ""
    return _(OUTCOMES.get("incomplete" if ended == "passed" and run["not_proved"] else ended, ended))


def left_out(run: CommissioningRun) -> list[tuple[str, str]]:
    """Steps that this box does without, each with its reason."""
    return [(text_of(left["title"]), text_of(left["why"])) for left in run["left_out"]]


def report_name(told: Commissioning | None) -> str:
    """The file of the report that the last run wrote; empty when there is none."""
    name = str((told["report"] if told is not None else None) or "").rpartition("/")[2]
    return name if NAME.match(name) else ""
