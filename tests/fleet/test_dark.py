"""What may come over a network: a *dark* that is signed, fresh and new ends light. Nothing else does anything."""

import ast
import hashlib
import hmac
import json
import sqlite3
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client, MQTTMessage

from sumlight import fleet
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.control.daemon import LOGBOOK
from sumlight.fleet import run, topics
from sumlight.fleet.dark import LIFE_S, Dark, Key, key_of, order, signed
from sumlight.fleet.messages import Acknowledgement, DarkAnswer, DarkOrder, Record, packed, read
from sumlight.fleet.publisher import Publisher
from sumlight.fleet.wire import QUEUE, Broker, Incoming, MqttWire, WireError
from sumlight.protocol.commands import COMMANDS
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.store.logbook.reading import LogbookReader
from sumlight.text.message import say
from tests.fleet.air import NOW, Air, expose

KEY, OTHER = Key(b"k" * 64), Key(b"o" * 64)
DARK = topics.of_box("bench-1", "dark")


class Box:
    """A real control on a simulated box, and its publisher; whatever reaches control is written down."""

    def __init__(self, folder: Path, key: Key | None = KEY) -> None:
        self.simulated = SimulatedBox(
            *read_files(None, None), folder / "data", speed=None, attended=False, threaded=False
        )
        self.logbook = folder / "data" / LOGBOOK
        self.asked: list[str] = []
        self.now = NOW
        self.air = Air()
        self.record = folder / "fleet" / "darks.jsonl"
        dark = None if key is None else Dark(key, "bench-1", self._dark, lambda: self.now, self.record)
        self.publisher = Publisher(
            "bench-1", folder / "none", folder / "fleet", self.air, self._state, lambda: "2026-11-30T12:00:00.000000Z",
            dark=dark,
        )  # fmt: skip
        self.now += timedelta(seconds=30)

    def _state(self) -> dict[str, Any]:
        self.asked.append("state")
        return self.simulated.daemon.commander.snapshot()

    def _dark(self, sender: str) -> bool:
        self.asked.append("dark")
        self.simulated.daemon.commander.handle(Request(1, "dark", {"sender": sender}))
        return True

    @property
    def lit(self) -> bool:
        """Whether any lamp is told to burn."""
        return any(bank["commanded"] for bank in self.simulated.daemon.commander.snapshot()["banks"])

    def light(self) -> None:
        """A panel under light."""
        for _ in range(400):  # until the sensor has answered
            self.simulated.step()
        self.simulated.press("start", recipe="blue-38")
        for _ in range(4000):
            self.simulated.step()
            if self.lit:
                return
        raise AssertionError("no light")

    def gets(self, *messages: Incoming) -> None:
        """Messages arrive, and control goes on for a moment."""
        self.air.here += messages
        self.publisher.step(float(self.simulated.clock.mono_s()))
        for _ in range(5):
            self.simulated.step()


@pytest.fixture
def box(tmp_path: Path) -> Iterator[Box]:
    """With the key."""
    made = Box(tmp_path)
    yield made
    made.simulated.daemon.close()


def sent(given: DarkOrder, *, retained: bool = False, expires_s: int | None = LIFE_S, topic: str = DARK) -> Incoming:
    """An order as the broker hands it over."""
    return Incoming(topic, packed(given), retained, expires_s)


def fresh(box: Box, key: Key = KEY, box_id: str = "bench-1", after_s: float = 0.0) -> DarkOrder:
    """One that was made so long after now, or before it."""
    return order(key, box_id, "office", box.now + timedelta(seconds=after_s))


def test_a_fresh_signed_dark_ends_light_and_is_recorded(box: Box) -> None:
    """With its sender; the answer goes back."""
    box.light()
    given = fresh(box)
    box.gets(sent(given))
    assert not box.lit
    line = json.loads(box.record.read_text())
    assert (line["sender"], line["nonce"], line["done"]) == ("office", given.nonce, True)
    answers = box.air.pick("dark_answer")
    assert [json.loads(one.payload)["done"] for one in answers] == [True]
    with LogbookReader.open_reader(box.logbook) as book:
        found = book.exposure(1)
    assert found is not None
    assert [dark["sender"] for dark in found["network_darks"]] == ["office"]


