"""The state of the box in words, signs and numbers: one snapshot in, one view out, in the reader's language.

The server writes the first page from the view and the script keeps it up to date from the same view, so that no word
stands in two places.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import blake2s
from typing import Any

from sumlight.protocol.snapshot import Bank, Exposure, Side, Snapshot
from sumlight_web import words
from sumlight_web.bench.worth import standing_remarks, worth_words
from sumlight_web.language import N_, _, n_, reader
from sumlight_web.link import Latest
from sumlight_web.spoken import said

HEADLINES = {
    "idle": N_("Ready"),
    "vacuum": N_("Pulling vacuum"),
    "dark_check": N_("Checking darkness"),
    "light": N_("Exposing"),
    "paused": N_("Paused, lamps off"),
    "turn": N_("Turn the panel"),
    "faulted": N_("Fault, lamps off"),
    "done": N_("Done, lamps off"),
}

NEXT_LEG = N_("Next leg, lamps off")
NO_WORD = N_("No word from the box")
LOCKED = "This box has not been commissioned for its present wiring: exposures are locked."
"""A warning of control's that stands beside the way out of it, and then not a second time among the others."""

LID_WORDS = {"shut": N_("Shut"), "open": N_("Open"), "disagree": N_("Contacts disagree")}

SIDE_WORDS = {
    "waiting": N_("waiting for its turn"),
    "begun": N_("waits, below its dose"),
    "lit": N_("receives light"),
    "cut": N_("lamps just off, last light is counted"),
    "done": N_("has its dose"),
    "abandoned": N_("given up"),
}


@dataclass
class BenchView:
    """What the page shows. Keys are the page's own; see bench.html for where each one stands.

    `texts` words and numbers, `marks` which sign is shown, `shows` which parts are visible, `values` progress in
    percent, `keys` changes when a part has to be drawn anew, `plan` what the curve needs, `lock` what bars the start
    (`locked`, `under_way` or nothing), `warnings` what control says at all times, `remarks` on light and calibration.
    """

    live: bool
    texts: dict[str, str] = field(default_factory=dict)
    marks: dict[str, str] = field(default_factory=dict)
    shows: dict[str, bool] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    keys: dict[str, str] = field(default_factory=dict)
    plan: dict[str, Any] | None = None
    lock: str = ""
    warnings: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def bench_view(latest: Latest, *, operator: bool = True) -> BenchView:
    """The view of what is known now. Values of an old snapshot are left out or called old, never shown as live.

    A viewer who is no `operator` gets no means to light anything.
    """
    view = BenchView(latest.live)
    snapshot = latest.snapshot
    view.shows["stale"] = not view.live
    view.texts["stale"] = "" if view.live else _stale_notice(latest)
    if snapshot is None:
        _nothing_known(view)
        return view
    may = snapshot["may"] if view.live else []
    _whole(view, snapshot, may, operator)
    for bank in snapshot["banks"]:
        _bank(view, bank)
    _exposure(view, snapshot)
    _parts(view, snapshot, may, operator)
    return view


def _stale_notice(latest: Latest) -> str:
    if latest.snapshot is None:
        return _("The control program cannot be reached. Nothing here is live.")
    age = words.duration(max(2, latest.age_s))
    return _("No word from the box for {age}. Nothing here is live; doses are the last known.", age=age)


def _title(text: str) -> str:
    return f"{text} – Sumlight"


def _nothing_known(view: BenchView) -> None:
    view.texts |= {
        "headline": _(NO_WORD),
        "state_number": "",
        "sentence": _("Start the control program, or wait until it answers."),
        "lid": _("Not known"),
        "hold": "",
        "panel": "",
        "doubtful": "",
        "box": "",
        "title": _title(_("No word")),
    }
    view.marks |= {"state": "unknown", "lid": "unknown"}
    view.shows |= dict.fromkeys(("exposure", "start_form", "may_start", "simulated", "hold", "doubtful"), False)
    view.keys |= dict.fromkeys(("lamps", "sides", "faults", "actions", "warnings"), "")


def is_series(exposure: Exposure | None) -> bool:
    """Whether the exposure has numbered legs instead of sides."""
    return exposure is not None and exposure["sides_mode"] == "series"


def current_side(exposure: Exposure) -> Side | None:
    """The side or leg under light, else the next one, else the last."""
    for state in ("lit", "cut", "waiting"):
        for side in exposure["sides"]:
            if side["state"] == state:
                return side
    return exposure["sides"][-1] if exposure["sides"] else None


def _whole(view: BenchView, snapshot: Snapshot, may: Sequence[str], operator: bool) -> None:
    state = snapshot["state"]
    headline = NEXT_LEG if state == "turn" and is_series(snapshot["exposure"]) else HEADLINES[state]
    view.texts["box"] = snapshot["box"]
    view.texts["headline"] = _(headline) if view.live else _(NO_WORD)
    view.texts["sentence"] = said(snapshot["sentence"]) if view.live else _("Wait, or look at the box itself.")
    view.texts["lid"] = _(LID_WORDS.get(snapshot["lid"], N_("Not known"))) if view.live else _("Not known")
    view.texts["title"] = _title(view.texts["headline"])
    view.marks["state"] = state if view.live else "unknown"
    view.marks["lid"] = snapshot["lid"] if view.live else "unknown"
    view.shows["simulated"] = snapshot["simulated"]
    view.shows["start_form"] = operator and state in ("idle", "done")
    view.shows["may_start"] = "start" in may
    view.texts["state_number"] = str(snapshot["state_number"]) if view.live else ""


