"""A logbook, a collector's database in a file, and the two of them through the air."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from sumlight.fleet.collector.tables import connected, opened


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """Where a box's logbook lies."""
    return tmp_path / "logbook.sqlite"


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Made once: Alembic takes its time."""
    file = tmp_path_factory.mktemp("fleet") / "empty.sqlite"
    opened(f"sqlite:///{file}").dispose()
    return file


@pytest.fixture
def database(tmp_path: Path, empty_database: Path) -> Iterator[Engine]:
    """A collector's database of its own."""
    shutil.copy(empty_database, tmp_path / "fleet.sqlite")
    engine = connected(f"sqlite:///{tmp_path / 'fleet.sqlite'}")
    yield engine
    engine.dispose()
