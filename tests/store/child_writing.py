"""A process that writes a logbook until it is killed; prints each dose once the logbook has written it."""

import sys
from pathlib import Path

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import TraceChunk
from tests.store.making import later, new_exposure, sample, state


def write_until_killed(path: Path) -> None:
    """Begin an exposure and let its dose grow by 0.25 mJ/cm² a line, without end."""
    book = Logbook(path)
    begun = book.begin(new_exposure(sides="A"))
    side_id = begun.side_ids["A"]
    say(f"begun {begun.exposure_id} {side_id}")
    count = 0
    while True:
        count += 1
        dose_mj_cm2 = 0.25 * count
        book.put_sides([state(side_id, dose_mj_cm2)], later(count * 0.05))
        say(f"{dose_mj_cm2}")
        book.add_trace(TraceChunk(side_id, tuple(sample(count * 40 + extra) for extra in range(40))))
        book.lamps.add_lamp_use("lower", 2.0, 1)


def say(line: str) -> None:
    """Hand a line to the parent at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    write_until_killed(Path(sys.argv[1]))