def _bank(view: BenchView, bank: Bank) -> None:
    at = f"bank.{bank['name']}"
    seen, on = bank["irradiance_mw_cm2"], bank["commanded"]
    if not view.live:
        view.texts |= {f"{at}.asked": _("Not known"), f"{at}.seen": _("Not known"), f"{at}.note": bank["meter"]}
        view.marks |= {f"{at}.lamps": "unknown", f"{at}.meter": "unknown"}
        return
    view.texts[f"{at}.asked"] = _("Switched on") if on else _("Switched off")
    view.marks[f"{at}.lamps"] = "on" if on else "off"
    reading = bank["meter_ok"] and seen is not None
    view.marks[f"{at}.meter"] = "ok" if reading else "lost"
    trouble = bank.get("meter_message")
    note = _("light as measured") if reading else trouble or _("no reading")
    view.texts[f"{at}.note"] = f"{bank['meter']}: {note}"
    view.texts[f"{at}.seen"] = f"{seen:.2f} mW/cm²" if reading else _("Not reading")


def _exposure(view: BenchView, snapshot: Snapshot) -> None:
    exposure = snapshot["exposure"]
    view.shows["exposure"] = exposure is not None
    view.shows["hold"] = view.shows["doubtful"] = False
    view.texts |= {"panel": "", "hold": "", "doubtful": ""}
    if exposure is None:
        return
    view.texts["panel"] = _(
        "Panel {panel}, recipe {recipe} ({resist})",
        panel=exposure["panel"],
        recipe=exposure["recipe"],
        resist=exposure["resist"],
    )
    view.shows["doubtful"] = exposure["doubtful"]
    if exposure["doubtful"]:
        why = exposure["doubtful_why"] or _("see its record")
        view.texts["doubtful"] = _("This panel is doubtful: {why}", why=why)
    if snapshot["state"] == "done" and view.live:
        _hold(view, exposure)
    true_doses = snapshot.get("true_dose_mj_cm2")
    for side in exposure["sides"]:
        _side(view, snapshot, side)
        if isinstance(true_doses, dict) and isinstance(true_doses.get(side["side"]), int | float):
            view.texts[f"side.{side['side']}.true"] = f"{words.dose(true_doses[side['side']])} mJ/cm²"
    view.plan = _plan(snapshot, exposure, view.live)
    lit = next((side for side in exposure["sides"] if side["state"] == "lit"), None)
    if lit is not None and view.live and snapshot["state"] == "light":
        view.texts["title"] = _title(f"{_percent(lit):.0f} %")


def _hold(view: BenchView, exposure: Exposure) -> None:
    left_s, whole_s = exposure["hold_left_s"], exposure["hold_s"]
    if exposure["outcome"] != "completed" or left_s is None:
        return
    view.shows["hold"] = True
    view.values["hold"] = round(100 * (1 - max(0.0, left_s) / whole_s), 1) if whole_s > 0 else 100.0
    if exposure.get("hold_state") == "overdue":
        view.texts["hold"] = _("The longest rest has passed. Test a corner before developing.")
    elif left_s > 0:
        ends, left = words.local_time(exposure["hold_ends_utc"]), words.duration(left_s)
        view.texts["hold"] = _("Let the panel rest for {left} more. Develop from {ends} on.", left=left, ends=ends)
        view.texts["title"] = _title(_("Rest {left}", left=left))
    else:
        view.texts["hold"] = _("The rest is over. The panel may be developed.")
        view.texts["title"] = _title(_("Rest is over"))


def _side(view: BenchView, snapshot: Snapshot, side: Side) -> None:
    at = f"side.{side['side']}"
    state, timed = side["state"], side["target_mj_cm2"] is None
    if state in ("lit", "cut", "waiting") and snapshot["state"] != "light" and side["dose_mj_cm2"] > 0:
        state = "begun"
    state_word = _("has had its time") if timed and state == "done" else _(SIDE_WORDS.get(state, state))
    view.texts |= {
        f"{at}.state": state_word if view.live else _("last known dose"),
        f"{at}.dose": words.dose(side["dose_mj_cm2"]),
        f"{at}.target": _aim(side),
        f"{at}.worth": worth_words(side),
        f"{at}.light": words.NOTHING,
        f"{at}.left": words.NOTHING,
        f"{at}.pauses": str(side["pauses"]),
    }
    view.values[at] = round(_percent(side), 2)
    view.marks[at] = state if view.live else "unknown"
    if not view.live:
        return
    light = side["irradiance_at_resist_mw_cm2"]
    if light is not None:
        view.texts[f"{at}.light"] = f"{light:.2f} mW/cm²"
    if state == "lit" and side["left_s"] is not None:
        ends = words.local_time(snapshot["utc"], side["left_s"])
        view.texts[f"{at}.left"] = _("{left}, about {ends}", left=words.duration(side["left_s"]), ends=ends)


