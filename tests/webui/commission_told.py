"""What a box tells of its commissioning, in the shapes that control itself gives; names invented."""

from typing import Any

from tests.webui import fake_control as fake


def run(**changed: Any) -> dict[str, Any]:
    """A run that has come to its second step."""
    return {
        "who": "A. Nyone",
        "outcome": None,
        "number": 2,
        "of": 13,
        "step": "lid_open",
        "kind": "reading",
        "title": "The lid reads open",
        "phase": "act",
        "at": "20261125T080000.000000/lid_open/act",
        "do": "Open the lid wide.",
        "waits_for_next": True,
        "asks": None,
        "results": [result()],
        "left_out": [
            {"title": "Heat is noticed", "why": "not proved here: box.yaml leaves out signals.over_temperature_pin"}
        ],
        "not_proved": ["Heat is noticed"],
    } | changed


def result(**changed: Any) -> dict[str, Any]:
    """A step that passed, with a measured reaction."""
    measure = {"what": "lamps told to go dark", "value": 0.0123, "unit": "s", "limit": 0.025, "kept": True}
    return {
        "step": "lid_under_light",
        "title": "The lid darkens the lamps",
        "passed": True,
        "found": "dark in time",
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
    warnings = ["This box has not been commissioned for its present wiring: exposures are locked."] * state["locked"]
    if state["older_walk"]:
        warnings = [
            "This box was commissioned by an older walk that proved less: exposures are locked until it is "
            f"commissioned again. Not proved so far: {', '.join(state['older_walk'])}"
        ]
    if state["not_proved"]:
        warnings.append(f"Commissioning is incomplete; not proved here: {', '.join(state['not_proved'])}")
    if state["override"]:
        warnings.append(
            "Not commissioned for its present wiring; unlocked by {who} on 2026-11-25: {reason}".format_map(
                state["override"]
            )
        )
    return fake.snapshot(may=["dark"], simulated=simulated, commissioning=state, warnings=warnings)


UNLOCKED = {"who": "B. Ench", "reason": "the radiometer comes tomorrow", "given_utc": "2026-11-25T08:00:00+00:00"}

LEAK = run(
    number=13,
    step="light_leak",
    kind="leak",
    title="No harmful light leaks out",
    at="20261125T080000.000000/light_leak/act",
    do="In a dark room and with UV glasses on, go around the shut box with a UV-A radiometer, at the distance of a "
    "face. Enter the highest reading in mW/cm².",
    asks="leak_mw_cm2",
)
ASKED = run(
    number=12,
    step="process_killed",
    kind="killed",
    title="The lamps go dark when the controller is killed",
    phase="confirm",
    at="20261125T080000.000000/process_killed/confirm",
    do="Did all lamps go dark within a second of the kill?",
    asks="answer",
)
BUTTON = run(
    number=11,
    step="cut_out_alone",
    kind="alone",
    title="The thermal cut-out alone drops K1",
    phase="ask",
    at="20261125T080000.000000/cut_out_alone/ask",
    do="Has the thermal cut-out F3 a test button, to be pressed from outside? Never loosen a wire for it.",
    asks="button",
)
PLACE = run(
    number=9,
    step="lid_alone",
    kind="alone",
    title="The lid switch alone drops K1",
    phase="prepare",
    at="20261125T080000.000000/lid_alone/prepare",
    do="Shut the lid and stand at the box, not over it. K1 will be held for at most 20 s, all lamps stay off. Go on "
    "when ready, and do the following as soon as the box says so, not before. Lift the lid by a hand's width, briskly.",
    asks="place",
)
MISSING = run(
    outcome="failed",
    waits_for_next=False,
    results=[
        result(
            passed=False,
            title="The lid switch alone drops K1",
            found="the lid was opened, but K1 stayed held for 0.3 s: the lid switch S3 is missing in K1's coil "
            "circuit, or bridged. Do not use the box: mains off, and an electrician wires it in series with K1's coil, "
            "as mains.svg shows.",
            measures=[],
        ),
    ],
)
BY_ELECTRICIAN = result(
    title="The thermal cut-out alone drops K1",
    found="not proved here: by the electrician, mains off",
    proved=False,
    measures=[],
)
INCOMPLETE = run(
    outcome="passed", waits_for_next=False, results=[BY_ELECTRICIAN], not_proved=["The thermal cut-out alone drops K1"]
)
LIGHTING = run(phase="lighting", do="Wait: the lamps are lighting.", waits_for_next=False)
FAILED = run(
    outcome="failed",
    waits_for_next=False,
    results=[
        result(),
        result(
            passed=False,
            title="The lid reads open",
            found="the lid reads shut, but it is open. Look at both lid contacts: shut_pin and open_pin may be swapped,"
            " a contact may be stuck or bridged.",
            measures=[{"what": "noticed", "value": 3.0, "unit": "s", "limit": 1.5, "kept": False}],
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
        not_proved=["The thermal cut-out alone drops K1", "Heat is noticed"],
        run=INCOMPLETE,
    ),
    "older": box(older_walk=["The lid switch alone drops K1", "The emergency stop alone drops K1"]),
    "failed": box(run=FAILED, report="/data/commissioning/commissioning-20261125-080000.html"),
    "hand": box(simulated=True, locked=False, needed=False, run=run()),
}
"""Every state that the page of commissioning can show."""

REPORT = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>x</title><style>body { background: #fff; }</style></head>
<body><h1>Commissioning of Demo box</h1>
<p class="verdict">Passed. Exposures are unlocked for the wiring below.</p>
<table><tr><th>Done by</th><td>A. Nyone &lt;b&gt;</td></tr></table>
<script>alert("<p>no</p>")</script><img src="http://evil.example/x"><p onclick="x()" style="color:blue">Signed<br>here
</body></html>
"""
"""A report, with what somebody has put in by hand."""
