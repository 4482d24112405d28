"""No record is lost and none counts twice, whatever is lost, repeated, killed, put back or copied."""

import random
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from sumlight.fleet import topics
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.collector.service import Collector, online
from sumlight.fleet.collector.tables import CURRENT, DELIVERIES, RECORDS
from sumlight.fleet.messages import Record, read
from sumlight.fleet.outbox import Outbox
from sumlight.fleet.publisher import Publisher
from sumlight.fleet.window import FIRST_WAIT_S, Window
from sumlight.fleet.wire import Incoming
from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.maintenance.recovery import make_sound
from tests.fleet.air import NOW, Air, expose
from tests.store.making import ask, later

BOX, UTC = "bench-1", "2026-11-30T12:00:00.000000Z"


@dataclass
class Story:
    """A box, a collector and the air between them. Time passes only here."""

    logbook: Path
    folder: Path
    engine: Engine
    machine: str = "this computer"
    now_s: float = 0.0
    box_air: Air = field(default_factory=Air)
    collector_air: Air = field(default_factory=Air)

    def __post_init__(self) -> None:
        self.start_box()
        self.start_collector()

    def start_box(self) -> None:
        """As after a kill: what was in memory is gone."""
        self.box_air.sent.clear()
        self.box = Publisher(
            BOX, self.logbook, self.folder, self.box_air, lambda: None, lambda: UTC,
            machine=self.machine,
        )  # fmt: skip

    def start_collector(self) -> None:
        """As after a kill."""
        self.collector = Collector(Intake(self.engine), self.collector_air, lambda: NOW)
        self.box_air.here.append(Incoming(*online(self.collector.run, True), True, None))

    def round(self, keep: float = 1.0, rng: random.Random | None = None) -> None:
        """One step of both; of each message this share arrives, and some come twice or in another order."""
        rng = rng or random.Random(1)
        self.box.step(self.now_s)
        there = [message for message in self.box_air.pick("record") if rng.random() < keep]
        there += [message for message in there if rng.random() > keep]
        if keep < 1:
            rng.shuffle(there)
        self.collector.step(there, self.now_s)
        back = [message for message in self.collector_air.pick("ack") if rng.random() < keep]
        self.box_air.here += back
        self.now_s += 1.0

    def rounds(self, count: int) -> None:
        """Calm weather."""
        for _ in range(count):
            self.round()


@pytest.fixture
def story(logbook: Path, tmp_path: Path, database: Engine) -> Iterator[Story]:
    """A box with ten exposures."""
    expose(logbook, 10)
    told = Story(logbook, tmp_path / "fleet", database)
    yield told
    told.box.close()


def stored(engine: Engine) -> list[tuple[str, int, str]]:
    """What the collector has, by epoch and number."""
    with engine.connect() as link:
        rows = link.execute(select(RECORDS.c.epoch, RECORDS.c.seq, RECORDS.c.mark).order_by(RECORDS.c.received_utc))
        return sorted((row.epoch, row.seq, row.mark) for row in rows)


def marks(path: Path) -> list[str]:
    """Every change in a logbook."""
    return sorted(str(row[0]) for row in ask(path, "SELECT mark FROM changes"))


def has_all_once(engine: Engine, path: Path) -> bool:
    """Whether every change of the logbook lies in the database exactly once."""
    return sorted(mark for _, _, mark in stored(engine)) == marks(path)


def test_all_records_arrive_once_and_are_acknowledged(story: Story) -> None:
    """And what is begun later follows."""
    story.rounds(4)
    assert has_all_once(story.engine, story.logbook)
    assert story.box.unsent == 0
    expose(story.logbook, 3, first=11)
    story.rounds(4)
    assert has_all_once(story.engine, story.logbook)


def test_the_collector_has_each_record_as_it_stands_now(story: Story) -> None:
    """Three changes of an exposure are three records, and one exposure."""
    story.rounds(4)
    with Logbook(story.logbook, durable=False) as book:
        book.put_verdict(3, "too_little", "Ada")
    story.rounds(4)
    with story.engine.connect() as link:
        bodies = [row.body for row in link.execute(select(CURRENT).where(CURRENT.c.kind == "exposure"))]
    assert sorted(body["exposure_id"] for body in bodies) == list(range(1, 11))
    assert [body["verdict"] for body in bodies if body["exposure_id"] == 3] == ["too_little"]
    assert all(body["outcome"] == "completed" for body in bodies)
    assert "Ada" not in str(bodies)


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.campaign) for seed in range(1, 3))])
def test_nothing_is_lost_or_doubled_in_bad_weather(story: Story, seed: int) -> None:
    """Half of all messages get lost, others come twice or late; box and collector are killed at random."""
    rng = random.Random(seed)
    for number in range(30):
        story.round(keep=0.5, rng=rng)
        if rng.random() < 0.2:
            story.start_box()
            story.box_air.here.append(Incoming(*online(story.collector.run, True), True, None))
        if rng.random() < 0.2:
            story.start_collector()
        if rng.random() < 0.3:
            expose(story.logbook, 1, first=100 + number)
        story.now_s += FIRST_WAIT_S
    story.start_collector()
    story.rounds(40)
    assert has_all_once(story.engine, story.logbook)


