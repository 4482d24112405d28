"""Real broker and database, killed at random while boxes publish: nothing is lost, nothing counts twice."""

import gc
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psutil
import pytest
from prometheus_client import generate_latest
from sqlalchemy import create_engine, text

from sumlight import fleet
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.clock import SystemClock
from sumlight.fleet import topics
from sumlight.fleet.collector import service
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.collector.tables import connected, opened
from sumlight.fleet.dark import LIFE_S, Dark, Key, order
from sumlight.fleet.messages import packed
from sumlight.fleet.metrics import registry, serve
from sumlight.fleet.publisher import Publisher, online
from sumlight.fleet.run import send_dark
from sumlight.fleet.topics import rights
from sumlight.fleet.wire import Broker, MqttWire
from tests.fleet.engines import Engine, answers, mosquitto, owned, postgres, program
from tests.fleet.test_metrics import publisher
from tests.ports import free_port
from tests.store.making import ask

BOXES, EXPOSURES, PER_PROCESS = 20, 20, 10
CALM_LIMIT_S = 200.0


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


MONITORING = Path(str(fleet.__file__)).parent / "monitoring"


@pytest.mark.long
def test_prometheus_takes_figures_rules_and_dashboard(place: Path, stack: ExitStack, tmp_path: Path) -> None:
    """promtool judges figures and rules, and when each alert comes; a server scrapes, and draws the page."""
    tool = program("promtool", "prometheus")
    for name in ("alerts.yaml", "sumlight.html"):
        shutil.copy(MONITORING / name, place)
    shutil.copy(Path(__file__).with_name("alerts_test.yaml"), place)
    subprocess.run([tool, "check", "rules", "alerts.yaml"], check=True, cwd=place)
    subprocess.run([tool, "test", "rules", "alerts_test.yaml"], check=True, cwd=place)
    seen = lit_snapshot(tmp_path / "box")
    box, air = publisher(tmp_path, seen)
    figures, port = registry(box, air, lambda: {"lower": 0.6}), free_port()
    subprocess.run([tool, "check", "metrics"], check=True, input=generate_latest(figures))
    stack.callback(serve(figures, port))
    own, web = owned(place / "prometheus"), free_port()
    (place / "prometheus.yml").write_text(
        f"global: {{scrape_interval: 1s, evaluation_interval: 1s}}\nrule_files: [{place}/alerts.yaml]\n"
        f"scrape_configs: [{{job_name: sumlight, static_configs: [{{targets: ['127.0.0.1:{port}']}}]}}]\n"
    )
    command = [str(program("prometheus", "prometheus")), f"--config.file={place}/prometheus.yml"]
    command += [f"--storage.tsdb.path={own}/data", f"--web.listen-address=127.0.0.1:{web}"]
    command += [f"--web.console.templates={place}"]
    stack.enter_context(Engine(command, own, lambda: answers(web)))

    def asked(path: str) -> str:
        with urllib.request.urlopen(f"http://127.0.0.1:{web}/{path}", timeout=5) as answer:
            return str(answer.read().decode())

    until_s, light = time.monotonic() + 30, ""
    while "light</td>" not in light:
        assert time.monotonic() < until_s, light
        time.sleep(0.3)
        light = asked("consoles/sumlight.html") if '"up"' in asked("api/v1/query?query=up%3D%3D1") else ""
    assert "60%" in light
    rules = asked("api/v1/rules")
    assert '"health":"err"' not in rules
    wait_for(lambda: "LampsWeak" in asked("api/v1/alerts"))


@pytest.mark.long
def test_a_real_broker_keeps_strangers_out_and_a_real_dark_gets_through(place: Path, stack: ExitStack) -> None:
    """Another box's user writes to this box's topics and takes its name; rubbish is retained; then a true *dark*."""
    users = {name: f"word-{name}" for name in ("bench-1", "bench-2", "office")}
    broker, port = mosquitto(place / "broker", rights("home", ("office",)), users)
    stack.enter_context(broker)
    key = Key(b"k" * 64)
    obeyed: list[str] = []

    def account(user: str) -> Broker:
        (place / user).write_text(f"word-{user}\n")
        return Broker("127.0.0.1", port, user, place / user, None)

    dark = Dark(key, "bench-1", lambda _sender: not obeyed.append("dark"), lambda: datetime.now(UTC), place / "d")
    birth = online("bench-1", "0" * 16, True)
    topic = topics.of_box("bench-1", "dark")
    wire = MqttWire(account("bench-1"), "bench-1.publisher", [topic, topics.of_box("bench-1", "ack")], birth, birth)
    stack.callback(wire.close)
    box = Publisher(
        "bench-1", place / "none", place, wire, lambda: None, lambda: "2026-11-30T12:00:00.000000Z", dark=dark
    )
    stop = threading.Event()

    def run() -> None:
        while not stop.wait(0.02):
            box.step(time.monotonic())

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    stack.callback(lambda: (stop.set(), thread.join()))
    for user, client_id in (("bench-2", "bench-2.x"), ("bench-2", "bench-1.publisher"), ("office", "office.x")):
        wait_for(lambda: wire.connected)
        other = MqttWire(account(user), client_id, ["#"])
        wait_for(up(other))
        for raw in (packed(order(Key(b"o" * 64), "bench-1", user, datetime.now(UTC))), b"dark", b"{}", b"x" * 60_000):
            for what in ("dark", "ack", "record", "state"):
                other.send(topics.of_box("bench-1", what), raw, expires_s=LIFE_S)
        if user == "bench-2":
            other.send(topic, packed(order(key, "bench-1", user, datetime.now(UTC))), expires_s=LIFE_S)
        else:
            other.send(topic, packed(order(key, "bench-1", user, datetime.now(UTC))), retain=True, expires_s=LIFE_S)
            other.send(topic, packed(order(key, "bench-1", user, datetime.now(UTC))))
            other.send(topic, b"", retain=True)
        wait_for(quiet(other))
        if user == "office":
            wait_for(lambda: box.sent.refused >= 7)
        other.close()
        assert obeyed == []
    wait_for(lambda: wire.connected)
    assert wire.connections >= 2
    assert send_dark(account("office"), key, "bench-1")
    assert obeyed == ["dark"]


