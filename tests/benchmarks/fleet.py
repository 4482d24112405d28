"""A shop's fleet against the distribution's broker and database: speed, delay, memory, outages, and nothing lost.

Quick: 20 boxes and a day. Full: 200 boxes and ten days, beside them three whole twins with control, publisher and
somebody who exposes; broker, database and collector are killed at random. A day takes half a minute here. Needs
mosquitto and postgresql.
"""

import json
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import psutil
from sqlalchemy import Engine as Database
from sqlalchemy import create_engine, text

from sumlight.cli import fleet_demo
from sumlight.control.daemon import LOGBOOK
from sumlight.fleet.collector.tables import opened
from sumlight.fleet.topics import rights
from tests.benchmarks.figure import Figure
from tests.benchmarks.fleet_boxes import PER_SESSION
from tests.fleet.engines import Engine, mosquitto, postgres
from tests.fleet.feeding import CHANGES
from tests.store.making import ask

BOXES, QUICK_BOXES = 200, 20
DAYS, QUICK_DAYS = 10, 1
PER_PROCESS = 25
SESSIONS_A_DAY = 5
"""With four panels each: 20 panels, 40 changes of records a day for each box."""
DAY_S, QUICK_DAY_S = 30.0, 10.0
CHAOS_DAYS = 4
"""The last of the ten: engines are killed then, and boxes begin anew."""
SESSIONS_AN_HOUR = 2
"""In the hour of the outage everybody works: eight panels a box."""
BACKLOG_DAYS = 2
"""Written before there is a collector: how fast it takes them is what one collector can do."""
TWINS = ("twin-1", "twin-2", "twin-3")
CALM_LIMIT_S = 900.0

NEEDED_PER_S = 4.6
"""Records a second of 10,000 boxes with 40 a day each."""


