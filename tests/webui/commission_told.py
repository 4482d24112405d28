"""What a box tells of its commissioning, in the shapes that control itself gives; names invented."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

from sumlight.control.commissioning.report import report_html
from sumlight.protocol.snapshot import LeftOut, StepResult
from sumlight.protocol.walk import Walk
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import CommissioningRecord
from sumlight.text.message import joined, say
from tests.webui import fake_control as fake

NO_HEAT = say("left_out_of_box_yaml", key="signals.over_temperature_pin")


def run(**changed: Any) -> dict[str, Any]:
    """A run that has come to its second step."""
    return {
        "who": "A. Nyone",
        "outcome": None,
        "number": 2,
        "of": 13,
        "step": "lid_open",
        "kind": "reading",
        "title": say("lid_open_title"),
        "phase": "act",
        "at": "20261125T080000.000000/lid_open/act",
        "do": say("open_lid_wide"),
        "waits_for_next": True,
        "asks": None,
        "results": [result()],
        "left_out": [
            {
                "title": say("over_temperature_title"),
                "why": say("left_out_of_box_yaml", key="signals.over_temperature_pin"),
            }
        ],
        "not_proved": [say("over_temperature_title")],
    } | changed


def result(**changed: Any) -> dict[str, Any]:
    """A step that passed, with a measured reaction."""
    measure = {"what": say("told_to_go_dark"), "value": 0.0123, "unit": "s", "limit": 0.025, "kept": True}
    return {
        "step": "lid_under_light",
        "title": say("lid_under_light_title"),
        "passed": True,
        "found": say("dark_in_time"),
        "measures": [measure],
        "proved": True,
    } | changed


def told(**changed: Any) -> dict[str, Any]:
    """A real box that nobody has commissioned."""
    return {
        "needed": True,
        "locked": True,
        "passed_utc": None,
        "passed_by": None,
        "overridden": False,
        "override": None,
        "not_proved": [],
        "older_walk": [],
        "wiring_sha256": "0" * 64,
        "run": None,
        "report": None,
    } | changed


def box(*, simulated: bool = False, **changed: Any) -> dict[str, Any]:
    """A snapshot of a box that tells so, with what control then says at all times."""
    state = told(**changed)
    warnings = [say("not_commissioned_locked")] * state["locked"]
    if state["older_walk"]:
        warnings = [say("older_walk_locked", titles=state["older_walk"])]
    if state["not_proved"]:
        warnings.append(say("incomplete_always", titles=state["not_proved"]))
    if (given := state["override"]) is not None:
        warnings.append(say("unlocked_by", who=given["who"], day="2026-11-25", reason=given["reason"]))
    return fake.snapshot(may=["dark"], simulated=simulated, commissioning=state, warnings=warnings)


UNLOCKED = {"who": "B. Ench", "reason": "the radiometer comes tomorrow", "given_utc": "2026-11-25T08:00:00+00:00"}

LEAK = run(
    number=13,
    step="light_leak",
    kind="leak",
    title=say("light_leak_title"),
    at="20261125T080000.000000/light_leak/act",
    do=say("go_around_the_box"),
    asks="leak_mw_cm2",
)
ASKED = run(
    number=12,
    step="process_killed",
    kind="killed",
    title=say("process_killed_title"),
    phase="confirm",
    at="20261125T080000.000000/process_killed/confirm",
    do=say("did_lamps_go_dark"),
    asks="answer",
)
BUTTON = run(
    number=11,
    step="cut_out_alone",
    kind="alone",
    title=say("cut_out_alone_title"),
    phase="ask",
    at="20261125T080000.000000/cut_out_alone/ask",
    do=say("has_f3_a_button"),
    asks="button",
)
PLACE = run(
    number=9,
    step="lid_alone",
    kind="alone",
    title=say("lid_alone_title"),
    phase="prepare",
    at="20261125T080000.000000/lid_alone/prepare",
    do=joined(say("prepare_for_k1"), say("lift_lid_briskly")),
    asks="place",
)
MISSING = run(
    outcome="failed",
    waits_for_next=False,
    results=[
        result(
            passed=False,
            title=say("lid_alone_title"),
            found=joined(say("lid_opened_k1_held", limit_s=0.3, part=say("lid_switch_s3")), say("wire_in_series")),
            measures=[],
        ),
    ],
)
BY_ELECTRICIAN = result(
    title=say("cut_out_alone_title"),
    found=say("by_electrician"),
    proved=False,
    measures=[],
)
INCOMPLETE = run(
    outcome="passed", waits_for_next=False, results=[BY_ELECTRICIAN], not_proved=[say("cut_out_alone_title")]
)
LIGHTING = run(phase="lighting", do=say("wait_lamps_lighting"), waits_for_next=False)
FAILED = run(
    outcome="failed",
    waits_for_next=False,
    results=[
        result(),
        result(
            passed=False,
            title=say("lid_open_title"),
            found=joined(
                say("lid_reads_wrongly", seen=say("reads_shut"), real=say("reads_open")), say("lid_contacts_hint")
            ),
            measures=[{"what": say("noticed"), "value": 3.0, "unit": "s", "limit": 1.5, "kept": False}],
        ),
    ],
)

STATES: dict[str, dict[str, Any]] = {
    "locked": box(),
    "unlocked": box(needed=True, locked=False, overridden=True, override=UNLOCKED),
    "passed": box(needed=False, locked=False, passed_utc="2026-11-25T08:00:00+00:00", passed_by="A. Nyone"),
    "step": box(run=run()),
    "prepare": box(run=run(phase="prepare", kind="lamps")),
    "lighting": box(run=LIGHTING),
    "asked": box(run=ASKED),
    "leak": box(run=LEAK),
    "button": box(run=BUTTON),
    "place": box(run=PLACE),
    "missing": box(run=MISSING),
    "incomplete": box(
        needed=False,
        locked=False,
        passed_utc="2026-11-25T08:00:00+00:00",
        passed_by="A. Nyone",
        not_proved=[say("cut_out_alone_title"), say("over_temperature_title")],
        run=INCOMPLETE,
    ),
    "older": box(older_walk=[say("lid_alone_title"), say("stop_alone_title")]),
    "failed": box(run=FAILED, report="/data/commissioning/commissioning-20261125-080000.html"),
    "hand": box(simulated=True, locked=False, needed=False, run=run()),
}
"""Every state that the page of commissioning can show."""

RECORD = CommissioningRecord(
    began_utc=datetime(2026, 11, 25, 8, 0, tzinfo=UTC),
    wiring_sha256="0" * 64,
    box_name="Demo box",
    simulated=False,
    who="A. Nyone <b>",
    step_index=17,
    results=Walk(
        [cast(StepResult, result())],
        [LeftOut(title=say("over_temperature_title"), why=NO_HEAT)],
        [("lid.shut_pin", 5)],
    ).as_text(),
    ended_utc=datetime(2026, 11, 25, 8, 31, tzinfo=UTC),
    outcome="passed",
)
"""A run that passed with a gap."""


def report_kept(data: Path, record: CommissioningRecord = RECORD) -> Path:
    """Put a run on record, with the file of its report as control writes it; returns the file."""
    with Logbook(data / "logbook.sqlite") as book:
        book.put_commissioning(record)
    folder = data / "commissioning"
    folder.mkdir(exist_ok=True)
    file = folder / f"commissioning-{record.began_utc:%Y%m%d-%H%M%S}.html"
    file.write_text(report_html(record), encoding="utf-8")
    return file
