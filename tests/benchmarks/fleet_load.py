"""What one collector takes of 10,000 boxes: each tells its state, some a record, into the distribution's PostgreSQL.

The real collector, batch by batch, without a broker: every message is from another box, which is the dearest case. The
figures are what `python -m tests.fleet.scale` reckons with. Needs postgresql.
"""

import tempfile
import time
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import create_engine, text

from sumlight.fleet import topics
from sumlight.fleet.collector import service
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.collector.tables import opened
from sumlight.fleet.messages import packed
from sumlight.fleet.outbox import Outbox
from sumlight.fleet.publisher import TELL_S, state_of
from sumlight.fleet.wire import Incoming
from tests.benchmarks.figure import Figure
from tests.fleet.air import Air, expose
from tests.fleet.engines import postgres
from tests.webui import fake_control

BOXES, QUICK_BOXES = 10_000, 1_000
WITH_RECORD = 5
"""One box in so many tells a record."""
RECORDS_A_DAY = 40
UTC_TEXT = "2026-11-30T12:00:00.000000Z"


def measure(quick: bool) -> list[Figure]:
    """States first, then records."""
    boxes = QUICK_BOXES if quick else BOXES
    with ExitStack() as ends:
        folder = Path(ends.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-fleet-")))
        folder.chmod(0o711)
        database, url = postgres(folder / "database")
        ends.enter_context(database)
        opened(url).dispose()
        engine = create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
        ends.callback(engine.dispose)
        collector = service.Collector(Intake(engine), Air(), lambda: datetime.now(UTC))
        states, records = messages(folder, boxes)
        states_per_s = _rate(collector, states)
        records = records[::WITH_RECORD]
        records_per_s = _rate(collector, records)
        with engine.connect() as link:
            there = [link.execute(text(f"SELECT count(*) FROM {table}")).scalar() for table in ("boxes", "records")]
            size_bytes = float(link.execute(text(_SIZE)).scalar() or 0)
        if there != [boxes, len(records)]:
            raise RuntimeError(f"the database holds {there} states and records of {boxes} and {len(records)}")
    return [
        Figure(f"fleet-load: states taken, {boxes} boxes", states_per_s, "1/s", "at least", BOXES / TELL_S),
        Figure(
            f"fleet-load: records taken, {len(records)} boxes",
            records_per_s,
            "1/s",
            "at least",
            BOXES * RECORDS_A_DAY / 86_400,
        ),
        Figure(
            "fleet-load: database for each record, indexes included", size_bytes / len(records), "B", "for comparison"
        ),
        Figure("fleet-load: a record on the wire", len(records[0].payload), "B", "for comparison"),
        Figure("fleet-load: a state on the wire", len(states[0].payload), "B", "for comparison"),
    ]


_SIZE = (
    "SELECT sum(pg_total_relation_size(oid)) FROM pg_class WHERE relkind = 'r'"
    " AND (relname LIKE 'records%' OR relname = 'current_records')"
)


def messages(folder: Path, boxes: int) -> tuple[list[Incoming], list[Incoming]]:
    """A state under light and a finished exposure, as if of so many boxes."""
    expose(folder / "book.sqlite", 1)
    with Outbox(folder / "book.sqlite") as outbox:
        (*_, finished) = outbox.after(0, 10, "box", "0" * 16)
    finished = finished.model_copy(update={"seq": 1, "previous_seq": 0})
    states, records = [], []
    for number in range(boxes):
        box_id = f"box-{number}"
        state = state_of(box_id, "0" * 16, UTC_TEXT, fake_control.lit(), 0)
        record = finished.model_copy(update={"box_id": box_id})
        states.append(Incoming(topics.of_box(box_id, "state"), packed(state), False, None))
        records.append(Incoming(topics.of_box(box_id, "record"), packed(record), False, None))
    return states, records


def _rate(collector: service.Collector, given: Sequence[Incoming]) -> float:
    """Messages a second, batch by batch as they come from the wire."""
    began_s = time.monotonic()
    for first in range(0, len(given), service.BATCH):
        collector.step(given[first : first + service.BATCH], time.monotonic())
    return len(given) / (time.monotonic() - began_s)
