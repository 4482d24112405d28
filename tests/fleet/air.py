"""A stand-in for the broker, and logbooks to send: messages go when told, may get lost, and come twice."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from sumlight.fleet.wire import Incoming
from sumlight.store.logbook.logbook import Logbook
from tests.store.making import later, new_exposure, state

NOW = datetime(2026, 11, 30, 12, 0, 0, tzinfo=UTC)


class Air:
    """What one side sent and has not been carried yet; `connected` and `room` are the test's to set."""

    def __init__(self) -> None:
        self.connected, self.connections, self.outstanding = True, 1, 0
        self.sent: list[tuple[str, bytes, bool]] = []
        self.here: list[Incoming] = []
        self.room = 10_000

    def send(self, topic: str, payload: bytes, *, retain: bool = False) -> bool:
        """Take a message as long as there is room."""
        if not self.connected or len(self.sent) >= self.room:
            return False
        self.sent.append((topic, payload, retain))
        return True

    def taken(self, most: int = 100) -> Sequence[Incoming]:
        """What the test put there."""
        found, self.here = self.here[:most], self.here[most:]
        return found

    def pick(self, what: str) -> list[Incoming]:
        """What was sent on topics that end so, as the other side gets it; all else is gone."""
        found = [Incoming(topic, raw, False, None) for topic, raw, _ in self.sent if topic.endswith(f"/{what}")]
        self.sent.clear()
        return found


def expose(path: Path, count: int, first: int = 1) -> None:
    """So many finished exposures with a reading of the lamps each: three changes an exposure."""
    with Logbook(path, durable=False) as book:
        for number in range(first, first + count):
            begun = book.begin(new_exposure(panel=f"P{number}", sides="A"))
            book.put_sides([state(begun.side_ids["A"], 60.0, "done")], later(60 * number))
            book.finish(begun.exposure_id, "completed", False, later(60 * number + 6))
