"""The state of the box in words, signs and numbers: one snapshot in, one view out, in the reader's language.

The server writes the first page from the view and the script keeps it up to date from the same view, so that no word
stands in two places.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import blake2s
from typing import Any

from sumlight.protocol import display_rows
from sumlight.protocol.snapshot import WITHOUT_PANEL, Bank, Exposure, Side, Snapshot
from sumlight.text.message import Message
from sumlight_web import words
from sumlight_web.bar.act import NO_WORD, Act, in_box_units, is_draft, next_act
from sumlight_web.bar.due import Ring, due_words, rings
from sumlight_web.bar.films import told_at_turn
from sumlight_web.bar.line import bar_line, left_s, percent
from sumlight_web.bar.offers import Offers
from sumlight_web.bench.worth import standing_advisories, worth_words
from sumlight_web.language import N_, _, n_, named, reader
from sumlight_web.light.steps import WAITING, Places, Step, step_of
from sumlight_web.link import Latest
from sumlight_web.texts import text_of

NEXT_LEG = N_("Next round, lamps off")
GIVEN_UP = N_("Given up, lamps off")
LOCKED = "not_commissioned_locked"
"""Code of a warning of control's that stands beside the way out of it, and then not a second time among the others."""

LID_WORDS = {"shut": N_("Shut"), "open": N_("Open"), "disagree": N_("Contacts disagree")}

SIDE_WORDS = {
    "waiting": N_("waiting for its turn"),
    "begun": N_("waits, below its dose"),
    "lit": N_("receives light"),
    "cut": N_("lamps just off, last light is counted"),
    "done": N_("has its dose"),
    "abandoned": N_("given up"),
}


PANEL_SIGNS = {
    "fault": N_("Its light blinks fast, five long tones."),
    "needs_you": N_("Its light blinks slowly, two short tones."),
    "done": N_("Its light blinks slowly, three tones."),
    "lit": N_("Its light shines."),
    "ready": N_("Its light winks."),
    "rest": N_("Its light is off."),
}
"""What is seen and heard of the front panel."""


