"""A logbook with some finished exposures, invented, for tests of copies and rescue."""

from pathlib import Path

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import TraceChunk
from tests.store.making import later, new_exposure, sample, state


def fill(path: Path, count: int = 40) -> None:
    """So many exposures with journal and trace; the file is left closed and whole."""
    with Logbook(path, durable=False) as book:
        for number in range(count):
            begun = book.begin(new_exposure(panel=f"P{number + 1}", sides="A"))
            side_id = begun.side_ids["A"]
            for step in range(1, 9):
                book.put_sides([state(side_id, 7.5 * step)], later(60 * number + 0.25 * step))
            book.add_trace(TraceChunk(side_id, tuple(sample(number * 100 + extra) for extra in range(100))))
            book.put_sides([state(side_id, 60.0, "done")], later(60 * number + 5))
            book.finish(begun.exposure_id, "completed", False, later(60 * number + 6))
