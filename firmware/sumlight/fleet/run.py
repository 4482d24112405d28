"""The processes of a fleet: a box's publisher and the collector, until somebody ends them."""

import secrets
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sumlight.box.description import FleetLink
from sumlight.clock import SystemClock
from sumlight.fleet import topics
from sumlight.fleet.dark import LIFE_S, Dark, Key, key_of, order
from sumlight.fleet.publisher import Publisher, online
from sumlight.fleet.wire import Broker, MqttWire
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.database import utc_text

STEP_S = 0.2
ASK_S = 2.0
"""Longest wait for control's answer."""
DARKS = "darks.jsonl"
"""Who asked for dark over the network, in that folder."""
FOLDER = "fleet"
"""The publisher's own folder within the data folder."""


class Asker:
    """Asks control for its state; never watches, so that a publisher does not pass for a page."""

    def __init__(self, socket: Path) -> None:
        self._socket = socket
        self._client: ControlClient | None = None

    def state(self) -> dict[str, Any] | None:
        """The present snapshot; None where nobody answers."""
        try:
            self._client = self._client or ControlClient(self._socket, timeout_s=ASK_S)
            return self._client.ask("state")
        except (ControlGoneError, BadRequestError):  # the latter where control itself failed at it
            self.close()
            return None

    def dark(self, sender: str) -> bool:
        """Ask for *dark* in somebody's name, on a connection of its own; whether the controller took it."""
        try:
            with ControlClient(self._socket, timeout_s=ASK_S) as client:
                client.ask("dark", sender=sender)
        except (ControlGoneError, BadRequestError):
            return False
        return True

    def close(self) -> None:
        """Hang up."""
        if self._client is not None:
            self._client.close()
        self._client = None


def broker_of(link: FleetLink) -> Broker:
    """Where the box's broker is."""
    files = [None if name is None else Path(name) for name in (link.password_file, link.ca_file)]
    return Broker(link.broker, link.port, link.box_id, *files)


def publish(link: FleetLink, data: Path, logbook: Path, socket: Path, stop: threading.Event) -> None:
    """Run a box's publisher. Raises fleet.wire.WireError for files that cannot be read, OSError for a port in use."""
    clock, asker, folder = SystemClock(), Asker(socket), data / FOLDER
    listened = [topics.COLLECTOR_ONLINE, *(topics.of_box(link.box_id, what) for what in ("ack", "online"))]
    dark: Dark | None = None
    if link.dark_key_file is not None:
        key = key_of(Path(link.dark_key_file))
        dark = Dark(key, link.box_id, asker.dark, clock.utc, folder / DARKS)
        listened.append(topics.of_box(link.box_id, "dark"))
    boot = Publisher.new_boot()
    last, first = online(link.box_id, boot, False), online(link.box_id, boot, True)
    wire = MqttWire(broker_of(link), f"{link.box_id}.publisher", listened, last, first)
    box = Publisher(
        link.box_id,
        logbook,
        folder,
        wire,
        asker.state,
        lambda: utc_text(clock.utc()),
        boot=boot,
        dark=dark,
        discovery_prefix=link.discovery_prefix,
    )
    ends: list[Callable[[], None]] = []
    if link.metrics_port is not None:
        from sumlight.fleet import metrics

        shares = metrics.LampShares(logbook, clock.mono_s)
        ends.append(metrics.serve(metrics.registry(box, wire, shares), link.metrics_port))
    try:
        while not stop.wait(STEP_S):
            box.step(clock.mono_s())
    finally:
        for end in ends:
            end()
        box.close()
        asker.close()
        wire.close(last)


def collect(broker: Broker, database: str, stop: threading.Event) -> None:
    """Run the collector. Raises WireError, or sqlalchemy.exc.SQLAlchemyError where there is no database."""
    from sumlight.fleet.collector import service
    from sumlight.fleet.collector.intake import Intake
    from sumlight.fleet.collector.tables import opened

    clock, engine = SystemClock(), opened(database)
    run = service.new_run()
    last = service.online(run, False)
    wire = MqttWire(broker, "collector", service.FILTERS, last, service.online(run, True))
    collector = service.Collector(Intake(engine), wire, clock.utc, run)
    try:
        while not stop.is_set():
            first = wire.wait(0.2)
            collector.step([*([] if first is None else [first]), *wire.taken(service.BATCH)], clock.mono_s())
    finally:
        wire.close(last)
        engine.dispose()


def send_dark(broker: Broker, key: Key, box_id: str, limit_s: float = 5.0) -> bool:
    """Ask a box for *dark* in the name of the broker's user; whether the box says that its controller took it.

    False also where nothing is heard in time. Raises WireError.
    """
    from sumlight.fleet.messages import DarkAnswer, DarkOrder, FleetMessageError, packed, read

    clock = SystemClock()
    sent: DarkOrder | None = None
    until_s = clock.mono_s() + limit_s
    said = f"{broker.user}.dark.{secrets.token_hex(4)}"
    wire = MqttWire(broker, said, [topics.of_box(box_id, "dark_answer")])
    try:
        while clock.mono_s() < until_s:
            if sent is None and wire.connected:
                fresh = order(key, box_id, broker.user, clock.utc())
                if wire.send(topics.of_box(box_id, "dark"), packed(fresh), expires_s=LIFE_S):
                    sent = fresh
            message = wire.wait(0.05)
            if message is None or sent is None:
                continue
            try:
                answer = read(message.payload, DarkAnswer)
            except FleetMessageError:
                continue
            if answer.nonce == sent.nonce:
                return answer.done
        return False
    finally:
        wire.close()
