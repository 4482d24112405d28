"""One connection to the broker: MQTT 5 by paho. What comes in waits in a bounded queue for whoever takes it."""

import itertools
import logging
import queue
import ssl
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from paho.mqtt.client import Client, MQTTMessage, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from sumlight.fleet import topics

log = logging.getLogger(__name__)

KEEPALIVE_S = 30
QUEUE = 1000
"""Messages that wait to be looked at; more are dropped, and records and acknowledgements are sent again."""
QUEUE_DARK = 2 * QUEUE
"""A *dark* is not sent again: it goes before all else, and has room where others have none left."""
IN_FLIGHT = 50
LARGEST_PACKET = 65_536
WILL_DELAY_S = 10
"""A short break of the network is no death."""


class WireError(RuntimeError):
    """There can be no connection as things stand; says what to do."""


@dataclass(frozen=True)
class Broker:
    """Where the broker is and who we are there. `ca_file` None: no TLS, on this machine only."""

    host: str
    port: int
    user: str
    password_file: Path | None
    ca_file: Path | None


@dataclass(frozen=True)
class Incoming:
    """A message as it came. `expires_s`: what the broker says is left of its life; None: it has no end.

    `retained` also for one that was sent so just now, which a broker would hide without being asked not to.
    """

    topic: str
    payload: bytes
    retained: bool
    expires_s: int | None


class Wire(Protocol):
    """What a publisher or a collector needs of a connection."""

    @property
    def connected(self) -> bool:
        """Whether the broker has taken us."""
        ...

    @property
    def connections(self) -> int:
        """How often it has."""
        ...

    def send(self, topic: str, payload: bytes, *, retain: bool = False) -> bool:
        """Hand a message to the broker at QoS 1; False where it has to be tried again later."""
        ...

    def taken(self, most: int = 100) -> Sequence[Incoming]:
        """What has come meanwhile, oldest first; a *dark* before all else."""
        ...

    @property
    def outstanding(self) -> int:
        """Messages that the broker has not confirmed."""
        ...


def password(file: Path | None) -> str | None:
    """The first line of the file. Raises WireError."""
    if file is None:
        return None
    try:
        return file.read_text(encoding="utf-8").partition("\n")[0]
    except (OSError, UnicodeError) as error:
        why = getattr(error, "strerror", None) or "it is no text"
        raise WireError(f"fleet.password_file: {file}: {why}; write the broker's password into it") from error


class MqttWire:
    """A connection that keeps itself up. `will` is what the broker says for us once we are gone.

    Raises WireError for files that cannot be read. Nothing is kept for us by the broker while we are away.
    """

    def __init__(
        self,
        broker: Broker,
        client_id: str,
        filters: Sequence[str],
        will: tuple[str, bytes] | None = None,
        birth: tuple[str, bytes] | None = None,
    ) -> None:
        self._filters, self._birth, self._place = list(filters), birth, f"{broker.host}:{broker.port}"
        self._incoming: queue.PriorityQueue[tuple[bool, int, Incoming]] = queue.PriorityQueue()
        self._numbers = itertools.count()
        self._lock, self._unconfirmed = threading.Lock(), 0
        self.connected, self.connections, self.dropped = False, 0, 0
        self.trouble = ""
        self._client = client = Client(CallbackAPIVersion.VERSION2, client_id, protocol=MQTTv5)
        client.username_pw_set(broker.user, password(broker.password_file))
        if broker.ca_file is not None:
            try:
                client.tls_set_context(ssl.create_default_context(cafile=str(broker.ca_file)))
            except (OSError, ssl.SSLError) as error:
                why = f"fleet.ca_file: {broker.ca_file}: {error.strerror or error}; it must hold the broker's authority"
                raise WireError(why) from error
        late = Properties(PacketTypes.WILLMESSAGE)  # type: ignore[no-untyped-call]
        late.WillDelayInterval = WILL_DELAY_S
        if will is not None:
            client.will_set(*will, qos=1, retain=True, properties=late)
        client.max_inflight_messages_set(IN_FLIGHT)
        client.max_queued_messages_set(2 * IN_FLIGHT)
        client.reconnect_delay_set(1, 60)
        client.on_connect, client.on_disconnect = self._on_connect, self._on_disconnect
        client.on_connect_fail = self._on_connect_fail
        client.on_message, client.on_publish = self._on_message, self._on_publish
        asked = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        asked.MaximumPacketSize = LARGEST_PACKET
        asked.SessionExpiryInterval = WILL_DELAY_S  # the will waits no longer than the session lives
        client.connect_async(broker.host, broker.port, KEEPALIVE_S, clean_start=True, properties=asked)
        client.loop_start()

    @property
    def outstanding(self) -> int:
        """See `Wire`."""
        return self._unconfirmed

    def send(self, topic: str, payload: bytes, *, retain: bool = False, expires_s: int | None = None) -> bool:
        """See `Wire`. `expires_s`: what is not delivered by then is thrown away."""
        if not self.connected or self._unconfirmed >= IN_FLIGHT:
            return False
        with self._lock:
            self._unconfirmed += 1
        given: Properties | None = None
        if expires_s is not None:
            given = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
            given.MessageExpiryInterval = expires_s
        # Queued by paho whatever it answers: never twice.
        self._client.publish(topic, payload, qos=1, retain=retain, properties=given)
        return True

    def taken(self, most: int = 100) -> Sequence[Incoming]:
        """See `Wire`."""
        found: list[Incoming] = []
        while len(found) < most and not self._incoming.empty():
            found.append(self._incoming.get_nowait()[-1])
        return found

    def wait(self, limit_s: float) -> Incoming | None:
        """The next message; None if none comes in time."""
        try:
            return self._incoming.get(timeout=limit_s)[-1]
        except queue.Empty:
            return None

    def close(self, last: tuple[str, bytes] | None = None) -> None:
        """Say a last word and hang up."""
        if last is not None and self.connected:
            self._client.publish(*last, qos=1, retain=True).wait_for_publish(2)
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(self, client: Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        if reason.is_failure:
            self._tell(str(reason))
            return
        self.trouble = ""
        with self._lock:
            self._unconfirmed = 0
        for name in self._filters:
            client.subscribe(name, options=SubscribeOptions(qos=1, retainAsPublished=True))
        if self._birth is not None:
            client.publish(*self._birth, qos=1, retain=True)
        self.connected, self.connections = True, self.connections + 1

    def _on_disconnect(self, _client: Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        self.connected = False
        if reason.is_failure:
            self._tell(str(reason))

    def _on_connect_fail(self, _client: Client, _data: Any) -> None:
        """Called while paho handles what went wrong, such as a certificate that is not the broker's."""
        self._tell(str(sys.exc_info()[1]))

    def _tell(self, trouble: str) -> None:
        """Once for each: it is tried again by itself."""
        if trouble != self.trouble:
            log.warning("the broker at %s: %s", self._place, trouble)
        self.trouble = trouble

    def _on_publish(self, _client: Client, _data: Any, _number: int, _reason: Any, _properties: Any) -> None:
        with self._lock:
            self._unconfirmed = max(0, self._unconfirmed - 1)

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        expires = getattr(message.properties, "MessageExpiryInterval", None)
        later = topics.box_of(message.topic, "dark") is None
        if self._incoming.qsize() >= (QUEUE if later else QUEUE_DARK):
            self.dropped += 1
            return
        came = Incoming(message.topic, bytes(message.payload), message.retain, expires)
        self._incoming.put((later, next(self._numbers), came))