def test_every_other_dark_does_nothing(box: Box) -> None:
    """Retained, without an end, long-lived, late, from the future, wrongly signed, for another box, altered."""
    box.light()
    good = fresh(box)
    altered = good.model_copy(update={"sender": "boss"})
    wrong = [
        sent(good, retained=True),
        sent(good, expires_s=None),
        sent(good, expires_s=LIFE_S + 1),
        sent(fresh(box, after_s=-LIFE_S - 0.5)),
        sent(fresh(box, after_s=2.0)),
        sent(fresh(box, key=OTHER)),
        sent(fresh(box, box_id="bench-2")),
        sent(good.model_copy(update={"box_id": "bench-2"})),
        sent(altered),
        sent(good.model_copy(update={"signature": "0" * 64})),
        sent(good, topic=topics.of_box("bench-2", "dark")),
        sent(good, topic=topics.of_box("bench-1", "ack")),
        Incoming(DARK, b'{"command":"dark"}', False, 1),
        Incoming(DARK, b"dark", False, 1),
        Incoming(DARK, packed(good)[:-2], False, 1),
    ]
    box.gets(*wrong)
    assert box.lit
    assert box.publisher.sent.refused == len(wrong)
    assert not box.record.exists()


def test_a_dark_is_obeyed_once(box: Box) -> None:
    """A replay within its life does nothing, nor does one from before the publisher's start."""
    given = fresh(box)
    box.gets(sent(given), sent(given))
    assert box.asked.count("dark") == 1
    box.now = NOW + timedelta(seconds=1)
    box.gets(sent(order(KEY, "bench-1", "office", NOW - timedelta(seconds=1))))
    assert box.asked.count("dark") == 1


def test_without_a_key_no_dark_is_obeyed(tmp_path: Path) -> None:
    """It is off until box.yaml names one."""
    box = Box(tmp_path, key=None)
    box.light()
    box.gets(sent(fresh(box)))
    assert box.lit
    assert box.asked == ["state"]
    box.simulated.daemon.close()


def test_nothing_that_arrives_lights_a_lamp_or_asks_control_for_anything_but_state_and_dark(box: Box) -> None:
    """Every command of control, on every topic, plain and rightly signed, retained or not: the box stays as it is."""
    words = [*COMMANDS, "light", "on", "start", "go", "ON", "true"]
    everywhere = [
        topics.of_box("bench-1", what) for what in (*topics.WRITTEN_BY_BOX, *topics.READ_BY_BOX, "set", "command")
    ]
    everywhere += [topics.COLLECTOR_ONLINE, "homeassistant/light/bench-1/set", "sumlight", "#", ""]
    for word in words:
        signed_word = order(KEY, "bench-1", word, box.now).model_dump() | {"command": word}
        raws = [
            json.dumps(told).encode() for told in ({"id": 1, "command": word, "recipe": "blue-38"}, word, signed_word)
        ]
        box.air.here += [
            Incoming(topic, raw, kept, 5) for topic in everywhere for raw in raws for kept in (True, False)
        ]
    while box.air.here:
        box.publisher.step(float(box.simulated.clock.mono_s()))
    for _ in range(400):
        box.simulated.step()
    assert set(box.asked) <= {"state"}
    assert not box.lit
    assert box.simulated.daemon.commander.snapshot()["state"] == "idle"
    assert box.publisher.sent.refused == len(words) * len(everywhere) * 6


def test_the_fleet_can_ask_control_for_state_and_dark_only() -> None:
    """Read from the source: every command that anything in the package asks for, and no other way to control."""
    asked: list[str] = []
    known = {"ControlClient", "ControlGoneError", "BadRequestError", "STATES", "FaultName"}
    for path in Path(str(fleet.__file__)).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "ask":
                first = node.args[0]
                assert isinstance(first, ast.Constant), f"{path}: a command that is put together"
                asked.append(str(first.value))
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = {one.name for one in node.names}
                module = (node.module or "") if isinstance(node, ast.ImportFrom) else ""
                assert not {module, *names} & {"socket", "importlib", "protocol"}, path
                assert module or not any(name.startswith("sumlight") for name in names), path
                assert not module.startswith("sumlight.protocol") or names <= known, path
    assert sorted(asked) == ["dark", "state"]


def test_the_signature_is_hmac_sha256_of_the_named_lines() -> None:
    """Against Python's own hmac over the documented text, and RFC 4231's test case 2 for the function itself."""
    known = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest() == known
    given = order(KEY, "bench-1", "office", NOW)
    lines = f"sumlight dark 1\nbench-1\noffice\n{given.nonce}\n{given.issued_utc}"
    assert given.signature == hmac.new(b"k" * 64, lines.encode(), hashlib.sha256).hexdigest()
    assert datetime.fromisoformat(given.issued_utc) == NOW


def test_a_key_that_is_missing_or_short_stops_the_publisher(tmp_path: Path) -> None:
    """With what to do; a key is never printed."""
    with pytest.raises(WireError, match=r"fleet\.dark_key_file: .*No such file.*put a key"):
        key_of(tmp_path / "none")
    (tmp_path / "short").write_text("secret\n")
    with pytest.raises(WireError, match=r"6 characters; a key has 32 at least") as told:
        key_of(tmp_path / "short")
    assert "secret" not in str(told.value)
    assert "kkk" not in repr(KEY)