@dataclass
class BenchView:
    """What the page shows. Keys are the page's own; see bench.html for where each one stands.

    `texts` words and numbers, `marks` which sign is shown, `shows` which parts are visible, `values` progress in
    percent, `keys` changes when a part has to be drawn anew, `plan` what the curve needs, `lock` what bars the start
    (`locked`, `under_way` or nothing), `warnings` what control says at all times, `advisories` what the page says of
    light and calibration, `act` the one next act of the bar, `rings` the timers that call, `step` what the hands do
    before the next leg of a series.
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
    advisories: list[str] = field(default_factory=list)
    act: Act = field(default_factory=lambda: Act("later", ""))
    rings: list[Ring] = field(default_factory=list)
    step: Step | None = None


def bench_view(
    latest: Latest, *, operator: bool = True, offers: Offers | None = None, places: Places = ()
) -> BenchView:
    """The view of what is known now. Values of an old snapshot are left out or called old, never shown as live.

    A viewer who is no `operator` gets no means to light anything. `offers` is what can be lit next, see `offers_after`;
    `places` where the sensor lies in each leg of a walk.
    """
    view = BenchView(latest.live)
    snapshot = latest.snapshot
    view.shows["stale"] = not view.live
    view.texts["stale"] = "" if view.live else _stale_notice(latest)
    if snapshot is None:
        _nothing_known(view)
        _bar(view, snapshot, offers or Offers(), operator)
        return view
    may = snapshot["may"] if view.live else []
    _whole(view, snapshot, may, operator)
    for bank in snapshot["banks"]:
        _bank(view, bank)
    _exposure(view, snapshot)
    _step(view, snapshot, places)
    _parts(view, snapshot, may, operator)
    _bar(view, snapshot, offers or Offers(), operator)
    return view


def offers_after(offers: Offers, snapshot: Snapshot | None) -> Offers:
    """The offers as they stand after the panel that the box shows."""
    exposure = snapshot["exposure"] if snapshot else None
    return offers.after(exposure["recipe"]) if exposure and exposure.get("kind", "panel") == "panel" else offers


def _bar(view: BenchView, snapshot: Snapshot | None, offers: Offers, operator: bool) -> None:
    state, left, view.marks["bar"] = bar_line(snapshot, live=view.live)
    view.texts |= {"bar.state": state, "bar.left": left}
    view.act = next_act(snapshot, view.lock, offers, live=view.live, operator=operator)
    banks = sorted(bank["side"] for bank in snapshot["banks"]) if snapshot else []
    view.rings = rings(snapshot) if view.live else []
    view.texts["due"] = due_words(snapshot) if view.live else ""
    view.shows["due"] = bool(view.texts["due"])
    view.texts["films"] = told_at_turn(offers.films, snapshot) if snapshot and view.live else ""
    view.shows["films"] = bool(view.texts["films"])
    own = [in_box_units(offer, snapshot) for offer in offers.known]
    keys = {"bar": view.act.key(), "picks": (offers.key(), banks, own, offers.films.key(snapshot))}
    keys |= {"rings": (view.rings, operator), "asked": (offers.unjudged, offers.not_mended, view.keys["faults"])}
    view.keys |= {name: _key(key) for name, key in keys.items()}


def _stale_notice(latest: Latest) -> str:
    if latest.snapshot is None:
        return _("The controller cannot be reached. Nothing here is live.")
    age = words.duration(max(2, latest.age_s))
    return _("No word from the box for {age}. Nothing here is live; doses are the last known.", age=age)


def _title(text: str) -> str:
    return f"{text} – Sumlight"


def _nothing_known(view: BenchView) -> None:
    view.texts |= {
        "headline": _(NO_WORD),
        "state_number": "",
        "sentence": _("Start the controller, or wait until it answers."),
        "lid": _("Not known"),
        "hold": "",
        "panel": "",
        "doubtful": "",
        "forgiven": "",
        "box": "",
        "title": _title(_("No word")),
    }
    view.marks |= {"state": "unknown", "lid": "unknown"}
    view.shows |= dict.fromkeys(
        ("exposure", "start_form", "may_start", "simulated", "hold", "doubtful", "forgiven"), False
    )
    view.keys |= dict.fromkeys(("lamps", "step", "sides", "faults", "actions", "warnings"), "")


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
    exposure = snapshot["exposure"]
    headline = _(NEXT_LEG) if state == "turn" and is_series(exposure) else named("state", state)
    if state == "done" and exposure and exposure["outcome"] == "abandoned":
        headline = _(GIVEN_UP)
    view.texts["box"] = snapshot["box"]
    view.texts["headline"] = headline if view.live else _(NO_WORD)
    view.texts["sentence"] = text_of(snapshot["sentence"]) if view.live else _("Wait, or look at the box itself.")
    view.texts["lid"] = _(LID_WORDS.get(snapshot["lid"], N_("Not known"))) if view.live else _("Not known")
    view.texts["title"] = _title(view.texts["headline"])
    view.marks["state"] = state if view.live else "unknown"
    view.marks["lid"] = snapshot["lid"] if view.live else "unknown"
    view.shows["simulated"] = snapshot["simulated"]
    view.shows["start_form"] = operator and state in ("idle", "done")
    view.shows["may_start"] = "start" in may
    panel = snapshot.get("front_panel")
    if panel is not None:
        told = text_of(panel["said"] or "") or _(PANEL_SIGNS[panel["sign"]])
        view.texts["front_panel"] = told if view.live else ""
        view.texts["display"] = _display(snapshot) if view.live and "display" in panel["has"] else ""
    view.texts["state_number"] = str(snapshot["state_number"]) if view.live else ""


def _display(snapshot: Snapshot) -> str:
    """What a text display at the box shows now, in the reader's language."""
    state, turn = snapshot["state"], int(snapshot["mono_s"]) // display_rows.TURN_OVER_S
    lasts_s = display_rows.left_s(snapshot["exposure"], state)
    words_of_state, sentence = named("state", state), text_of(snapshot["sentence"])
    return "\n".join(
        display_rows.rows(
            words_of_state, sentence, lasts_s, columns=display_rows.COLUMNS, rows=display_rows.ROWS, turn=turn
        )
    )


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
    trouble = text_of(bank.get("meter_message") or "")
    note = _("light as measured") if reading else trouble or _("no reading")
    view.texts[f"{at}.note"] = f"{bank['meter']}: {note}"
    view.texts[f"{at}.seen"] = f"{words.number(seen, 2)} mW/cm²" if reading else _("Not reading")


