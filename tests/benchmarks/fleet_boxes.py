"""Boxes of the benchmark `fleet`, up to 25 in a process: the real publisher over the real wire, on real logbooks.

`python -m tests.benchmarks.fleet_boxes PORT FOLDER SEED BOX…`. A line `SECONDS SESSIONS REBOOTS` begins a timetable: so
many sessions of a few panels for each box, spread over so long; a compressed day has a shorter timetable and the same
protocol. `fed` is printed once all are written. At the end of the input it is noted when each number was written.
"""

import json
import logging
import queue
import random
import sys
import threading
import time
from pathlib import Path

from sumlight.clock import SystemClock
from tests.fleet.air import expose
from tests.fleet.feeding import CHANGES, Fed

PER_SESSION = 4
"""Panels."""
STEP_S = 0.2
"""As the publisher's own process looks."""


def main(port: int, folder: Path, seed: int, names: list[str]) -> None:
    """Follow one timetable after the other."""
    logging.getLogger("sumlight").setLevel(logging.ERROR)  # that the broker is away is meant
    rng, clock, orders = random.Random(seed), SystemClock(), queue.Queue[str]()
    threading.Thread(target=lambda: ([orders.put(line) for line in sys.stdin], orders.put("")), daemon=True).start()
    boxes = [Fed(port, folder, name) for name in names]
    written: dict[str, list[tuple[int, float]]] = {name: [] for name in names}
    due: list[tuple[float, Fed]] = []
    cuts: list[tuple[float, Fed]] = []
    feeding = False
    while True:
        now_s = clock.mono_s()
        if not orders.empty():
            line = orders.get()
            if not line:
                break
            span_s, sessions, reboots = line.split()
            due = [(now_s + rng.uniform(0, float(span_s)), box) for box in boxes for _ in range(int(sessions))]
            cuts = [(now_s + rng.uniform(0, float(span_s)), rng.choice(boxes)) for _ in range(int(reboots))]
            feeding = True
        for box in [box for at_s, box in cuts if at_s <= now_s]:
            box.cut()
        for box in [box for at_s, box in due if at_s <= now_s]:
            expose(box.logbook, PER_SESSION, first=box.exposures + 1)
            box.exposures += PER_SESSION
            written[box.box_id].append((CHANGES * box.exposures, time.time()))
        due, cuts = [one for one in due if one[0] > now_s], [one for one in cuts if one[0] > now_s]
        for box in boxes:
            box.box.step(clock.mono_s())
        if feeding and not due:
            feeding = False
            sys.stdout.write("fed\n")
            sys.stdout.flush()
        time.sleep(max(0.0, now_s + STEP_S - clock.mono_s()))
    for box in boxes:
        box.wire.close()
    (folder / f"{names[0]}.times").write_text(json.dumps(written))


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4:])
