"""Real broker and database, killed at random while boxes publish: nothing is lost, nothing counts twice."""

import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from sumlight.clock import SystemClock
from sumlight.fleet.collector import service
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.collector.tables import connected, opened
from sumlight.fleet.topics import rights
from sumlight.fleet.wire import Broker, MqttWire
from tests.fleet.engines import mosquitto, postgres
from tests.store.making import ask

BOXES, EXPOSURES, PER_PROCESS = 20, 20, 10
CALM_LIMIT_S = 90.0


class RunningCollector:
    """The collector in a thread, over the real wire."""

    def __init__(self, port: int, folder: Path, url: str) -> None:
        self._broker = Broker("127.0.0.1", port, "collector", folder / "collector.password", None)
        (folder / "collector.password").write_text("word-collector\n")
        self._url, self._stop = url, threading.Event()
        self.counts = service.Counts()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        clock, run, engine = SystemClock(), service.new_run(), connected(self._url)
        wire = MqttWire(
            self._broker, "collector", service.FILTERS, service.online(run, False), service.online(run, True)
        )
        collector = service.Collector(Intake(engine), wire, clock.utc, run)
        self.counts = collector.counts
        while not self._stop.is_set():
            first = wire.wait(0.1)
            collector.step([*([] if first is None else [first]), *wire.taken(service.BATCH)], clock.mono_s())
        wire.close()
        engine.dispose()

    def kill(self) -> None:
        """What is in memory is gone, and nobody is told."""
        self._stop.set()
        self._thread.join(30)


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    """Ends what was started, last first."""
    with ExitStack() as ends:
        yield ends


@pytest.fixture
def place(stack: ExitStack) -> Path:
    """A folder that engines of another account reach: pytest shuts its own to them with every session that begins."""
    folder = Path(
        stack.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-fleet-", ignore_cleanup_errors=True))
    )
    folder.chmod(0o711)
    return folder


@pytest.mark.long
def test_no_record_is_lost_or_doubled_while_broker_and_database_are_killed(place: Path, stack: ExitStack) -> None:
    """Twenty boxes, with power cuts of their own; then calm, until all is there. Order is kept for each box."""
    names = [f"box-{number}" for number in range(BOXES)]
    users = {name: f"word-{name}" for name in (*names, "collector")}
    broker, port = mosquitto(place / "broker", rights(""), users)
    database, url = postgres(place / "database")
    stack.enter_context(broker)
    stack.enter_context(database)
    opened(url).dispose()
    collector = RunningCollector(port, place, url)
    feeders = []
    for first in range(0, BOXES, PER_PROCESS):
        mine = names[first : first + PER_PROCESS]
        command = [
            sys.executable,
            "-m",
            "tests.fleet.feeding",
            str(port),
            str(place),
            str(first),
            str(EXPOSURES),
            *mine,
        ]
        feeder = stack.enter_context(subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL))
        stack.callback(feeder.kill)
        feeders.append(feeder)
    rng, killed = random.Random(18), {"broker": 0, "database": 0, "collector": 0}
    for what in ["broker", "database", "collector", "broker", "database", "broker"]:
        time.sleep(rng.uniform(0.5, 2.0))
        killed[what] += 1
        if what == "collector":
            collector.kill()
            collector = RunningCollector(port, place, url)
            continue
        engine = broker if what == "broker" else database
        engine.kill()
        time.sleep(rng.uniform(0.0, 1.0))
        engine.start()
    expected = dict.fromkeys(names, 2 * EXPOSURES)
    until_s = time.monotonic() + CALM_LIMIT_S
    reader = create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
    found: dict[str, int] = {}
    while found != expected and time.monotonic() < until_s:
        time.sleep(0.5)
        with reader.connect() as link:
            found = {
                str(name): int(count)
                for name, count in link.execute(text("SELECT box_id, count(*) FROM records GROUP BY 1"))
            }
    collector.kill()
    for feeder in feeders:
        assert feeder.stdin is not None
        feeder.stdin.close()
        feeder.wait(30)
    assert found == expected
    with reader.connect() as link:
        rows = link.execute(text("SELECT box_id, seq, mark FROM records ORDER BY received_utc, seq")).all()
        parts = link.execute(text("SELECT count(*) FROM pg_inherits WHERE inhparent = 'records'::regclass")).scalar()
        rest = link.execute(text("SELECT count(*) FROM records_other")).scalar()
    reader.dispose()
    for name in names:
        got = [(int(seq), str(mark)) for box, seq, mark in rows if box == name]
        assert got == [
            (int(str(seq)), mark) for seq, mark in ask(place / f"{name}.sqlite", "SELECT seq, mark FROM changes")
        ]
    assert (parts, rest) == (2, 0)
    assert all(killed.values())
