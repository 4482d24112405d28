"""What the store's tests share: a fresh logbook path, and a check that nothing is left behind."""

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a logbook may be made; nothing stands there yet."""
    return tmp_path / "logbook.sqlite"


@pytest.fixture(autouse=True)
def nothing_left_behind(tmp_path: Path) -> Iterator[None]:
    """Fail a test that leaves its logbook open or a writer's thread running."""
    yield
    opened = [os.readlink(f"/proc/self/fd/{fd}") for fd in os.listdir("/proc/self/fd") if _is_link(fd)]
    assert [name for name in opened if name.startswith(str(tmp_path))] == []
    assert [thread.name for thread in threading.enumerate() if thread.name == "log-writer"] == []


def _is_link(fd: str) -> bool:
    return os.path.lexists(f"/proc/self/fd/{fd}")
