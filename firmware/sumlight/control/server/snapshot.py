"""The picture of the box that clients see: one dictionary, made from control's own state, never kept."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.safety.faults import FaultRegistry
from sumlight.craft.holding import Hold, hold
from sumlight.protocol.snapshot import WITHOUT_PANEL
from sumlight.text.message import Message, joined, say

PAUSE_WORDS = {
    "lid": say("lid_was_opened"),
    "dark_command": say("dark_by_hand"),
    "fault": say("fault_ended_light"),
    "restart": say("restarted_in_between"),
}


def iso(moment: datetime) -> str:
    """A UTC time as ISO 8601 text, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def sentence(exposure: Exposure, desk: FaultRegistry, lid: str, now_s: float) -> Message:
    """What to do next, in one sentence."""
    if desk:
        kind = desk.standing()[0].kind
        return say("fault_standing", title=kind.title, remedy=kind.remedy)
    match exposure.base_state:
        case "vacuum":
            return say("pulling_vacuum", seconds=exposure.vacuum.missing_s(now_s))
        case "dark_check":
            return say("measuring_darkness")
        case "light":
            return say("light_is_measured") if _measuring(exposure) else say("panel_receives_light")
        case "turn":
            return _turn_sentence(exposure, lid)
        case "paused":
            return _paused_sentence(exposure, lid, now_s)
        case "done":
            return joined(_done_sentence(exposure, now_s), _lid_step(exposure))
    step = _lid_step(exposure)
    if step is not None and lid != "open":
        return step
    return say("choose_and_light") if lid == "shut" else say("lay_in_and_shut")


def _measuring(exposure: Exposure) -> bool:
    return exposure.plan is not None and exposure.plan.kind in WITHOUT_PANEL


def _lid_step(exposure: Exposure) -> Message | None:
    """What has to be done to the lid; where the sensor alone was lit there is no panel to take out."""
    step = exposure.lid_step()
    return say("open_lid_before_light") if step is not None and exposure.left_inside in WITHOUT_PANEL else step


def _paused_sentence(exposure: Exposure, lid: str, now_s: float) -> Message:
    parts = [PAUSE_WORDS[exposure.pause_cause]] if exposure.pause_cause in PAUSE_WORDS else []
    parts += [say("dose_is_kept"), say("continue_or_abandon") if lid == "shut" else say("shut_then_continue")]
    missing_s = exposure.vacuum.missing_s(now_s)
    if missing_s >= 0.5:
        parts.append(say("vacuum_comes_first", seconds=missing_s))
    return joined(*parts)


def _turn_sentence(exposure: Exposure, lid: str) -> Message:
    number = sum(side.state == "done" for side in exposure.sides)
    series = exposure.plan is not None and exposure.plan.sides_mode == "series"
    done = say("leg_done", number=number, count=len(exposure.sides)) if series else say("side_done", side="A")
    if "go" in exposure.may():
        return joined(done, say("go_when_ready"))
    if lid != "shut":
        return joined(done, say("shut_when_ready"))
    return joined(done, exposure.next_step())


def _done_sentence(exposure: Exposure, now_s: float) -> Message:
    if exposure.outcome != "completed":
        return say("measurement_abandoned") if _measuring(exposure) else say("panel_abandoned")
    if _measuring(exposure):
        return say("measurement_done")
    rest = hold_of(exposure, now_s)
    if rest is None or rest.state == "ready":
        return say("done_hold_over")
    if rest.state == "overdue":
        return say("done_hold_overdue")
    return say("done_rest_outside") if exposure.left_inside else say("done_take_out")


def hold_of(exposure: Exposure, now_s: float) -> Hold | None:
    """The rest before developing; None unless a panel was completed, which a measurement never has."""
    if exposure.plan is None or _measuring(exposure) or exposure.outcome != "completed" or exposure.ended_s is None:
        return None
    return hold(now_s - exposure.ended_s, exposure.plan.hold_s, exposure.plan.hold_limit_s)


def forgiven_left_s(exposure: Exposure, now_s: float) -> float | None:
    """How much longer a panel whose light was interrupted may lie dark, as its recipe says; 0 when that is over.

    A side is dark since its last reading of light, which is a fraction of a second early. One that another run of
    control lit has no reading here.
    """
    plan = exposure.plan
    if plan is None or plan.kind in WITHOUT_PANEL or exposure.base_state != "paused" or exposure.why_doubtful():
        return None
    lit_before = [side for side in exposure.sides if side.state == "waiting" and side.first_lit_s is not None]
    if not lit_before or any(side.last_usable_s < (side.first_lit_s or 0.0) for side in lit_before):
        return None
    return max(0.0, plan.longest_gap_s - (now_s - min(side.last_usable_s for side in lit_before)))


def left_s(side: SideRun, now_s: float) -> float | None:
    """Predicted time to the end of light: that of the dose or, where it comes first, that of the time guard."""
    foreseen_s = side.left_s(now_s)
    return None if foreseen_s is None else min(foreseen_s, max(0.0, side.plan.guard_s - side.lit_for_s(now_s)))


def side_snapshot(side: SideRun, worth: Mapping[str, Any], now_s: float) -> dict[str, Any]:
    """One side: target and dose, what the dose is `worth`, light now, time left."""
    lit = side.state == "lit"
    end_s = side.ended_s if side.ended_s is not None else now_s
    return {
        "side": side.plan.side,
        "bank": side.plan.bank,
        "state": side.state,
        "target_mj_cm2": side.target_mj_cm2,
        "lit_for_s": side.plan.lit_for_s,
        "dose_mj_cm2": side.dose_mj_cm2,
        "expanded_uncertainty_mj_cm2": worth["expanded_absolute_mj_cm2"],
        **worth,
        "irradiance_at_resist_mw_cm2": side.resist_mw_cm2 if lit else 0.0,
        "lit_s": side.lit_for_s(now_s),
        "left_s": left_s(side, now_s),
        "pauses": side.pauses,
        "duration_s": 0.0 if side.first_lit_s is None else end_s - side.first_lit_s,
    }


def exposure_snapshot(
    exposure: Exposure,
    exposure_id: int | None,
    worth: Mapping[str, Mapping[str, Any]],
    started: datetime | None,
    now: datetime,
    now_s: float,
) -> dict[str, Any] | None:
    """The panel at hand; `worth` tells by side what its dose is worth."""
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
        "forgiven_left_s": forgiven_left_s(exposure, now_s),
        "hold_s": plan.hold_s,
        "hold_state": None if rest is None else rest.state,
        "hold_left_s": None if rest is None else rest.left_s,
        "hold_ends_utc": None if rest is None else iso(now + timedelta(seconds=rest.left_s)),
        "outcome": exposure.outcome,
        "sides": [side_snapshot(side, worth[side.plan.side], now_s) for side in exposure.sides],
    }


def fault_snapshots(desk: FaultRegistry, now: datetime, now_s: float) -> list[dict[str, Any]]:
    """Standing faults, oldest first, with what the person must do."""
    return [
        {
            "name": fault.kind.fault,
            "title": fault.kind.title,
            "detail": fault.detail,
            "remedy": fault.kind.remedy,
            "stops": fault.kind.stops,
            "since_utc": iso(now - timedelta(seconds=now_s - fault.since_s)),
            "cause_gone": fault.cause_gone,
        }
        for fault in desk.standing()
    ]
