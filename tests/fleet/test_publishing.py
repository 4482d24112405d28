"""What a box tells: by its box.yaml, on its own topics, and no more than it must."""

import threading
from pathlib import Path
from typing import Any

import pytest
import yaml
from sqlalchemy import Engine, select

from sumlight.box.description import load_box
from sumlight.checkedfile import FileProblemsError
from sumlight.fleet import metrics, run, topics
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.collector.service import Collector
from sumlight.fleet.collector.tables import BOXES, RECORDS
from sumlight.fleet.messages import BoxState, Record, packed, read
from sumlight.fleet.publisher import Publisher, online, state_of
from sumlight.fleet.wire import Broker, Incoming, WireError, password
from sumlight.twin import demo
from tests.fleet.air import NOW, Air, expose

UTC = "2026-11-30T12:00:00.000000Z"
LINK = {"box_id": "bench-1", "broker": "broker.example", "port": 1999, "ca_file": "/ca", "password_file": "/word"}
MORE = {"discovery_prefix": "home", "metrics_port": 9999}


def box_yaml(folder: Path, **fleet: Any) -> Path:
    """The demo box with such a block."""
    given = yaml.safe_load(demo.BOX.read_text(encoding="utf-8"))
    file = folder / "box.yaml"
    file.write_text(yaml.safe_dump({**given, "fleet": fleet}), encoding="utf-8")
    return file


def test_a_publisher_does_what_box_yaml_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every key is seen where it acts: in the connection, or in the first topic that is written."""
    made: list[Any] = []

    class Wire(Air):
        def __init__(self, broker: Broker, client_id: str, filters: list[str], will: object, birth: object) -> None:
            super().__init__()
            made.append((broker, client_id, filters, self))

        def close(self, last: tuple[str, bytes] | None = None) -> None:
            made.append(last)

    monkeypatch.setattr(run, "MqttWire", Wire)
    monkeypatch.setattr(run, "STEP_S", 0.0)
    key = tmp_path / "key"
    key.write_text("k" * 40)
    link = load_box(box_yaml(tmp_path, **LINK, **MORE, dark_key_file=str(key))).fleet
    assert link is not None
    stop = threading.Event()
    monkeypatch.setattr(Publisher, "_tell", lambda *_: stop.set())
    told: list[Any] = []
    monkeypatch.setattr(metrics, "serve", lambda _figures, port: told.append(port) or (lambda: told.append("ended")))
    monkeypatch.setattr(Publisher, "close", lambda box: told.append(box._discovery))
    run.publish(link, tmp_path, tmp_path / "none.sqlite", tmp_path / "none.sock", stop)
    broker, client_id, filters, _ = made[0]
    assert broker == Broker("broker.example", 1999, "bench-1", Path("/word"), Path("/ca"))
    assert client_id == "bench-1.publisher"
    own = [topics.of_box("bench-1", what) for what in ("ack", "online", "dark")]
    assert filters == ["sumlight/collector/online", *own]
    assert told == [9999, "ended", "home"]
    assert made[1][0] == "sumlight/box/bench-1/online"


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"ca_file": None}, "fleet.ca_file: is missing"),
        ({"box_id": "collector"}, "fleet.box_id: is the collector's name"),
        ({"box_id": "a/b"}, "fleet.box_id"),
        ({"box_id": "+"}, "fleet.box_id"),
        ({"port": 0}, "fleet.port"),
    ],
)
def test_a_block_that_would_not_be_safe_is_refused(tmp_path: Path, changes: dict[str, Any], why: str) -> None:
    """No password over an open network, no name that is part of a topic."""
    with pytest.raises(FileProblemsError, match=why.replace(".", r"\.")):
        load_box(box_yaml(tmp_path, **{**LINK, **changes}))


def test_the_wiring_is_the_same_with_and_without_a_fleet(tmp_path: Path) -> None:
    """A box that joins need not be commissioned again."""
    from sumlight.box.wiring import wiring_sha256

    assert wiring_sha256(load_box(box_yaml(tmp_path, **LINK))) == wiring_sha256(load_box(demo.BOX))


def test_a_password_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    """With the file and what to do."""
    with pytest.raises(WireError, match=r"fleet\.password_file: .*none: No such file.*write the broker's password"):
        password(tmp_path / "none")


def test_a_box_at_rest_or_out_of_reach_is_told_of(tmp_path: Path) -> None:
    """Once when it changes, and every half minute."""
    air = Air()
    box = Publisher("bench-1", tmp_path / "none", tmp_path, air, lambda: None, lambda: UTC)
    for second in range(70):
        box.step(float(second))
    said = [read(one.payload, BoxState) for one in air.pick("state")]
    assert len(said) == 3
    assert not said[0].reachable
    assert said[0].state is None


def test_what_is_no_message_of_ours_does_nothing(logbook: Path, tmp_path: Path, database: Engine) -> None:
    """Retained rubbish, another box's words, half a message, deep nesting, numbers that are none: on both sides."""
    expose(logbook, 2)
    air, other = Air(), Air()
    box = Publisher("bench-1", logbook, tmp_path / "fleet", air, lambda: None, lambda: UTC, machine="m")
    collector = Collector(Intake(database), other, lambda: NOW)
    air.here = [Incoming(topics.COLLECTOR_ONLINE, b'{"online":true,"run":"00000000000000aa"}', True, None)]
    box.step(0.0)
    good = air.pick("record")[0]
    assert read(good.payload, Record).seq == 1
    ack = f'{{"box_id":"bench-1","epoch":"{read(good.payload, Record).epoch}","seq":1,"mark":""'.encode()
    rubbish = [
        *(b"", b"null", b"[]", b"{}", b'"dark"', b"\xff\xfe", b"[" * 40_000, b"x" * 60_000, good.payload[:-1]),
        *(good.payload.replace(b'"seq":1', b'"seq":' + seq) for seq in (b"0", b"-1", b"1.5", b"true", b"1e3", b"NaN")),
        good.payload.replace(b"invented-38", b"a\\u0000b"),
        good.payload.replace(b"invented-38", b"\\ud800"),
        good.payload.replace(b'"bench-1"', b'"bench-2"'),
        good.payload.replace(b'"version":1', b'"version":2'),
        good.payload.replace(b'"version":1', b'"version":1,"go":true'),
        good.payload.replace(b'"previous_seq":0', b'"previous_seq":9'),
    ]
    for raw in rubbish:
        for topic in (good.topic, topics.of_box("bench-1", "state"), topics.of_box("bench-1", "online"), "x/y"):
            collector.step([Incoming(topic, raw, False, None)], 0.0)
        for topic in (topics.of_box("bench-1", "ack"), topics.COLLECTOR_ONLINE, topics.of_box("bench-1", "dark")):
            air.here.append(Incoming(topic, raw, True, None))
    for late in (ack, ack.replace(b"bench-1", b"bench-2") + b"}", ack.replace(b'"seq":1', b'"seq":9007199254740993')):
        air.here.append(Incoming(topics.of_box("bench-1", "ack"), late, False, None))
    collector.step([Incoming(good.topic, good.payload, True, None)], 0.0)
    for second in range(1, 5):
        box.step(float(second))
    assert other.sent == []
    assert collector.counts.refused == 4 * len(rubbish) + 1
    assert box.sent.acknowledged == 0
    with database.connect() as link:
        assert link.execute(select(RECORDS)).all() == link.execute(select(BOXES)).all() == []
    collector.step([good], 0.0)
    assert collector.counts.stored == 1