def _exposure(view: BenchView, snapshot: Snapshot) -> None:
    exposure = snapshot["exposure"]
    view.shows["exposure"] = exposure is not None
    view.shows |= dict.fromkeys(("hold", "doubtful", "forgiven"), False)
    view.texts |= {"panel": "", "hold": "", "doubtful": "", "forgiven": ""}
    if exposure is None:
        return
    measured = exposure["kind"] in WITHOUT_PANEL
    view.texts["panel"] = _(
        N_("Measurement with the light of recipe {recipe}")
        if measured
        else N_("Panel {panel}, draft {recipe} ({resist}): lit by time")
        if is_draft(exposure)
        else N_("Panel {panel}, recipe {recipe} ({resist})")
        if exposure["outcome"] is None
        else N_("Panel {panel}, recipe {recipe}"),  # its record has the rest
        panel=exposure["panel"],
        recipe=exposure["recipe"],
        resist=exposure["resist"],
    )
    view.shows["doubtful"] = exposure["doubtful"]
    if exposure["doubtful"]:
        why = text_of(exposure["doubtful_why"] or "") or _("see its record")
        told = N_("This measurement is doubtful: {why}") if measured else N_("This panel is doubtful: {why}")
        view.texts["doubtful"] = _(told, why=why)
    if snapshot["state"] == "done" and view.live:
        _hold(view, exposure)
    left_s = exposure["forgiven_left_s"]
    if left_s is not None and view.live:
        view.shows["forgiven"] = True
        view.texts["forgiven"] = _forgiven(left_s)
    true_doses = snapshot.get("true_dose_mj_cm2")
    for side in exposure["sides"]:
        _side(view, snapshot, side)
        if isinstance(true_doses, dict) and isinstance(true_doses.get(side["side"]), int | float):
            view.texts[f"side.{side['side']}.true"] = f"{words.dose(true_doses[side['side']])} mJ/cm²"
    view.plan = _plan(snapshot, exposure, view.live)
    lit = next((side for side in exposure["sides"] if side["state"] == "lit"), None)
    if lit is not None and view.live and snapshot["state"] == "light":
        view.texts["title"] = _title(f"{percent(lit):.0f} %")


def _forgiven(left_s: float) -> str:
    """The darkness that the recipe still forgives, rounded down."""
    if left_s < 1:
        return _("Dark for longer than the recipe forgives: lit again, the panel counts as doubtful.")
    return _("Light it again within {time}; after that it counts as doubtful.", time=words.duration(int(left_s)))


def _step(view: BenchView, snapshot: Snapshot, places: Places) -> None:
    exposure = snapshot["exposure"]
    if view.live and exposure and is_series(exposure) and snapshot["state"] in WAITING and exposure["due"].isdigit():
        view.step = step_of(exposure["kind"], int(exposure["due"]), len(exposure["sides"]), places)
    view.keys["step"] = _key(view.step)


