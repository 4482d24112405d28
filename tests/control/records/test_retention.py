"""The rule of box.yaml that lets old traces go: at night, a little at a time, never while the box works."""

from datetime import timedelta
from pathlib import Path

import pytest

from sumlight.box.description import LogbookRules
from sumlight.control.records.retention import Retention
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.pruning import BATCH
from sumlight.store.logbook.writer import LogWriter
from sumlight.store.maintenance.integrity import IntegrityReport
from sumlight.text.message import as_written, read_stored
from tests.control.bench_box import BenchBox, demo_box
from tests.store.filled import fill
from tests.store.making import START_UTC, ask, no_room

DAYS = 100
KEPT = 2 * BATCH + 10
"""Pieces of traces in the logbook below; one more, of today, makes the others old."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A logbook with old exposures and one of today."""
    path = tmp_path / "logbook.sqlite"
    fill(path, KEPT + 1)
    with Logbook(path) as book:
        today = (START_UTC + timedelta(days=DAYS + 1)).isoformat()[:26] + "Z"
        book._session.link.execute(
            "UPDATE exposures SET started_utc = ?, ended_utc = ? WHERE exposure_id = ?", (today, today, KEPT + 1)
        )
    return path


def pieces(path: Path) -> int:
    """How many traces there are."""
    (found,) = ask(path, "SELECT count(*) FROM traces")[0]
    return int(str(found))


def test_old_traces_go_batch_by_batch_and_it_is_noted(path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """One batch a poll; what is newer stays; the note tells it all, and so does the log."""
    writer = LogWriter(path, threaded=False)
    retention = Retention(writer, DAYS)
    retention.poll(resting=True)
    assert pieces(path) == KEPT + 1
    retention.begin(START_UTC + timedelta(days=DAYS + 2))
    seen = []
    for _ in range(6):
        retention.poll(resting=True)
        seen.append(pieces(path))
    assert seen == [KEPT + 1 - BATCH, KEPT + 1 - 2 * BATCH, 1, 1, 1, 1]
    writer.close()
    ((told,),) = ask(path, "SELECT told FROM upkeep")
    assert read_stored(str(told)).startswith(f"{KEPT} pieces of traces")
    assert [r.levelname for r in caplog.records if "removed by the rule logbook.keep_traces_days" in r.message] == [
        "WARNING"
    ]


def test_without_a_rule_nothing_goes(path: Path) -> None:
    """The default."""
    assert demo_box().logbook == LogbookRules(keep_traces_days=None)
    writer = LogWriter(path, threaded=False)
    retention = Retention(writer, None)
    retention.begin(START_UTC + timedelta(days=10_000))
    retention.poll(resting=True)
    writer.close()
    assert pieces(path) == KEPT + 1


def test_a_box_that_works_breaks_it_off_for_the_night(path: Path) -> None:
    """It goes on another night, with a note of its own."""
    writer = LogWriter(path, threaded=False)
    retention = Retention(writer, DAYS)
    retention.begin(START_UTC + timedelta(days=DAYS + 2))
    retention.poll(resting=True)
    retention.poll(resting=False)
    retention.poll(resting=True)
    assert pieces(path) == KEPT + 1 - BATCH
    retention.begin(START_UTC + timedelta(days=DAYS + 2))
    for _ in range(4):
        retention.poll(resting=True)
    writer.close()
    assert pieces(path) == 1
    assert ask(path, "SELECT count(*) FROM upkeep") == [(2,)]


def test_a_full_disk_ends_it_for_the_night_and_holds_up_no_record(path: Path) -> None:
    """It is no record that must be kept."""
    writer = LogWriter(path, threaded=False)
    retention = Retention(writer, DAYS)
    retention.begin(START_UTC + timedelta(days=DAYS + 2))
    with no_room():
        retention.poll(resting=True)
    assert writer.lag_s == 0
    assert writer.lost_count == 0
    retention.poll(resting=True)
    retention.poll(resting=True)
    assert pieces(path) == KEPT + 1
    writer.close()


def test_nothing_is_added_while_records_wait(path: Path) -> None:
    """A stalled card gets its records first."""
    writer = LogWriter(path, threaded=False)
    retention = Retention(writer, DAYS)
    retention.begin(START_UTC + timedelta(days=DAYS + 2))
    with no_room():
        writer.add_lamp_use("lower", 1.0, 1)
        assert writer.error is not None
        retention.poll(resting=True)
    assert not retention._under_way
    writer.close()


@pytest.mark.parametrize(("problems", "expected"), [((), 1), (("page 3 makes no sense",), KEPT + 1)])
def test_the_night_watch_begins_it_only_on_a_sound_logbook(
    path: Path, problems: tuple[str, ...], expected: int
) -> None:
    """The real daemon, from the look to the last trace; nothing is removed from a damaged file."""

    class Night:
        """Tells of one look."""

        def poll(self, *_: object, resting: bool) -> IntegrityReport | None:
            """Once."""
            self.poll = lambda *_, resting: None  # type: ignore[method-assign]
            return IntegrityReport(tuple(map(as_written, problems)), finished=True)

        def close(self) -> None:
            """Nothing to end."""

    bench = BenchBox(path.parent, box=demo_box(logbook=LogbookRules(keep_traces_days=DAYS)))
    assert bench.snapshot()["logbook"]["keep_traces_days"] == DAYS
    bench.set_wall_clock((START_UTC + timedelta(days=DAYS + 2) - bench.clock.utc()).total_seconds())
    bench.daemon._night = Night()  # type: ignore[assignment]
    for _ in range(160):  # such things are looked at ten times a second
        bench.daemon._night_at_s = 0.0
        bench.step()
    bench.close()
    assert pieces(path) == expected
    assert ("checked",) in ask(path, "SELECT what FROM upkeep")
