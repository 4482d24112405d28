"""Records into the database: each once, in its box's order, and acknowledged only once they are on the disk."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Engine, insert, select, text, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import ProgrammingError

from sumlight.fleet.collector.tables import BOXES, CURRENT, DELIVERIES, RECORDS
from sumlight.fleet.messages import Acknowledgement, BoxOnline, BoxState, Record, sound
from sumlight.store.logbook.database import utc_text

FIRST_YEAR = 2020
"""No box is older. A record of another time, such as one whose clock ran wrong, lies in the partition for the rest."""
NO_MONTH = date(1970, 1, 1)


@dataclass
class Taken:
    """What became of a batch."""

    acknowledgements: list[Acknowledgement] = field(default_factory=list)
    stored: int = 0
    repeated: int = 0
    gaps: int = 0


class Intake:
    """The one way into the records. Raises sqlalchemy.exc.SQLAlchemyError; then nothing of the batch is stored."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._parted = engine.dialect.name == "postgresql"
        self._months: set[date] = set()
        self._make: Any = postgresql.insert if self._parted else sqlite.insert

    def put(self, batch: Sequence[Record], now: datetime) -> Taken:
        """Store what is new of a batch in one transaction; repeats and what comes too early change nothing."""
        taken = Taken()
        if self._parted:
            for record in batch:
                self._provide_month(month_of(record.at_utc, now))
        by_epoch: dict[tuple[str, str], list[Record]] = {}
        for record in batch:
            by_epoch.setdefault((record.box_id, record.epoch), []).append(record)
        with self._engine.begin() as link:
            for (box_id, epoch), records in sorted(
                by_epoch.items()
            ):  # in one order: two that wait never wait in a ring
                taken.acknowledgements.append(self._put_epoch(link, box_id, epoch, records, now, taken))
        return taken

    def _put_epoch(
        self, link: Connection, box_id: str, epoch: str, records: list[Record], now: datetime, taken: Taken
    ) -> Acknowledgement:
        now_utc = utc_text(now)
        fresh = {"box_id": box_id, "epoch": epoch, "seq": 0, "mark": "", "begun_utc": now_utc, "last_utc": now_utc}
        link.execute(self._make(DELIVERIES).values(fresh).on_conflict_do_nothing())
        mine = (DELIVERIES.c.box_id == box_id) & (DELIVERIES.c.epoch == epoch)
        row = link.execute(select(DELIVERIES.c.seq, DELIVERIES.c.mark).where(mine).with_for_update()).one()
        seq, mark, gap, new = int(row.seq), str(row.mark), False, []
        for record in records:
            if record.seq <= seq:
                taken.repeated += 1
            elif record.previous_seq > seq:
                gap = True
                taken.gaps += 1
            else:
                seq, mark = record.seq, record.mark
                new.append(record)
        if new:
            taken.stored += self._store(link, box_id, new, now)
            link.execute(update(DELIVERIES).where(mine).values(seq=seq, mark=mark, last_utc=now_utc))
        return Acknowledgement(box_id=box_id, epoch=epoch, seq=seq, mark=mark, send_from_here=gap)

    def _store(self, link: Connection, box_id: str, records: list[Record], now: datetime) -> int:
        """Marks that are known came in an earlier epoch: another number for the same change."""
        marks = [record.mark for record in records]
        known = set(
            link.scalars(select(RECORDS.c.mark).where((RECORDS.c.box_id == box_id) & RECORDS.c.mark.in_(marks)))
        )
        new = [record for record in records if record.mark not in known]
        if not new:
            return 0
        rows = [
            {
                "box_id": box_id,
                "epoch": record.epoch,
                "seq": record.seq,
                "month": month_of(record.at_utc, now),
                "record": record.record,
                "mark": record.mark,
                "kind": record.kind,
                "at_utc": record.at_utc,
                "received_utc": utc_text(now),
                "body": record.body,
            }
            for record in new
        ]
        link.execute(insert(RECORDS), rows)
        # What a newer box says in another shape is kept, but nobody here could read it.
        newest = {one.record: one for one in new if one.body is None or sound(one.kind, one.body)}
        if not newest:
            return len(new)
        put = self._make(CURRENT)
        put = put.on_conflict_do_update(
            index_elements=["box_id", "record"], set_={"body": put.excluded.body, "kind": put.excluded.kind}
        )
        link.execute(
            put,
            [
                {"box_id": box_id, "record": name, "kind": one.kind, "at_utc": one.at_utc, "body": one.body}
                for name, one in newest.items()
            ],
        )
        return len(new)

    def put_states(self, states: Iterable[BoxState], now: datetime) -> None:
        """What boxes are doing, in one transaction; only the last of each box is kept."""
        newest = {state.box_id: state for state in states}
        put, fresh = self._make(BOXES), {"online": True, "heard_utc": utc_text(now)}
        changed = {name: put.excluded[name] for name in ("heard_utc", "boot", "state")}
        rows = [
            {"box_id": box_id, "boot": state.boot, "state": state.model_dump(), **fresh}
            for box_id, state in sorted(newest.items())
        ]
        with self._engine.begin() as link:
            link.execute(put.on_conflict_do_update(index_elements=["box_id"], set_=changed), rows)

    def put_online(self, said: BoxOnline, now: datetime) -> None:
        """Whether a box is connected. The will of an earlier start says nothing of the present one."""
        with self._engine.begin() as link:
            boot = link.scalar(select(BOXES.c.boot).where(BOXES.c.box_id == said.box_id))
        if said.online or boot in (None, "", said.boot):
            self._put_box(said.box_id, {"boot": said.boot, "online": said.online}, now)

    def _put_box(self, box_id: str, values: dict[str, Any], now: datetime) -> None:
        fresh = {"box_id": box_id, "online": True, "heard_utc": utc_text(now), **values}
        put = self._make(BOXES).values(fresh)
        changed = {name: put.excluded[name] for name in ("heard_utc", *values)}
        with self._engine.begin() as link:
            link.execute(put.on_conflict_do_update(index_elements=["box_id"], set_=changed))

    def _provide_month(self, month: date) -> None:
        """Make the partition of a month where there is none yet; two collectors may try at once."""
        if month in self._months or month == NO_MONTH:
            return
        after = date(month.year + month.month // 12, month.month % 12 + 1, 1)
        name = f"records_{month:%Y_%m}"
        made = f"CREATE TABLE IF NOT EXISTS {name} PARTITION OF records FOR VALUES FROM ('{month}') TO ('{after}')"
        try:
            with self._engine.begin() as link:
                link.execute(text(made))
        except ProgrammingError:  # made by another in this very moment
            pass
        self._months.add(month)


def month_of(at_utc: str | None, now: datetime) -> date:
    """The month of a record, by its own time; NO_MONTH for a time that no box can have seen."""
    if at_utc is None:
        return NO_MONTH
    try:
        month = date.fromisoformat(at_utc[:10]).replace(day=1)
    except ValueError:
        return NO_MONTH
    return month if month.year >= FIRST_YEAR and month <= now.date() else NO_MONTH
