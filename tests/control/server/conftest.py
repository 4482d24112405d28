"""What the tests of the socket share."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.control.server.socket_desk import Desk, open_desk


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A service at a path of its own, closed afterwards."""
    with open_desk(tmp_path / "s") as desk:
        yield desk
