"""The state of the box in words, signs and numbers. Pure: one snapshot in, one view out.

The server writes the first page from the view and the script keeps it up to date from the same view, so that no word
stands in two places.
"""

from dataclasses import dataclass, field
from hashlib import blake2s
from typing import Any

from sumlight_web import words
from sumlight_web.bench.worth import standing_remarks, worth_words
from sumlight_web.link import Bank, Exposure, Latest, Side, Snapshot

HEADLINES = {
    "idle": "Ready",
    "dark_check": "Checking darkness",
    "light": "Exposing",
    "paused": "Paused, lamps off",
    "turn": "Turn the panel",
    "faulted": "Fault, lamps off",
    "done": "Done, lamps off",
}

LID_WORDS = {"shut": "Shut", "open": "Open", "disagree": "Contacts disagree"}

SIDE_WORDS = {
    "waiting": "waiting for its turn",
    "begun": "waits, below its dose",
    "lit": "receives light",
    "cut": "lamps just off, last light is counted",
    "done": "has its dose",
    "abandoned": "given up",
}

UNREACHABLE = "The control program cannot be reached. Nothing here is live."


@dataclass
class BenchView:
    """What the page shows. Keys are the page's own; see bench.html for where each one stands.

    `texts` words and numbers, `marks` which sign is shown, `shows` which parts are visible, `values` progress in
    percent, `keys` changes when a part has to be drawn anew, `plan` what the curve needs, `remarks` on light
    and calibration.
    """

    live: bool
    texts: dict[str, str] = field(default_factory=dict)
    marks: dict[str, str] = field(default_factory=dict)
    shows: dict[str, bool] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    keys: dict[str, str] = field(default_factory=dict)
    plan: dict[str, Any] | None = None
    remarks: list[str] = field(default_factory=list)


def bench_view(latest: Latest) -> BenchView:
    """The view of what is known now. Values of an old snapshot are left out or called old, never shown as live."""
    view = BenchView(latest.live)
    snapshot = latest.snapshot
    view.shows["stale"] = not view.live
    view.texts["stale"] = "" if view.live else _stale_notice(latest)
    if snapshot is None:
        _nothing_known(view)
        return view
    may = snapshot["may"] if view.live else []
    _whole(view, snapshot, may)
    for bank in snapshot["banks"]:
        _bank(view, bank)
    _exposure(view, snapshot)
    _parts(view, snapshot, may)
    return view


def _stale_notice(latest: Latest) -> str:
    if latest.snapshot is None:
        return UNREACHABLE
    age = words.duration(max(2, latest.age_s))
    return f"No word from the box for {age}. Nothing here is live; doses are the last known."


def _nothing_known(view: BenchView) -> None:
    view.texts |= {
        "headline": "No word from the box",
        "sentence": "Start the control program, or wait until it answers.",
        "lid": "Not known",
        "hold": "",
        "panel": "",
        "doubtful": "",
        "box": "",
        "title": "No word – Sumlight",
    }
    view.marks |= {"state": "unknown", "lid": "unknown"}
    view.shows |= dict.fromkeys(("exposure", "start_form", "may_start", "simulated", "hold", "doubtful"), False)
    view.keys |= dict.fromkeys(("lamps", "sides", "faults", "actions", "warnings"), "")


def _whole(view: BenchView, snapshot: Snapshot, may: list[str]) -> None:
    state = snapshot["state"]
    view.texts["box"] = snapshot["box"]
    exposure = snapshot["exposure"]
    series = exposure is not None and exposure["sides_mode"] == "series"
    headline = "Next leg, lamps off" if state == "turn" and series else HEADLINES[state]
    view.texts["headline"] = headline if view.live else "No word from the box"
    view.texts["sentence"] = snapshot["sentence"] if view.live else "Wait, or look at the box itself."
    view.texts["lid"] = LID_WORDS.get(snapshot["lid"], "Not known") if view.live else "Not known"
    view.texts["title"] = f"{view.texts['headline']} – Sumlight"
    view.marks["state"] = state if view.live else "unknown"
    view.marks["lid"] = snapshot["lid"] if view.live else "unknown"
    view.shows["simulated"] = snapshot["simulated"]
    view.shows["start_form"] = state in ("idle", "done")
    view.shows["may_start"] = "start" in may


def _bank(view: BenchView, bank: Bank) -> None:
    at = f"bank.{bank['name']}"
    seen, on = bank["irradiance_mw_cm2"], bank["commanded"]
    if not view.live:
        view.texts |= {f"{at}.asked": "Not known", f"{at}.seen": "Not known", f"{at}.note": bank["meter"]}
        view.marks |= {f"{at}.lamps": "unknown", f"{at}.meter": "unknown"}
        return
    view.texts[f"{at}.asked"] = "Switched on" if on else "Switched off"
    view.marks[f"{at}.lamps"] = "on" if on else "off"
    reading = bank["meter_ok"] and seen is not None
    view.marks[f"{at}.meter"] = "ok" if reading else "lost"
    trouble = bank.get("meter_message")
    view.texts[f"{at}.note"] = f"{bank['meter']}: {'light as measured' if reading else trouble or 'no reading'}"
    view.texts[f"{at}.seen"] = f"{seen:.2f} mW/cm²" if reading else "Not reading"


