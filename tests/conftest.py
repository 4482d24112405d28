"""Settings for all tests."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadScopeScheduling

from tests.protocol.checking import record

# No deadlines, no complaint of slow examples: how long one takes says nothing on a busy machine. In CI the examples are
# the same each time, so that a change is judged by itself; at a desk they vary and may find something new.
settings.register_profile(
    "sumlight", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=os.environ.get("CI") == "true"
)
settings.load_profile("sumlight")

REAL_TIME = (
    "browser/test_bar_twin.py",
    "browser/test_commission_twin.py",
    "browser/test_jobs_twin.py",
    "browser/test_lamps.py",
    "browser/test_light_measures.py",
    "browser/test_light_twin.py",
    "browser/test_newcomer_twin.py",
    "browser/test_twin.py",
    "cli/test_metrology.py",
    "processes",
    "control/safety/test_dark.py",
    "webui/test_starve.py",
)
"""Where a whole box runs in real time, or a real clock judges. Run one after the other, beside all the rest."""

PICTURES = ("browser",)
"""The rest of what needs a browser, whose pages wait for nobody's clock. One worker starts it once for all of them."""


class RealTimeInOneLane(LoadScopeScheduling):  # type: ignore[misc]  # xdist has no types
    """Gives all tests about real time to one worker, as one piece and first; pages in a browser likewise to the next;
    any other test to whoever is free.

    xdist's own marks for this do nothing with pytest 9.2, and say nothing: two twins then shared two cores with what
    they were timed against.
    """

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.removeprefix("tests/")
        for lane, names in (("real time", REAL_TIME), ("pictures", PICTURES)):
            if file.startswith(names):
                return lane
        return nodeid


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> RealTimeInOneLane:
    """Keep what is about real time from running twice at once."""
    return RealTimeInOneLane(config, log)


COLLECTED = pytest.StashKey[dict[str, bool]]()
"""Every test that was found in this run, and whether it is one of a campaign."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Take down what there is before pytest leaves campaigns out."""
    config.stash[COLLECTED] = {item.nodeid: item.get_closest_marker("campaign") is not None for item in items}


@pytest.fixture(scope="session", autouse=True)
def lines_of_the_socket() -> Iterator[None]:
    """Judge every line that a control in this process writes, whatever the test is about."""
    end = record()
    yield
    end()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every account may enter, unlike pytest's own."""
    folder = Path(tempfile.mkdtemp(prefix="sumlight-"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)
