"""Invented records for the store's tests, and hardships for them: a full disk, a reader without rights."""

import hashlib
import os
import resource
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sumlight.light.sample import Sample
from sumlight.store.logbook.records import NewExposure, NewSide, SideState

START_UTC = datetime(2026, 11, 25, 8, 0, 0, 123456, tzinfo=UTC)

RECIPE_TEXT = """\
resist: Invented film
thickness_um: 38
sides: turned
dose_mj_cm2: 60
transmission:
  a: 0.84
  b: 0.81
time_guard_s: 120
hold_s: 900
hold_limit_s: 86400
interruptions:
  forgiven: 2
  longest_gap_s: 60
note: example, invented
"""

NOBODY = 65534
"""The account without rights on Debian, for tests that run as root, whom no permission stops."""


def later(seconds: float) -> datetime:
    """So many seconds after START_UTC."""
    return START_UTC + timedelta(seconds=seconds)


def new_exposure(panel: str = "P12", sides: str = "AB", recipe_text: str = RECIPE_TEXT) -> NewExposure:
    """An exposure about to begin."""
    return NewExposure(
        panel=panel,
        note="first try",
        recipe_name="invented-38",
        recipe_text=recipe_text,
        recipe_sha256=hashlib.sha256(recipe_text.encode()).hexdigest(),
        sides=tuple(NewSide(side, "lower", 60.0, 0.84) for side in sides),
        started_utc=START_UTC,
        box_name="Bench box",
        simulated=True,
        started_by="Ada",
    )


def state(side_id: int, dose_mj_cm2: float, name: str = "lit", pauses: int = 0) -> SideState:
    """Where a side stands at some dose."""
    return SideState(side_id, name, dose_mj_cm2, 0.01 * dose_mj_cm2, dose_mj_cm2 / 5, pauses, 3.5 * pauses)


def sample(number: int) -> Sample:
    """A sample such as a meter gives, 50 ms after the one before."""
    end_s = 1000.0 + number * 0.05 + (number % 7) * 1e-4
    return Sample(end_s, end_s - 0.025, (8000 + number % 13, 3000, 900, 700, 12000, 65535), 5, number % 2)


@contextmanager
def no_room(limit_bytes: int = 0) -> Iterator[None]:
    """Let the kernel refuse, as on a full disk, that a file of this process grows beyond `limit_bytes`."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@contextmanager
def without_rights() -> Iterator[None]:
    """Lay down root's rights for a while, so that file permissions count."""
    before = os.geteuid()
    if before == 0:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(before)


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold the logbook as another program would, so that writes to it stall."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def ask(path: Path, sql: str) -> list[tuple[object, ...]]:
    """Look at the file past the store, with SQLite itself."""
    with closing(sqlite3.connect(path)) as link:
        return link.execute(sql).fetchall()
