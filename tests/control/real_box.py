"""Control as on a real box, which is locked until it has been commissioned, over simulated pins."""

from pathlib import Path
from typing import Any

from sumlight.box.description import BoxDescription
from sumlight.cli.simulated import press
from sumlight.control.daemon import Daemon
from sumlight.protocol.messages import Request
from sumlight.twin.clock import TwinClock
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World
from tests.control.bench_box import recipe_text
from tests.protocol.checking import check_snapshot


class RealBox:
    """The daemon as on a real box, not told that its pins are simulated."""

    def __init__(self, data: Path, box: BoxDescription, *, speed: float | None = None) -> None:
        self.clock = TwinClock(speed)
        self.world = World(self.clock, box, Scenario())
        self.data = data
        self.daemon = Daemon(
            box, self.clock, self.world.pin_factory, self.world.bus, data, threaded=False, durable=False
        )
        self.daemon.shelf.save("quick", recipe_text())

    def run(self, seconds: float) -> None:
        """Some time."""
        end_s = self.clock.now_s + seconds
        while self.clock.now_s < end_s:
            self.daemon.step()

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """A command from the socket; a snapshot is judged as it would be there."""
        if command in ("start", "go"):
            return press(self.daemon, command, **values)
        found = self.daemon.commander.handle(Request(1, command, values))
        if command == "state":
            check_snapshot(found)
        return found
