"""Boxes in a process of their own: the real publisher over the real wire, on real logbooks that grow meanwhile.

`python -m tests.fleet.feeding PORT FOLDER SEED EXPOSURES BOX…`. Now and then a box begins anew, as after a power cut.
"""

import random
import sys
import threading
from pathlib import Path

from sumlight.clock import SystemClock
from sumlight.fleet import topics
from sumlight.fleet.publisher import Publisher, online
from sumlight.fleet.wire import Broker, MqttWire
from tests.fleet.air import expose

CHANGES = 2
"""An exposure makes so many."""
UTC = "2026-11-30T12:00:00.000000Z"


class Fed:
    """One box."""

    def __init__(self, port: int, folder: Path, box_id: str) -> None:
        self.logbook, self.folder, self.box_id, self._port = folder / f"{box_id}.sqlite", folder / box_id, box_id, port
        self.exposures = 0
        self.start()

    def start(self) -> None:
        """Connect."""
        boot = Publisher.new_boot()
        last = online(self.box_id, boot, False)
        secret = self.folder.with_suffix(".password")
        secret.write_text(f"word-{self.box_id}\n")
        broker = Broker("127.0.0.1", self._port, self.box_id, secret, None)
        listened = [topics.COLLECTOR_ONLINE, topics.of_box(self.box_id, "ack")]
        self.wire = MqttWire(broker, f"{self.box_id}.publisher", listened, last, online(self.box_id, boot, True))
        self.box = Publisher(
            self.box_id, self.logbook, self.folder, self.wire, lambda: None, lambda: UTC, boot=boot, machine="m"
        )

    def cut(self) -> None:
        """The power fails: nothing is put away."""
        self.wire.close()
        self.start()


def main(port: int, folder: Path, seed: int, exposures: int, names: list[str]) -> None:
    """Feed and publish until the input ends; `n` lines of progress tell what waits."""
    rng, clock, stop = random.Random(seed), SystemClock(), threading.Event()
    boxes = [Fed(port, folder, name) for name in names]
    threading.Thread(target=lambda: (sys.stdin.read(), stop.set()), daemon=True).start()
    while not stop.wait(0.05):
        for box in boxes:
            if box.exposures < exposures and rng.random() < 0.3:
                more = min(exposures - box.exposures, rng.randint(1, 4))
                expose(box.logbook, more, first=box.exposures + 1)
                box.exposures += more
            if rng.random() < 0.002:
                box.cut()
            box.box.step(clock.mono_s())
        if all(box.exposures == exposures for box in boxes):
            sys.stdout.write("fed\n")
            sys.stdout.flush()
    for box in boxes:
        box.wire.close()


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]), sys.argv[5:])