def test_the_record_of_darks_is_bounded(box: Box, monkeypatch: pytest.MonkeyPatch) -> None:
    """One file before it is kept."""
    monkeypatch.setattr("sumlight.fleet.dark.RECORD_BYTES", 300)
    for number in range(10):
        box.now = NOW + timedelta(seconds=60 + number)
        box.gets(sent(fresh(box)))
    files = [box.record, box.record.with_suffix(".before")]
    assert all(0 < file.stat().st_size < 600 for file in files)


def test_a_dark_is_obeyed_whatever_becomes_of_the_logbook(
    box: Box, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A record that fits no shape waits to be sent; then the table is gone as an acknowledgement asks for it."""
    monkeypatch.setattr("sumlight.fleet.publisher.LOGBOOK_S", 0.0)
    book = tmp_path / "none"
    expose(book, 1)
    with sqlite3.connect(book) as link:
        link.execute("INSERT INTO baths (contents, mixed_utc, mixed_by) VALUES ('{}', '2026-11-30T08:00:00Z', '')")
    box.air.here = [Incoming(topics.COLLECTOR_ONLINE, b'{"online":true,"run":"00000000000000aa"}', True, None)]
    box.gets(sent(fresh(box)))
    assert box.asked.count("dark") == 1
    with sqlite3.connect(book) as link:
        link.execute("DELETE FROM changes WHERE kind = 'bath'")
    box.gets()
    epoch = read(box.air.pick("record")[0].payload, Record).epoch
    with sqlite3.connect(book) as link:
        link.execute("DROP TABLE changes")
    ack = packed(Acknowledgement(box_id="bench-1", epoch=epoch, seq=1, mark="0" * 16))
    box.gets(Incoming(topics.of_box("bench-1", "ack"), ack, False, None), sent(fresh(box)))
    assert box.asked.count("dark") == 2


def test_a_signed_dark_of_no_day_is_refused(box: Box) -> None:
    """It does not end the publisher, and with it the darks that come after."""
    given = fresh(box).model_copy(update={"issued_utc": "2026-13-30T12:00:00.000000Z"})
    signature = signed(KEY, given.box_id, given.sender, given.nonce, given.issued_utc)
    box.gets(sent(given.model_copy(update={"signature": signature})))
    assert (box.publisher.sent.refused, box.asked.count("dark")) == (1, 0)


@pytest.fixture
def wire(monkeypatch: pytest.MonkeyPatch) -> MqttWire:
    """One that goes nowhere."""
    monkeypatch.setattr(Client, "connect_async", lambda *_args, **_more: None)
    monkeypatch.setattr(Client, "loop_start", lambda _: None)
    return MqttWire(Broker("broker.example", 1883, "bench-1", None, None), "bench-1.publisher", [])


def test_a_dark_finds_room_in_a_full_queue_and_goes_first(wire: MqttWire) -> None:
    """Acknowledgements come faster than they are looked at; the queue stays bounded."""
    for topic, count in ((topics.of_box("bench-1", "ack"), QUEUE + 1), (DARK, QUEUE + 1)):
        message = MQTTMessage(0, topic.encode())
        for _ in range(count):
            wire._on_message(wire._client, None, message)
    taken = wire.taken(10 * QUEUE)
    assert [one.topic == DARK for one in taken] == [True] * QUEUE + [False] * QUEUE
    assert wire.dropped == 2


def test_an_order_that_could_not_leave_is_made_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The line broke between the look and the word: a later one is sent, and answered."""
    left: list[DarkOrder] = []

    class Line(Air):
        def __init__(self, *_: object) -> None:
            super().__init__()
            self.tries = 0

        def send(self, topic: str, payload: bytes, *, retain: bool = False, expires_s: int | None = None) -> bool:
            self.tries += 1
            if self.tries > 1:
                left.append(read(payload, DarkOrder))
            return self.tries > 1

        def wait(self, _limit_s: float) -> Incoming | None:
            said = [DarkAnswer(box_id="bench-1", nonce=one.nonce, done=True) for one in left]
            return Incoming("x", packed(said[-1]), False, None) if said else None

        def close(self) -> None:
            """Nothing to hang up."""

    monkeypatch.setattr(run, "MqttWire", Line)
    assert run.send_dark(Broker("broker.example", 1, "office", None, None), KEY, "bench-1", limit_s=2.0)
    assert len(left) == 1


def test_a_controller_that_fails_at_its_state_does_not_end_the_publisher(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With it would go whatever listens for dark."""

    class Failing:
        def __init__(self, *_: object, **_more: object) -> None:
            """Somebody answers."""

        def ask(self, _command: str) -> dict[str, Any]:
            raise BadRequestError("internal", say("line_not_json"))

        def close(self) -> None:
            """Nothing to hang up."""

    monkeypatch.setattr(run, "ControlClient", Failing)
    assert run.Asker(tmp_path / "none").state() is None