def test_a_record_of_another_shape_is_kept_and_read_by_nobody(logbook: Path, tmp_path: Path, database: Engine) -> None:
    """A box that is newer than the collector must not wait for ever."""
    record = Record(
        box_id="bench-1", epoch="0" * 16, seq=1, previous_seq=0, record="1" * 16, mark="1" * 16, kind="fault",
        at_utc=UTC, body={"shape": "new"},
    )  # fmt: skip
    air = Air()
    collector = Collector(Intake(database), air, lambda: NOW)
    collector.step([Incoming(topics.of_box("bench-1", "record"), packed(record), False, None)], 0.0)
    assert b'"seq":1' in air.pick("ack")[0].payload
    with database.connect() as link:
        assert [row.body for row in link.execute(select(RECORDS))] == [{"shape": "new"}]


def test_the_will_of_an_earlier_start_does_not_say_that_a_box_is_gone(database: Engine) -> None:
    """It may come late, just after the next birth."""
    air = Air()
    collector = Collector(Intake(database), air, lambda: NOW)
    told = [online("bench-1", "0" * 16, True), online("bench-1", "1" * 16, True), online("bench-1", "0" * 16, False)]
    collector.step([Incoming(topic, raw, False, None) for topic, raw in told], 0.0)
    with database.connect() as link:
        assert link.scalar(select(BOXES.c.online)) is True
    collector.step([Incoming(*online("bench-1", "1" * 16, False), False, None)], 0.0)
    with database.connect() as link:
        assert link.scalar(select(BOXES.c.online)) is False


def test_a_database_that_is_gone_costs_nothing_but_time(logbook: Path, tmp_path: Path, database: Engine) -> None:
    """What was not stored is not acknowledged; the collector says that it begins anew, and boxes send again."""
    expose(logbook, 1)
    air, other = Air(), Air()
    box = Publisher("bench-1", logbook, tmp_path / "fleet", air, lambda: None, lambda: UTC, machine="m")
    collector = Collector(Intake(database), other, lambda: NOW)
    before = collector.run
    air.here = [Incoming(topics.COLLECTOR_ONLINE, b'{"online":true,"run":"00000000000000aa"}', True, None)]
    box.step(0.0)
    sent = air.pick("record")
    with database.begin() as link:
        link.exec_driver_sql("ALTER TABLE records RENAME TO gone")
    collector.step(sent, 0.0)
    assert other.pick("ack") == []
    assert (collector.counts.database_failures, collector.run != before) == (1, True)
    with database.begin() as link:
        link.exec_driver_sql("ALTER TABLE gone RENAME TO records")
    collector.step(sent, 1.0)
    assert collector.counts.stored == 0
    collector.step(sent, 10.0)
    assert collector.counts.stored == len(sent)


def test_a_copied_card_gives_itself_away(tmp_path: Path) -> None:
    """By a sign of life that is not ours; what an earlier start of our own left at the broker does not count."""
    air = Air()
    box = Publisher("bench-1", tmp_path / "none", tmp_path, air, lambda: None, lambda: UTC, boot="a" * 16)
    before, ours, other = (Incoming(*online("bench-1", letter * 16, True), True, None) for letter in "0ab")
    air.here = [before, ours]
    box.step(0.0)
    assert box.sent.name_taken == 0
    air.here = [other]
    box.step(1.0)
    assert box.sent.name_taken == 1
    air.connections, air.here = 2, [other, ours]
    box.step(2.0)
    assert box.sent.name_taken == 1


def test_the_state_of_a_silent_controller_says_only_what_waits() -> None:
    """And nothing that was true once."""
    said = state_of("bench-1", "0" * 16, UTC, None, 7)
    assert (said.reachable, said.unsent_records, said.state, said.faults, said.banks) == (False, 7, None, [], [])
