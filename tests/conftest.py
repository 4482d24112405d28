"""Settings for all tests."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

# No deadlines: how long one example takes says nothing on a busy machine. In CI the examples are the same each time,
# so that a change is judged by itself; at a desk they vary and may find something new.
settings.register_profile("sumlight", deadline=None, derandomize=os.environ.get("CI") == "true")
settings.load_profile("sumlight")

REAL_TIME = ("browser", "processes", "store/test_killed.py", "store/test_every_write.py", "webui/test_process.py")
"""Where tests wait for processes and real clocks. Workers run them one after the other, beside all the rest."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep what is about real time from running twice at once."""
    here = Path(__file__).parent
    real_time = [here / name for name in REAL_TIME]
    for item in items:
        if any(item.path.is_relative_to(path) for path in real_time):
            item.add_marker(pytest.mark.xdist_group("real time"))
