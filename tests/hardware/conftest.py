"""hardware/ is no package: its scripts find each other beside themselves, and so do these tests."""

import sys
from pathlib import Path

import pytest

from . import small_pi

ROOT = small_pi.ROOT
sys.path.insert(0, str(ROOT / "hardware"))


@pytest.fixture
def bench(tmp_path: Path) -> small_pi.Bench:
    """A Pi on which nothing of ours is yet."""
    return small_pi.made(tmp_path)
