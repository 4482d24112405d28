"""The processes of a fleet: a box's publisher and the collector, until somebody ends them."""

import threading
from pathlib import Path
from typing import Any

from sumlight.box.description import FleetLink
from sumlight.clock import SystemClock
from sumlight.fleet import topics
from sumlight.fleet.publisher import Publisher, online
from sumlight.fleet.wire import Broker, MqttWire
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.store.logbook.database import utc_text

STEP_S = 0.2
ASK_S = 2.0
"""Longest wait for control's answer."""
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
        except ControlGoneError:
            self.close()
            return None

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
    """Run a box's publisher. Raises fleet.wire.WireError for files that cannot be read."""
    clock, asker = SystemClock(), Asker(socket)
    listened = [topics.COLLECTOR_ONLINE, topics.of_box(link.box_id, "ack")]
    boot = Publisher.new_boot()
    last, first = online(link.box_id, boot, False), online(link.box_id, boot, True)
    wire = MqttWire(broker_of(link), f"{link.box_id}.publisher", listened, last, first)
    box = Publisher(
        link.box_id, logbook, data / FOLDER, wire, asker.state, lambda: utc_text(clock.utc()), boot=boot
    )  # fmt: skip
    try:
        while not stop.wait(STEP_S):
            box.step(clock.mono_s())
    finally:
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