def authority(folder: Path, name: str) -> Path:
    """A certificate authority of the test's own, by OpenSSL; its key lies beside it."""
    _openssl(folder, name, "-subj", f"/CN={name}")
    return folder / f"{name}.crt"


def certified(folder: Path, name: str, by: Path, host: str) -> tuple[Path, Path]:
    """A certificate for one host, signed by an authority, and its key."""
    signed_by = ["-CA", str(by), "-CAkey", str(by.with_suffix(".key")), "-addext", "basicConstraints=critical,CA:FALSE"]
    _openssl(folder, name, "-subj", f"/CN={name}", *signed_by, "-addext", f"subjectAltName=DNS:{host}")
    return folder / f"{name}.crt", folder / f"{name}.key"


def _openssl(folder: Path, name: str, *more: str) -> None:
    made = [str(program("openssl", "openssl")), "req", "-x509", "-newkey", "ec", "-pkeyopt"]
    made += ["ec_paramgen_curve:prime256v1", "-nodes", "-keyout", f"{name}.key", "-out", f"{name}.crt", *more]
    subprocess.run(made, check=True, capture_output=True, cwd=folder)


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # paho leaves sockets to the collector
def test_over_tls_only_the_broker_that_was_meant_is_talked_to(place: Path, stack: ExitStack) -> None:
    """OpenSSL makes the authority and mosquitto judges us; the names that a certificate is good for are RFC 9525's."""
    names, folder = ("bench-1", "collector"), owned(place / "broker")
    ours, other = authority(place, "ours"), authority(place, "other")
    tls = certified(place, "broker", ours, "localhost")
    for file in tls:
        shutil.copy(file, folder / file.name)
        (folder / file.name).chmod(0o644)  # the broker's own account reads it
    inside = (folder / tls[0].name, folder / tls[1].name)
    broker, port = mosquitto(folder, rights(""), {name: f"word-{name}" for name in names}, inside)
    stack.enter_context(broker)

    def line(user: str, host: str, ca_file: Path | None) -> MqttWire:
        (place / user).write_text(f"word-{user}\n")
        made = MqttWire(Broker(host, port, user, place / user, ca_file), f"{user}.x", [topics.of_all_boxes("record")])
        stack.callback(made.close)
        return made

    reader, writer = line("collector", "localhost", ours), line("bench-1", "localhost", ours)
    wait_for(up(reader))
    wait_for(up(writer))
    writer.send(topics.of_box("bench-1", "record"), b"over TLS")
    found = reader.wait(30.0)
    assert found is not None
    assert found.payload == b"over TLS"
    for host, ca_file, why in (
        ("localhost", other, "certificate verify failed"),
        ("127.0.0.1", ours, "IP address mismatch"),
        ("localhost", None, ""),  # without TLS: the broker hangs up
    ):
        stranger = line("bench-1", host, ca_file)
        wait_for(told(stranger))
        assert why in stranger.trouble
        assert stranger.connections == 0
    gc.collect()


def told(wire: MqttWire) -> Callable[[], bool]:
    """Whether it says what keeps it from connecting."""
    return lambda: bool(wire.trouble)


def up(wire: MqttWire) -> Callable[[], bool]:
    """Whether it is connected."""
    return lambda: wire.connected


def quiet(wire: MqttWire) -> Callable[[], bool]:
    """Whether the broker has confirmed all that it sent."""
    return lambda: wire.outstanding == 0


def wait_for(seen: Callable[[], bool], limit_s: float = 30.0) -> None:
    """Until it is so."""
    until_s = time.monotonic() + limit_s
    while not seen():
        assert time.monotonic() < until_s
        time.sleep(0.02)


def lit_snapshot(folder: Path) -> dict[str, Any]:
    """Of a simulated box under light."""
    box = SimulatedBox(*read_files(None, None), folder, speed=None, attended=False, threaded=False)
    for _ in range(400):
        box.step()
    box.press("start", recipe="blue-38")
    found = box.daemon.commander.snapshot()
    while not (found["state"] == "light" and (found["banks"][0]["irradiance_mw_cm2"] or 0) > 1):
        box.step()
        found = box.daemon.commander.snapshot()
    box.daemon.close()
    return found


@pytest.mark.long
def test_one_command_shows_a_shop_and_leaves_nothing_behind(tmp_path: Path) -> None:
    """Broker, database, three simulated boxes, collector, page: until somebody ends it."""
    port = free_port()
    command = [sys.executable, "-m", "sumlight.cli", "fleet", "demo", "--folder", str(tmp_path), "--port", str(port)]
    demo = subprocess.Popen(command, stdout=subprocess.DEVNULL, start_new_session=True)
    try:

        def shown() -> bool:
            time.sleep(1)  # the page has other things to do
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as answer:
                    text = str(answer.read().decode())
            except OSError:
                return False
            return "simulated" in text and all(f"<td>{box}</td>" in text for box in ("bench-1", "bench-2", "school-1"))

        wait_for(shown, 240.0)
    finally:
        demo.terminate()
        demo.wait(60)
    assert demo.returncode == 0
    left = [each for each in psutil.process_iter(["cmdline"]) if str(tmp_path) in " ".join(each.info["cmdline"] or [])]
    assert [each.info["cmdline"] for each in left] == []