def measure(quick: bool) -> list[Figure]:
    """One run through all of it."""
    with ExitStack() as ends:
        folder = Path(ends.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-fleet-")))
        folder.chmod(0o711)
        shop = Shop(ends, folder, QUICK_BOXES if quick else BOXES)
        return shop.run(QUICK_DAYS if quick else DAYS, QUICK_DAY_S if quick else DAY_S, twins=() if quick else TWINS)


class Shop:
    """Broker, database, collector and boxes."""

    def __init__(self, ends: ExitStack, folder: Path, boxes: int) -> None:
        self.ends, self.folder, self.names = ends, folder, [f"box-{number}" for number in range(boxes)]
        everybody = (*self.names, *TWINS, "collector")
        self.broker, self.port = mosquitto(folder / "broker", rights(""), {name: f"word-{name}" for name in everybody})
        for name in everybody:
            (folder / f"{name}.password").write_text(f"word-{name}\n")
        self.database, self.url = postgres(folder / "database")
        ends.enter_context(self.broker)
        ends.enter_context(self.database)
        opened(self.url).dispose()
        self.reader: Database = create_engine(
            self.url.replace("postgresql:", "postgresql+psycopg:"), pool_pre_ping=True
        )
        ends.callback(self.reader.dispose)
        self.collector: subprocess.Popen[bytes] | None = None
        self.memory_mb = 0.0
        ends.callback(self.end_collector)
        self.feeders: list[subprocess.Popen[str]] = []
        for first in range(0, boxes, PER_PROCESS):
            mine = self.names[first : first + PER_PROCESS]
            command = [
                sys.executable,
                "-m",
                "tests.benchmarks.fleet_boxes",
                str(self.port),
                str(folder),
                str(first),
                *mine,
            ]
            feeder = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            ends.callback(feeder.kill)
            self.feeders.append(feeder)
        self.changes = 0
        self.twins: tuple[str, ...] = ()

    def run(self, days: int, day_s: float, twins: tuple[str, ...]) -> list[Figure]:
        """The phases, one after the other."""
        self.feed(0.0, BACKLOG_DAYS * SESSIONS_A_DAY)
        self.start_collector()
        while (first := self.stored()) == 0:
            time.sleep(0.02)
        began_s = time.monotonic()
        self.wait_for_all()
        per_s = (self.changes - first) / (time.monotonic() - began_s)
        stop = threading.Event()
        for name in twins:
            fleet_demo._box(self.ends, self.folder, name, self.port, stop)
        self.twins = twins
        self.ends.callback(stop.set)
        steady_from = self.changes // len(self.names)
        for _ in range(max(1, days - BACKLOG_DAYS - CHAOS_DAYS)):
            self.feed(day_s, SESSIONS_A_DAY)
        self.wait_for_all()
        steady_to = self.changes // len(self.names)
        self.broker.kill(signal.SIGKILL)
        self.feed(0.0, SESSIONS_AN_HOUR)
        missing = self.changes - self.stored()
        self.broker.start()
        began_s = time.monotonic()
        self.wait_for_all()
        caught_up_s = time.monotonic() - began_s
        kills = self.chaos(CHAOS_DAYS if days > CHAOS_DAYS else 0, day_s)
        self.wait_for_all()
        stop.set()
        twins_records = self.wait_for_twins() if twins else 0
        lost, wrong = self.judged()
        size_bytes = self.value("SELECT sum(pg_total_relation_size(oid)) FROM pg_class WHERE relkind = 'r' AND"
                                " relnamespace = 'public'::regnamespace")  # fmt: skip
        records = self.stored()
        self.end_collector()
        lags_s = self.lags_s(steady_from, steady_to)
        name = f"{len(self.names)} boxes"
        told = [
            Figure(f"fleet: records taken from a backlog, {name}", per_s, "1/s", "at least", NEEDED_PER_S),
            Figure(
                f"fleet: from the logbook into the database, 99 %, {name}",
                quantile(lags_s, 0.99),
                "s",
                "for comparison",
            ),
            Figure(
                f"fleet: from the logbook into the database, median, {name}",
                quantile(lags_s, 0.5),
                "s",
                "for comparison",
            ),
            Figure(f"fleet: memory of the collector, {name}", self.memory_mb, "MB", "at most", 150),
            Figure(
                f"fleet: caught up with {missing} records of an hour without a broker", caught_up_s, "s", "at most", 120
            ),
            Figure(f"fleet: records lost, of {records}", lost, "", "at most", 0),
            Figure(f"fleet: records doubled or out of order, of {records}", wrong, "", "at most", 0),
            Figure("fleet: database for each record, indexes included", size_bytes / records, "B", "for comparison"),
        ]
        if kills:
            told.append(Figure("fleet: kills of broker, database and collector", kills, "", "for comparison"))
        if twins:
            told.append(Figure("fleet: records of three whole twins among them", twins_records, "", "at least", 1))
        return told

    def feed(self, span_s: float, sessions: int, reboots: int = 0) -> None:
        """Let every box expose, and wait until all is in the logbooks."""
        for feeder in self.feeders:
            assert feeder.stdin is not None
            feeder.stdin.write(f"{span_s} {sessions} {reboots}\n")
            feeder.stdin.flush()
        for feeder in self.feeders:
            assert feeder.stdout is not None
            if feeder.stdout.readline() != "fed\n":
                raise RuntimeError("the boxes ended")
        self.changes += len(self.names) * sessions * PER_SESSION * CHANGES

    def chaos(self, days: int, day_s: float) -> int:
        """Days on which engines and collector are killed at random, and boxes begin anew; returns how many kills."""
        rng, kills, stop = random.Random(18), 0, threading.Event()

        def kill() -> None:
            nonlocal kills
            while not stop.wait(rng.uniform(2.0, day_s / 4)):
                kills += 1
                what = rng.choice(["broker", "database", "collector"])
                if what == "collector":
                    self.end_collector()
                    self.start_collector()
                    continue
                engine: Engine = self.broker if what == "broker" else self.database
                engine.kill(signal.SIGKILL)
                time.sleep(rng.uniform(0.0, 3.0))
                engine.start()

        killer = threading.Thread(target=kill, daemon=True)
        if days:
            killer.start()
        for _ in range(days):
            self.feed(day_s, SESSIONS_A_DAY, reboots=5)
        stop.set()
        if days:
            killer.join()
        return kills

    def start_collector(self) -> None:
        """The real command, in a process of its own."""
        words = ["fleet", "collect", "--database", self.url, "--port", str(self.port)]
        words += ["--password-file", str(self.folder / "collector.password")]
        with (self.folder / "collector.said").open("ab") as said:
            self.collector = subprocess.Popen([sys.executable, "-m", "sumlight.cli", *words], stdout=said, stderr=said)

    def end_collector(self) -> None:
        """Kill it: what is in its memory is gone."""
        if self.collector is not None:
            self.look()
            self.collector.kill()
            self.collector.wait()
        self.collector = None

    def look(self) -> None:
        """Note the most memory that it ever had."""
        if self.collector is not None and self.collector.poll() is None:
            self.memory_mb = max(self.memory_mb, psutil.Process(self.collector.pid).memory_info().rss / 1e6)

    def value(self, question: str) -> float:
        """One number out of the database."""
        with self.reader.connect() as link:
            return float(link.execute(text(question)).scalar() or 0)

    def stored(self) -> int:
        """Records of the boxes, without the twins'."""
        return int(self.value("SELECT count(*) FROM records WHERE box_id LIKE 'box-%'"))

    def wait_for_all(self) -> None:
        """Until the database has what the logbooks have."""
        until_s = time.monotonic() + CALM_LIMIT_S
        while (found := self.stored()) < self.changes:
            if time.monotonic() > until_s:
                said = (self.folder / "collector.said").read_text(errors="replace")[-2000:]
                raise RuntimeError(f"{found} of {self.changes} records are there\n{said}")
            self.look()
            time.sleep(0.1)

    def wait_for_twins(self) -> int:
        """Until theirs are there, too; returns how many."""
        until_s, there = time.monotonic() + CALM_LIMIT_S, -1
        question = "SELECT count(*) FROM changes"
        while time.monotonic() < until_s:
            wanted = sum(int(str(ask(self.folder / name / LOGBOOK, question)[0][0])) for name in self.twins)
            there = int(self.value("SELECT count(*) FROM records WHERE box_id LIKE 'twin-%'"))
            if there == wanted:
                return there
            time.sleep(0.5)
        raise RuntimeError(f"{there} records of the twins are there")

    def judged(self) -> tuple[int, int]:
        """Records lost, and records doubled or out of order: number and mark against each logbook, by SQLite itself."""
        with self.reader.connect() as link:
            rows = link.execute(text("SELECT box_id, seq, mark FROM records ORDER BY received_utc, seq")).all()
        lost = wrong = 0
        got: dict[str, list[tuple[int, str]]] = {}
        for box, seq, mark in rows:
            got.setdefault(str(box), []).append((int(seq), str(mark)))
        files = {name: self.folder / f"{name}.sqlite" for name in self.names}
        for name, file in (files | {name: self.folder / name / LOGBOOK for name in self.twins}).items():
            wanted = {(int(str(seq)), str(mark)) for seq, mark in ask(file, "SELECT seq, mark FROM changes")}
            mine = got.get(name, [])
            lost += len(wanted - set(mine))
            wrong += len(mine) - len(set(mine)) + len(set(mine) - wanted)
            wrong += sum(later[0] <= earlier[0] for earlier, later in pairwise(mine))
        return lost, wrong

    def lags_s(self, after: int, to: int) -> list[float]:
        """From the end of a session's writing until its last record was in the database, on undisturbed days."""
        for feeder in self.feeders:
            assert feeder.stdin is not None
            feeder.stdin.close()
        for feeder in self.feeders:
            feeder.wait(120)
        with self.reader.connect() as link:
            rows = link.execute(text("SELECT box_id, seq, received_utc FROM records WHERE box_id LIKE 'box-%'")).all()
        received = {(str(box), int(seq)): datetime.fromisoformat(str(at)).timestamp() for box, seq, at in rows}
        return [
            received[box, seq] - at_s
            for file in self.folder.glob("*.times")
            for box, sessions in json.loads(file.read_text()).items()
            for seq, at_s in sessions
            if after < seq <= to
        ]


def quantile(values: list[float], share: float) -> float:
    """The value that so many of a hundred stay below."""
    return statistics.quantiles(values, n=100, method="inclusive")[round(100 * share) - 1]
