"""The record of a commissioning: written and read back with its codes, also one of an earlier version; its report."""

import json
from datetime import UTC, datetime

import pytest

from sumlight.protocol.snapshot import LeftOut, Measure, StepResult
from sumlight.protocol.walk import Walk, report_of, walk_from
from sumlight.store.logbook.records import CommissioningRecord
from sumlight.text.message import AS_WRITTEN, joined, say
from sumlight_web.language import Reader, written_for
from sumlight_web.texts import text_of

BEGAN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)

OLD = json.dumps(
    [
        {
            "step": "bank_relay",
            "title": "The bank relays darken by themselves",
            "passed": True,
            "found": "dark in time, K1 still held",
            "measures": [
                {"what": "less than half of the light", "value": 0.0412, "unit": "s", "limit": 0.3, "kept": True}
            ],
            "proved": True,
        },
        {
            "step": "cut_out_alone",
            "title": "The thermal cut-out alone drops K1",
            "passed": True,
            "found": "not proved here: by the electrician, mains off",
            "measures": [],
            "proved": False,
        },
    ]
)
"""As it was stored before messages had codes, word by word."""

LID = StepResult(
    step="lid_open",
    title=say("lid_open_title"),
    passed=False,
    found=joined(say("lid_reads_wrongly", seen=say("reads_shut"), real=say("reads_open")), say("lid_contacts_hint")),
    measures=[Measure(what=say("noticed"), value=3.0, unit="s", limit=1.5, kept=False)],
    proved=True,
)
TUBES = StepResult(
    step="tubes_lower",
    title=say("tubes_title", bank="lower"),
    passed=True,
    found=say("tubes_left_in"),
    measures=[],
    proved=True,
    unseen=[1, 6],
)
HEAT = LeftOut(title=say("over_temperature_title"), why=say("left_out_of_box_yaml", key="signals.x"))


def record(results: str, outcome: str = "passed") -> CommissioningRecord:
    """A row of the logbook."""
    return CommissioningRecord(BEGAN, "0" * 64, "Box", False, "A. Nyone", 3, results, BEGAN, outcome)


def test_tubes_that_are_not_seen_stay_in_the_record() -> None:
    """And a step that found none has none."""
    assert walk_from(Walk([LID, TUBES], [HEAT], []).as_text()).results == [LID, TUBES]


def test_a_record_comes_back_as_it_was_written() -> None:
    """Each message with its code, so that another reader has it in another language."""
    walk = walk_from(Walk([LID], [HEAT], [("lid.shut_pin", 5)]).as_text())
    assert walk == Walk([LID], [HEAT], [("lid.shut_pin", 5)])
    with written_for(Reader("de")):
        (row, left) = report_of(record(walk.as_text(), "failed")).rows
        assert text_of(row.found).startswith("Der Deckel meldet sich als zu, ist aber offen.")
        assert text_of(row.measures[0]) == "Bemerkt nach: 3 s (Grenze 1,5 s, NICHT EINGEHALTEN)"
        assert text_of(left.found) == "Hier nicht nachgewiesen: In box.yaml fehlt signals.x."


def test_a_record_of_an_earlier_version_is_read_and_shown() -> None:
    """Its words stand as they were written; what it does not tell is not made up."""
    walk = walk_from(OLD)
    assert [result["found"].code for result in walk.results] == [AS_WRITTEN, AS_WRITTEN]
    assert (walk.left_out, walk.pins) == (None, None)
    assert walk.not_proved == ["The thermal cut-out alone drops K1"]
    report = report_of(record(OLD))
    assert report.title == "Commissioning of Box: incomplete"
    assert report.rows[0].measures == ["less than half of the light: 0.0412 s (limit 0.3 s)"]
    assert [str(row.result) for row in report.rows] == ["passed", "not proved"]


def test_an_older_record_without_gaps_is_not_called_complete() -> None:
    """It never said what the walk had left out."""
    sound = json.dumps(json.loads(OLD)[:1])
    assert report_of(record(sound)).verdict.code == "report_passed_of_old"
    assert report_of(record(Walk(walk_from(sound).results, [], []).as_text())).verdict.code == "report_passed"
    assert report_of(record(Walk(walk_from(sound).results, [HEAT], []).as_text())).verdict.code == "report_incomplete"


@pytest.mark.parametrize(
    "text", ["", "7", "{}", "[7]", '[{"step": "x"}]', '{"results": [], "left_out": 7, "pins": []}']
)
def test_what_no_version_has_written_is_refused(text: str) -> None:
    """By one error, whatever it is."""
    with pytest.raises(ValueError, match=r"record of a commissioning|Expecting value"):
        walk_from(text)