def _spread_mj_cm2(side: Side) -> float | None:
    """How unsure the dose is (expanded). Of a dose that is relative only its repetition means anything."""
    if side.get("relative"):
        return side.get("expanded_repeat_mj_cm2")
    return side["expanded_uncertainty_mj_cm2"]


def _aim(side: Side) -> str:
    """What ends the light of a side: its dose or, in some series, its time."""
    if side["target_mj_cm2"] is not None:
        return _("of {target} mJ/cm²", target=words.target(side["target_mj_cm2"]))
    wanted_s = side.get("lit_for_s")
    if wanted_s is None:
        return "mJ/cm²"
    return _("mJ/cm² in {lit} of {wanted}", lit=words.duration(side["lit_s"]), wanted=words.duration(wanted_s))


def _percent(side: Side) -> float:
    wanted_s = side.get("lit_for_s")
    if side["target_mj_cm2"] is not None and side["target_mj_cm2"] > 0:
        share = side["dose_mj_cm2"] / side["target_mj_cm2"]
    elif wanted_s:
        share = side["lit_s"] / wanted_s
    else:
        share = 0.0
    return min(100.0, max(0.0, 100.0 * share))


def _plan(snapshot: Snapshot, exposure: Exposure, live: bool) -> dict[str, Any]:
    running = live and snapshot["state"] == "light"
    return {
        "exposure_id": exposure["exposure_id"],
        "mono_s": snapshot["mono_s"],
        "series": is_series(exposure),
        "sides": [
            {
                "side": side["side"],
                "target_mj_cm2": side["target_mj_cm2"],
                "dose_mj_cm2": side["dose_mj_cm2"],
                "worth": _worth(side),
                "left_s": side["left_s"] if running and side["state"] == "lit" else None,
            }
            for side in exposure["sides"]
        ],
    }


def _worth(side: Side) -> float | None:
    """The expanded uncertainty of the dose as a share of it, for the band around its curve."""
    wide = _spread_mj_cm2(side)
    return None if wide is None or side["dose_mj_cm2"] <= 0 else round(wide / side["dose_mj_cm2"], 4)


def _parts(view: BenchView, snapshot: Snapshot, may: Sequence[str], operator: bool) -> None:
    """A part's key holds everything its template shows that `texts` and `marks` do not."""
    exposure = snapshot["exposure"]
    sides = exposure["sides"] if exposure else []
    now = current_side(exposure) if exposure else None
    true_known = "true_dose_mj_cm2" in snapshot
    banks = snapshot["banks"]
    rows = [
        (b["name"], b["side"], b["meter"], n_("{n} start", "{n} starts", b["strikes"]), round(b["lamp_hours"]))
        for b in banks
    ]
    keys = {"lamps": repr(rows)}
    leg = (now["side"], [s["state"] for s in sides]) if now and is_series(exposure) else None
    keys["sides"] = repr([exposure and exposure["exposure_id"], [s["side"] for s in sides], true_known, leg])
    cause = exposure["pause_cause"] if exposure else None
    view.lock = _lock(snapshot) if view.live else ""
    acts = [m for m in may if m in ("go", "abandon")]
    keys["actions"] = repr([snapshot["state_number"], snapshot["state"], acts, cause, operator, view.lock])
    logbook = snapshot["logbook"]
    trouble = None if logbook["ok"] else logbook["message"]
    faults = [
        (f["name"], f["title"], f["detail"], f["remedy"], f["cause_gone"], f.get("stops")) for f in snapshot["faults"]
    ]
    keys["faults"] = repr([faults, "acknowledge" in may, trouble, operator])
    view.warnings = [said(told) for told in snapshot["warnings"] if view.lock != "locked" or told != LOCKED]
    view.remarks = standing_remarks(snapshot)
    keys["warnings"] = repr([view.warnings, view.remarks])
    for name, key in keys.items():
        view.keys[name] = blake2s((reader().language + key).encode(), digest_size=8).hexdigest()


def _lock(snapshot: Snapshot) -> str:
    stands = snapshot.get("commissioning") or {}
    run = stands.get("run")
    if run and run["outcome"] is None:
        return "under_way"
    return "locked" if stands.get("locked") else ""


def live_points(latest: Latest) -> list[list[float | str]]:
    """What the newest snapshot adds to the curve: [mono_s, side, mW/cm² at the resist, mJ/cm²] per lit side."""
    snapshot = latest.snapshot
    if snapshot is None or not latest.live or snapshot["exposure"] is None:
        return []
    return [
        [snapshot["mono_s"], side["side"], side["irradiance_at_resist_mw_cm2"] or 0.0, side["dose_mj_cm2"]]
        for side in snapshot["exposure"]["sides"]
        if side["state"] in ("lit", "cut")
    ]