def test_a_lost_bookmark_only_repeats(story: Story) -> None:
    """All is sent again in a new epoch; the collector knows each change by its mark."""
    story.rounds(4)
    shutil.rmtree(story.folder)
    story.start_box()
    story.start_collector()
    expose(story.logbook, 1, first=11)
    story.rounds(5)
    assert has_all_once(story.engine, story.logbook)
    assert len({epoch for epoch, _, _ in stored(story.engine)}) == 2


def test_a_restored_logbook_begins_a_new_epoch_and_loses_nothing(story: Story, tmp_path: Path) -> None:
    """Numbers that were given once are given again to other records; the mark tells them apart."""
    story.rounds(4)
    story.box.close()
    with closing(sqlite3.connect(story.logbook)) as source, closing(sqlite3.connect(tmp_path / "copy")) as target:
        source.backup(target)
    expose(story.logbook, 2, first=11)
    story.rounds(10)
    lost = set(marks(story.logbook))
    for leftover in story.logbook.parent.glob("logbook.sqlite*"):
        leftover.unlink()
    (tmp_path / "copy").rename(story.logbook)
    expose(story.logbook, 5, first=21)
    story.rounds(20)
    assert set(marks(story.logbook)) | lost == {mark for _, _, mark in stored(story.engine)}
    assert len(stored(story.engine)) == len({mark for _, _, mark in stored(story.engine)})
    with story.engine.connect() as link:
        panels = [row.body["panel"] for row in link.execute(select(CURRENT).where(CURRENT.c.kind == "exposure"))]
    assert sorted(panels) == sorted([f"P{n}" for n in (*range(1, 13), *range(21, 26))])


def test_a_copied_card_in_another_computer_counts_for_itself(story: Story) -> None:
    """Two boxes that both believe to be the same never share an epoch."""
    story.rounds(4)
    story.box.close()
    story.machine = "another computer"
    story.start_box()
    story.start_collector()
    story.rounds(4)
    with story.engine.connect() as link:
        assert len(link.execute(select(DELIVERIES)).all()) == 2
    assert has_all_once(story.engine, story.logbook)


def test_a_collector_that_was_put_back_gets_again_what_it_lost(story: Story, tmp_path: Path) -> None:
    """What it says it has is what counts; the box still has all."""
    story.rounds(1)
    story.engine.dispose()
    shutil.copy(tmp_path / "fleet.sqlite", tmp_path / "old.sqlite")
    expose(story.logbook, 5, first=11)
    story.rounds(6)
    story.engine.dispose()
    for leftover in tmp_path.glob("fleet.sqlite*"):
        leftover.unlink()
    shutil.copy(tmp_path / "old.sqlite", tmp_path / "fleet.sqlite")
    story.start_collector()
    expose(story.logbook, 1, first=16)
    story.rounds(6)
    assert has_all_once(story.engine, story.logbook)


def test_a_rescued_logbook_keeps_its_numbers(story: Story) -> None:
    """What is taken over out of a damaged file is not sent again as something new."""
    story.rounds(4)
    story.box.close()
    before = marks(story.logbook)
    with closing(sqlite3.connect(story.logbook)) as link:
        link.execute("CREATE TABLE foreign_to_us (x)")
    assert make_sound(story.logbook, later(9000), durable=False) is not None
    assert marks(story.logbook) == before
    expose(story.logbook, 1, first=11)
    assert len(marks(story.logbook)) == len(before) + 2


def test_nothing_is_sent_while_no_collector_listens(story: Story) -> None:
    """The broker would keep it, or lose it; the logbook keeps it for weeks."""
    story.box_air.here.append(Incoming(*online(story.collector.run, False), True, None))
    story.box.step(0.0)
    assert story.box_air.pick("record") == []


def test_the_window_bounds_what_is_on_its_way(story: Story) -> None:
    """Whatever waits."""
    expose(story.logbook, 60, first=11)
    story.box.step(0.0)
    first = story.box_air.pick("record")
    story.box.step(1.0)
    assert (len(first), len(story.box_air.pick("record"))) == (50, 0)
    story.box.step(1.0 + FIRST_WAIT_S)
    assert [one.payload for one in story.box_air.pick("record")] == [one.payload for one in first]


def test_waiting_grows_and_is_forgotten_when_something_is_heard() -> None:
    """A dead collector is not shouted at."""
    window = Window(0)
    times: list[float] = []
    now_s = 0.0
    while len(times) < 4:
        window.look(now_s)
        if window.sent == 0:
            window.note_sent(1, now_s)
            times.append(now_s)
        now_s += 1.0
    assert times == [0.0, 10.0, 30.0, 70.0]
    window.acknowledged(1, now_s, again=False)
    window.note_sent(2, now_s)
    window.look(now_s + FIRST_WAIT_S)
    assert window.sent == 1