def _exposure(view: BenchView, snapshot: Snapshot) -> None:
    exposure = snapshot["exposure"]
    view.shows["exposure"] = exposure is not None
    view.shows["hold"] = view.shows["doubtful"] = False
    view.texts |= {"panel": "", "hold": "", "doubtful": ""}
    if exposure is None:
        return
    view.texts["panel"] = f"Panel {exposure['panel']}, recipe {exposure['recipe']} ({exposure['resist']})"
    view.shows["doubtful"] = exposure["doubtful"]
    if exposure["doubtful"]:
        view.texts["doubtful"] = f"This panel is doubtful: {exposure['doubtful_why'] or 'see its record'}"
    if snapshot["state"] == "done" and view.live:
        view.texts["hold"] = _hold(exposure)
        view.shows["hold"] = bool(view.texts["hold"])
    true_doses = snapshot.get("true_dose_mj_cm2")
    for side in exposure["sides"]:
        _side(view, snapshot, side)
        if isinstance(true_doses, dict) and isinstance(true_doses.get(side["side"]), int | float):
            view.texts[f"side.{side['side']}.true"] = f"{words.dose(true_doses[side['side']])} mJ/cm²"
    view.plan = _plan(snapshot, exposure, view.live)
    lit = next((side for side in exposure["sides"] if side["state"] == "lit"), None)
    if lit is not None and view.live:
        view.texts["title"] = f"{_percent(lit):.0f} % – Sumlight"


def _hold(exposure: Exposure) -> str:
    left_s = exposure["hold_left_s"]
    if exposure["outcome"] != "completed" or left_s is None:
        return ""
    if exposure.get("hold_state") == "overdue":
        return "The longest rest has passed. Test a corner before developing."
    if left_s > 0:
        ends = words.local_time(exposure["hold_ends_utc"])
        return f"Let the panel rest for {words.duration(left_s)} more. Develop from {ends} on."
    return "The rest is over. The panel may be developed."


def _side(view: BenchView, snapshot: Snapshot, side: Side) -> None:
    at = f"side.{side['side']}"
    state = side["state"]
    if state in ("lit", "cut", "waiting") and snapshot["state"] != "light" and side["dose_mj_cm2"] > 0:
        state = "begun"
    view.texts |= {
        f"{at}.state": SIDE_WORDS.get(state, state) if view.live else "last known dose",
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
        view.texts[f"{at}.left"] = f"{words.duration(side['left_s'])}, about {ends}"


def _aim(side: Side) -> str:
    """What ends the light of a side: its dose or, in some series, its time."""
    if side["target_mj_cm2"] is not None:
        return f"of {words.target(side['target_mj_cm2'])} mJ/cm²"
    wanted_s = side.get("lit_for_s")
    if wanted_s is None:
        return "mJ/cm²"
    return f"mJ/cm² in {words.duration(side['lit_s'])} of {words.duration(wanted_s)}"


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
        "sides": [
            {
                "side": side["side"],
                "target_mj_cm2": side["target_mj_cm2"],
                "dose_mj_cm2": side["dose_mj_cm2"],
                "left_s": side["left_s"] if running and side["state"] == "lit" else None,
            }
            for side in exposure["sides"]
        ],
    }


def _parts(view: BenchView, snapshot: Snapshot, may: list[str]) -> None:
    """A part's key holds everything its template shows that `texts` and `marks` do not."""
    exposure = snapshot["exposure"]
    sides = exposure["sides"] if exposure else []
    true_known = "true_dose_mj_cm2" in snapshot
    banks = snapshot["banks"]
    view.keys["lamps"] = repr([(b["name"], b["side"], b["meter"], round(b["lamp_hours"]), b["strikes"]) for b in banks])
    view.keys["sides"] = repr([exposure and exposure["exposure_id"], [s["side"] for s in sides], true_known])
    cause = exposure["pause_cause"] if exposure else None
    view.keys["actions"] = repr([snapshot["state"], [m for m in may if m in ("go", "abandon")], cause])
    logbook = snapshot["logbook"]
    trouble = None if logbook["ok"] else logbook["message"]
    faults = [(f["name"], f["title"], f["detail"], f["remedy"], f["cause_gone"]) for f in snapshot["faults"]]
    view.keys["faults"] = repr([faults, "acknowledge" in may, trouble])
    view.remarks = standing_remarks(snapshot)
    view.keys["warnings"] = repr([snapshot["warnings"], view.remarks])
    view.keys = {name: blake2s(key.encode(), digest_size=8).hexdigest() for name, key in view.keys.items()}


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