def _hold(view: BenchView, exposure: Exposure) -> None:
    left_s, whole_s = exposure["hold_left_s"], exposure["hold_s"]
    if exposure["outcome"] != "completed" or left_s is None:
        return
    view.shows["hold"] = True
    view.values["hold"] = round(100 * (1 - max(0.0, left_s) / whole_s), 1) if whole_s > 0 else 100.0
    if exposure.get("hold_state") == "overdue":
        view.texts["hold"] = _("Test a corner before developing.")
    elif left_s > 0:
        ends, left = words.local_time(exposure["hold_ends_utc"]), words.duration(left_s)
        view.texts["hold"] = _("Develop in {left}, from {ends}.", left=left, ends=ends)
        view.texts["title"] = _title(_("Rest {left}", left=left))
    else:
        view.texts["hold"] = _("The panel may be developed.")
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
        f"{at}.target": _aim(side, snapshot["exposure"]),
        f"{at}.worth": worth_words(side),
        f"{at}.light": words.NOTHING,
        f"{at}.still": words.NOTHING,
        f"{at}.left": "",
        f"{at}.pauses": str(side["pauses"]),
    }
    view.shows[f"{at}.paused"] = side["pauses"] > 0
    view.values[at] = round(percent(side), 2)
    view.marks[at] = state if view.live else "unknown"
    if not view.live:
        return
    light = side["irradiance_at_resist_mw_cm2"]
    if light is not None:
        view.texts[f"{at}.light"] = f"{words.number(light, 2)} mW/cm²"
    still_s = left_s(side)
    if state == "lit" and still_s is not None:
        ends = words.local_time(snapshot["utc"], still_s)
        view.texts[f"{at}.still"] = words.clock(still_s)
        view.texts[f"{at}.left"] = _("left, until about {ends}", ends=ends)


def _spread_mj_cm2(side: Side) -> float | None:
    """How unsure the dose is (expanded). Of a dose that is relative only its repetition means anything."""
    if side.get("relative"):
        return side.get("expanded_repeat_mj_cm2")
    return side["expanded_uncertainty_mj_cm2"]


def _aim(side: Side, exposure: Exposure | None) -> str:
    """What ends the light of a side: its dose or, in a draft and in some series, its time."""
    unit = words.unit_of_dose(side["relative"])
    if side["target_mj_cm2"] is not None:
        return _("of {target} {unit}", target=words.target(side["target_mj_cm2"]), unit=unit)
    wanted_s = side.get("lit_for_s")
    if wanted_s is None:
        return unit
    if exposure is not None and is_draft(exposure) and side is not exposure["sides"][0]:
        return _("{unit}, gets what side A got", unit=unit)
    return _(
        "{unit} in {lit} of {wanted}", unit=unit, lit=words.duration(side["lit_s"]), wanted=words.duration(wanted_s)
    )


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
                "unit": words.unit_of_dose(side["relative"]),
                "left_s": left_s(side) if running and side["state"] == "lit" else None,
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
    acts = [m for m in may if m == "abandon"]
    kind = exposure and exposure["kind"]
    keys["actions"] = repr([snapshot["state_number"], snapshot["state"], acts, cause, operator, view.lock, kind])
    logbook = snapshot["logbook"]
    trouble = None if logbook["ok"] else logbook["message"]
    faults = [
        (f["name"], f["title"], f["detail"], f["remedy"], f["cause_gone"], f.get("stops")) for f in snapshot["faults"]
    ]
    keys["faults"] = repr([faults, "acknowledge" in may, trouble, operator])
    view.warnings = [text_of(told) for told in snapshot["warnings"] if view.lock != "locked" or not _is_lock(told)]
    view.advisories = standing_advisories(snapshot)
    keys["warnings"] = repr([view.warnings, view.advisories])
    view.keys |= {name: _key(key) for name, key in keys.items()}


def _key(what: object) -> str:
    return blake2s(f"{reader().language}{reader().units}{what!r}".encode(), digest_size=8).hexdigest()


def _is_lock(told: Message) -> bool:
    return isinstance(told, Message) and told.code == LOCKED


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