def test_order_is_kept_and_a_gap_is_asked_for(story: Story) -> None:
    """A record that comes before its predecessor is not stored: it comes again in its turn."""
    story.box.step(0.0)
    sent = story.box_air.pick("record")
    story.collector.step(sent[5:], 0.0)
    assert stored(story.engine) == []
    acks = story.collector_air.pick("ack")
    assert [b'"send_from_here":true' in ack.payload for ack in acks] == [True]
    story.collector.step(sent[5:], 1.0)
    assert story.collector_air.pick("ack") == []
    story.box_air.here += acks
    story.rounds(3)
    assert has_all_once(story.engine, story.logbook)


def test_every_kind_of_record_is_as_its_schema_says(logbook: Path) -> None:
    """Read from a logbook that holds one of each, written as control writes them."""
    expose(logbook, 1)
    with closing(sqlite3.connect(logbook)) as link:
        link.executescript(
            """
            INSERT INTO faults (name, detail, exposure_id, raised_utc) VALUES
                ('meter_lost', 'x', 1, '2026-11-30T08:00:00.000000Z');
            UPDATE faults SET cleared_utc = '2026-11-30T08:01:00.000000Z', cleared_by = 'Ada';
            INSERT INTO lamp_readings (bank, side_id, read_utc, settled_mw_cm2, lit_s, strikes)
                VALUES ('lower', 1, '2026-11-30T08:00:00.000000Z', 4.9, 3600.0, 12);
            INSERT INTO tubes (bank, position, label, lamp_type, wavelength_class, fitted_utc, hours_at_fitting,
                strikes_at_fitting, bank_total_lit_s, bank_total_strikes)
                VALUES ('lower', 1, 'a', 'T8', 'UV-A 365 nm', '2026-11-30T08:00:00.000000Z', 0.0, 0, 0.0, 0);
            INSERT INTO calibrations (origin, meter, bank, lamp_set, position, ln_ratio, ln_sigma, common_ln_sigma,
                lamp_hours, made_utc, note) VALUES ('tablet', 'm', 'lower', 1, '', 0.1, 0.04, 0.0, 10.0,
                '2026-11-30T08:00:00.000000Z', 'n');
            INSERT INTO tablet_readings (exposure_id, zone, dose_mj_cm2, step, convention, half, lot, read_utc)
                VALUES (1, '1', 60.0, '7', 'last_held', 1, 'L1', '2026-11-30T08:00:00.000000Z');
            INSERT INTO jobs (artwork, wanted, numbers, steps, made_utc)
                VALUES ('gear', 1, '{}', '[]', '2026-11-30T08:00:00.000000Z');
            INSERT INTO job_panels (job_id, label) VALUES (1, 'P1');
            INSERT INTO job_steps (job_panel_id, step_id, state) VALUES (1, 1, 'begun');
            INSERT INTO baths (contents, mixed_utc, mixed_by) VALUES
                ('{"kind": "iron", "volume_l": 1.0}', '2026-11-30T08:00:00.000000Z', 'Ada');
            DELETE FROM tablet_readings;
            """
        )
    with Outbox(logbook) as outbox:
        records = outbox.after(0, 100, BOX, "0" * 16)
    for record in records:
        assert read(record.model_dump_json().encode(), Record) == record
    kinds = {record.kind for record in records}
    assert kinds == {"exposure", "fault", "lamp_reading", "tube", "calibration", "tablet_reading", "job_panel", "bath"}
    assert [record.previous_seq for record in records] == list(range(len(records)))
    taken_back = [record for record in records if record.kind == "tablet_reading"]
    assert [record.body for record in taken_back] == [None, None]
    assert taken_back[0].record == taken_back[1].record == taken_back[0].mark
    assert "Ada" not in str(records)


def test_a_tablet_goes_with_the_densities_of_its_certificate(logbook: Path) -> None:
    """All 21, however long their text; a usual tablet has none."""
    own = tuple(0.0512345678 + 0.15 * step for step in range(21))
    expose(logbook, 1)
    with Logbook(logbook, durable=False) as book:
        for zone, densities in (("1", own), ("2", ())):
            record = TabletRecord(1, zone, 60.0, "7", "last_held", False, "L1", UTC, densities)
            book.calibrations.add_metrology(record)
    with Outbox(logbook) as outbox:
        bodies = [one.body for one in outbox.after(0, 100, BOX, "0" * 16) if one.kind == "tablet_reading"]
    assert [body and tuple(body["densities"]) for body in bodies] == [own, ()]


def test_topics_keep_boxes_apart() -> None:
    """The list of rights names a box by its user name only, and what stands in no list is refused."""
    with pytest.raises(ValueError, match="box_id: 'A/b' is no name of a box"):
        topics.of_box("A/b", "record")
    assert topics.box_of("sumlight/box/bench-1/record", "record") == "bench-1"
    for other in ("sumlight/box/bench-1/x/record", "sumlight/box//record", "sumlight/box/#/record", "x/box/a/record"):
        assert topics.box_of(other, "record") is None
