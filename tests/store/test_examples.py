"""Logbooks made by every version so far open with this one, and lose nothing."""

import gzip
import json
from pathlib import Path

import pytest

from sumlight.protocol.walk import report_of
from sumlight.store.logbook import database
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.reading import utc_from
from sumlight.store.logbook.records import CommissioningRecord
from sumlight.text.message import AS_WRITTEN
from tests.store.making import START_UTC, ask, later, sample, state

EXAMPLES = Path(__file__).parent / "examples"


@pytest.fixture(params=sorted(file.name for file in EXAMPLES.glob("*.gz")))
def example(request: pytest.FixtureRequest, path: Path) -> Path:
    """One stored file, unpacked where it may be written."""
    path.write_bytes(gzip.decompress((EXAMPLES / request.param).read_bytes()))
    return path


def test_a_stored_example_is_there_for_the_first_version() -> None:
    """Made by the code of that version itself."""
    assert "version-0001.sqlite.gz" in {file.name for file in EXAMPLES.glob("*.gz")}


def test_an_old_logbook_is_brought_up_to_date_and_keeps_all(example: Path) -> None:
    """Exposures, journal, trace, pauses, faults, lamps: as they were written then."""
    with Logbook(example) as book:
        rows = book.recent()
        first = book.exposure(1)
        assert [(row["exposure_id"], row["panel"], row["outcome"]) for row in rows] == [
            (2, "P2", None),
            (1, "P1", "completed"),
        ]
        assert first is not None
        assert first["sides"][0]["dose_mj_cm2"] == 60.0
        assert first["utc_unsure"] is False
        assert [fault["name"] for fault in first["faults"]] == ["lid_mismatch"]
        assert [line["dose_mj_cm2"] for line in book.journal(1)] == [15.0, 30.0, 45.0, 60.0, 60.0]
        assert book.trace(1) == [sample(number) for number in range(40)]
        assert book.bank_state("lower").lit_s == 2 * 120 * 3600
        assert [reading["settled_mw_cm2"] for reading in book.lamps.lamp_readings("lower")] == [4.9, pytest.approx(4.8)]
        assert book.lamps.lamp_history("lower").hours == 240
        assert list(book.intervals.stretches()) == []
        assert book.intervals.unreplayable_sides() == 2
    assert ask(example, "PRAGMA user_version") == [(database.migrations()[-1][0],)]
    assert ask(example, "PRAGMA integrity_check") == [("ok",)]
    assert ask(example, "PRAGMA foreign_key_check") == []


def test_an_exposure_left_by_an_old_version_goes_on(example: Path) -> None:
    """It is offered, takes more journal rows, and ends; the old rows are packed with the new."""
    with Logbook(example) as book:
        left = book.interrupted()
        assert left is not None
        assert left.sides[0][1].dose_mj_cm2 == 60.0
        side_id = left.sides[0][1].side_id
        book.put_sides([state(side_id, 61.0, "done")], later(200))
        book.finish(left.exposure_id, "completed", False, later(201))
        assert [line["dose_mj_cm2"] for line in book.journal(side_id)] == [15.0, 30.0, 45.0, 60.0, 61.0]
        assert book.journal(side_id)[0]["written_utc"] == "2026-11-25T08:01:40.373456Z"
        assert START_UTC.microsecond == 123456


def test_a_commissioning_recorded_in_words_is_read_and_shown(path: Path) -> None:
    """A row as the code of that version wrote it on the twin, before findings were codes: every word of it is kept."""
    row = json.loads((EXAMPLES / "commissioning-in-words.json").read_text(encoding="utf-8"))
    with Logbook(path) as book:
        book.put_commissioning(
            CommissioningRecord(
                began_utc=utc_from(row["began_utc"]),
                wiring_sha256=row["wiring_sha256"],
                box_name=row["box_name"],
                simulated=bool(row["simulated"]),
                who=row["who"],
                step_index=row["step_index"],
                results=json.dumps(row["results"]),
                ended_utc=utc_from(row["ended_utc"]),
                outcome=row["outcome"],
            )
        )
        (record,) = book.commissionings()
        known = book.commissioned(row["wiring_sha256"], simulated=True)
    assert known.passed == record
    report = report_of(record)
    assert report.title == "Commissioning of Demo box: incomplete"
    assert len(report.rows) == len(row["results"]) == 17
    for shown, kept in zip(report.rows, row["results"], strict=True):
        assert (str(shown.title), str(shown.found)) == (kept["title"], kept["found"])
        assert (shown.title.code, shown.found.code) == (AS_WRITTEN, AS_WRITTEN)
        assert len(shown.measures) == len(kept["measures"])
        for line, measure in zip(shown.measures, kept["measures"], strict=True):
            assert line.startswith(f"{measure['what']}: {measure['value']:.3g} {measure['unit']} (limit")
    assert [str(row.title) for row in report.rows if not row.sound] == ["The thermal cut-out alone drops K1"]
