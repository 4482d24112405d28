"""The picture of the box that clients see: one dictionary, made from control's own state, never kept."""

from datetime import UTC, datetime, timedelta
from typing import Any

from sumlight.control.calibration.dose_uncertainty import Appraiser
from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.safety.faults import FaultDesk
from sumlight.craft.holding import Hold, hold

PAUSE_WORDS = {
    "lid": "The lid was opened.",
    "dark_command": "The lamps were switched off by hand.",
    "fault": "A fault ended the light.",
    "restart": "The controller was restarted in the middle of this panel.",
}


def iso(moment: datetime) -> str:
    """A UTC time as ISO 8601 text, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def sentence(exposure: Exposure, desk: FaultDesk, lid: str, now_s: float) -> str:
    """What to do next, in one sentence."""
    if desk:
        fault = desk.standing()[0]
        return f"{fault.kind.title}: {fault.kind.remedy}"
    match exposure.base_state:
        case "vacuum":
            return f"Pulling vacuum, {exposure.vacuum.missing_s(now_s):.0f} s. Then the lamps go on."
        case "dark_check":
            return "Measuring the darkness before the lamps go on."
        case "light":
            return "The panel receives light. Leave the lid shut."
        case "turn":
            return _turn_sentence(exposure, lid)
        case "paused":
            word = PAUSE_WORDS.get(exposure.pause_cause or "", "")
            ready = "Continue or abandon it." if lid == "shut" else "Shut the lid, then continue or abandon it."
            return f"{word} The dose so far is kept. {ready}{_lead_sentence(exposure, now_s)}"
        case "done":
            return f"{_done_sentence(exposure, now_s)} {exposure.lid_step()}".strip()
    if exposure.left_inside and lid != "open":
        return exposure.lid_step()
    return "Choose a recipe and start." if lid == "shut" else "Lay the panel in and shut the lid."


def _lead_sentence(exposure: Exposure, now_s: float) -> str:
    missing_s = exposure.vacuum.missing_s(now_s)
    return f" {missing_s:.0f} s of vacuum come before the light." if missing_s >= 0.5 else ""


def _turn_sentence(exposure: Exposure, lid: str) -> str:
    number = sum(side.state == "done" for side in exposure.sides)
    series = exposure.plan is not None and exposure.plan.sides_mode == "series"
    name = f"Leg {number} of {len(exposure.sides)}" if series else "Side A"
    if "go" in exposure.may():
        return f"{name} is done. Go on when everything lies ready."
    if lid != "shut":
        return f"{name} is done. Shut the lid when everything lies ready."
    return f"{name} is done. {exposure.next_step()}"


def _done_sentence(exposure: Exposure, now_s: float) -> str:
    if exposure.outcome != "completed":
        return "The panel was abandoned; its record is kept."
    rest = hold_of(exposure, now_s)
    if rest is None or rest.state == "ready":
        return "Done: the hold time is over, the panel may be developed."
    if rest.state == "overdue":
        return "Done, but the longest hold time has passed: test a corner before you develop the panel."
    if exposure.left_inside:
        return "Done: keep the panel covered outside the box and let it rest."
    return "Done: take the panel out, keep it covered and let it rest."


def hold_of(exposure: Exposure, now_s: float) -> Hold | None:
    """The rest before developing; None unless a panel was completed."""
    if exposure.plan is None or exposure.outcome != "completed" or exposure.ended_s is None:
        return None
    return hold(now_s - exposure.ended_s, exposure.plan.hold_s, exposure.plan.hold_limit_s)


def side_picture(side: SideRun, appraiser: Appraiser, now_s: float) -> dict[str, Any]:
    """One side: target and dose, what the dose is worth, light now, time left."""
    lit = side.state == "lit"
    worth = appraiser.of(side).figures()
    end_s = side.ended_s if side.ended_s is not None else now_s
    return {
        "side": side.plan.side,
        "bank": side.plan.bank,
        "state": side.state,
        "target_mj_cm2": side.plan.target_mj_cm2,
        "lit_for_s": side.plan.lit_for_s,
        "dose_mj_cm2": side.dose_mj_cm2,
        "expanded_uncertainty_mj_cm2": worth["expanded_absolute_mj_cm2"],
        **worth,
        "irradiance_at_resist_mw_cm2": side.resist_mw_cm2 if lit else 0.0,
        "lit_s": side.lit_for_s(now_s),
        "left_s": side.left_s(now_s),
        "pauses": side.pauses,
        "duration_s": 0.0 if side.first_lit_s is None else end_s - side.first_lit_s,
    }


def exposure_picture(
    exposure: Exposure,
    exposure_id: int | None,
    appraiser: Appraiser,
    started: datetime | None,
    now: datetime,
    now_s: float,
) -> dict[str, Any] | None:
    """The panel at hand; `appraiser` tells what each dose is worth."""
    plan = exposure.plan
    if plan is None:
        return None
    rest = hold_of(exposure, now_s)
    why = exposure.why_doubtful()
    return {
        "exposure_id": exposure_id,
        "panel": plan.panel,
        "recipe": plan.recipe_name,
        "recipe_sha256": plan.recipe_sha256,
        "due": exposure.due(),
        "resist": plan.resist,
        "kind": plan.kind,
        "sides_mode": plan.sides_mode,
        "started_utc": None if started is None else iso(started),
        "pause_cause": exposure.pause_cause,
        "doubtful": why is not None,
        "doubtful_why": why,
        "hold_s": plan.hold_s,
        "hold_state": None if rest is None else rest.state,
        "hold_left_s": None if rest is None else rest.left_s,
        "hold_ends_utc": None if rest is None else iso(now + timedelta(seconds=rest.left_s)),
        "outcome": exposure.outcome,
        "sides": [side_picture(side, appraiser, now_s) for side in exposure.sides],
    }


def fault_pictures(desk: FaultDesk, now: datetime, now_s: float) -> list[dict[str, Any]]:
    """Standing faults, oldest first, with what the person must do."""
    return [
        {
            "name": fault.kind.name,
            "title": fault.kind.title,
            "detail": fault.detail,
            "remedy": fault.kind.remedy,
            "stops": fault.kind.stops,
            "since_utc": iso(now - timedelta(seconds=now_s - fault.since_s)),
            "cause_gone": fault.cause_gone,
        }
        for fault in desk.standing()
    ]
