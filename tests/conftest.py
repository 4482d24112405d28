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

from sumlight.store.logbook import database
from tests.compiling import import_in_turn, keep_what_is_compiled
from tests.protocol.checking import record
from tests.store.migrated_once import migrate_once, plain_migrate

# No deadlines, no complaint of slow examples: how long one takes says nothing on a busy machine. In CI the examples are
# the same each time, so that a change is judged by itself; at a desk they vary and may find something new.
settings.register_profile(
    "sumlight", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=os.environ.get("CI") == "true"
)
settings.load_profile("sumlight")
keep_what_is_compiled()

SHARED_MEMORY = Path("/dev/shm")
ROOM_BYTES = 4 * 2**30
"""A run fills an eighth of it; the rest is for whoever else needs memory."""


def folder_of_all_tests(memory: Path = SHARED_MEMORY) -> Path | None:
    """Where folders of tests are made: in memory where there is room and programs may run from it, else as usual.

    Thousands of logbooks are begun, and each waits for the disk time and again: for nothing, since no power fails here.
    """
    if "TMPDIR" in os.environ or not os.access(memory, os.W_OK | os.X_OK):
        return None
    there = os.statvfs(memory)
    roomy = there.f_bavail * there.f_frsize >= ROOM_BYTES and not there.f_flag & os.ST_NOEXEC
    return memory if roomy else None


if (place := folder_of_all_tests()) is not None:
    tempfile.tempdir = str(place)

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
    "webui/test_box_units.py",
    "webui/test_starve.py",
)
"""Where a whole box runs in real time, or a real clock judges. Run one after the other, beside all the rest."""

PICTURES = ("browser",)
"""The rest of what needs a browser, whose pages wait for nobody's clock. One worker starts it once for all of them."""

TOGETHER = ("artwork/test_compare.py", "house", "webui/test_decimals.py")
"""Each of these in one piece: its tests share what the first has read or made, and every worker would make it anew."""

LONG = (
    "artwork/test_printed.py",
    "browser/test_artwork.py",
    "browser/test_bench.py",
    "browser/test_commission_twin.py",
    "browser/test_jobs_twin.py",
    "browser/test_lamps.py",
    "browser/test_light_measures.py",
    "browser/test_light_twin.py",
    "browser/test_light_workings.py",
    "browser/test_look.py",
    "browser/test_newcomer_twin.py",
    "browser/test_notice.py",
    "browser/test_paper.py",
    "browser/test_recipes.py",
    "browser/test_states.py",
    "browser/test_why.py",
    "browser/test_words.py",
    "control/calibration/test_lamp_colour_and_window.py",
    "hardware/test_drawings.py",
    "hardware/test_install.py",
    "hardware/test_install_versions.py",
    "hardware/test_on_path.py",
    "hardware/test_terminal_plan.py",
    "hardware/test_uninstall.py",
    "light/test_whole_life.py",
    "webui/test_language.py",
)
"""Files marked `long` as a whole: pages walked from end to end, drawings made anew, lives of lamps. No guard of safety
is among them; those are judged at every desk."""


class RealTimeInOneLane(LoadScopeScheduling):  # type: ignore[misc]  # xdist has no types
    """Gives all tests about real time to one worker, as one piece and first; pages in a browser likewise to the next;
    any other test, or what belongs together, to whoever is free.

    xdist's own marks for this do nothing with pytest 9.2, and say nothing: two twins then shared two cores with what
    they were timed against.
    """

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.removeprefix("tests/")
        for lane, names in (("real time", REAL_TIME), ("pictures", PICTURES)):
            if file.startswith(names):
                return lane
        return next((piece for piece in TOGETHER if file.startswith(piece)), nodeid)

    def mark_test_complete(self, node: Any, item_index: int, duration: float = 0) -> None:
        """Forget a piece that is done: it would be counted again at each of the thousands that follow."""
        super().mark_test_complete(node, item_index, duration)
        pieces = self.assigned_work[node]
        scope = self._split_scope(self.registered_collections[node][item_index])
        if all(pieces[scope].values()):
            del pieces[scope]


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> RealTimeInOneLane:
    """Keep what is about real time from running twice at once."""
    return RealTimeInOneLane(config, log)


BEHIND = 5
"""How far every test that no real clock judges stands back behind those that one does."""


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Three workers share two cores: whoever has nothing to do with real time lets the others go first."""
    shared = "PYTEST_XDIST_WORKER" in os.environ
    behind = os.getpriority(os.PRIO_PROCESS, 0)
    if shared and behind < BEHIND and not item.nodeid.removeprefix("tests/").startswith(REAL_TIME):
        os.nice(BEHIND - behind)


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """Workers that are about to gather all tests share the work of compiling them."""
    root, asked = session.config.rootpath, [Path(name).resolve() for name in session.config.args]
    told: dict[str, Any] | None = getattr(session.config, "workerinput", None)
    if told is not None and asked in ([root], [root / "tests"]):
        import_in_turn(root, root / "tests", int(told["workerid"].removeprefix("gw")), told["workercount"])


COLLECTED = pytest.StashKey[dict[str, str]]()
"""Every test that was found in this run, and the mark by which it is left out, if any."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Take down what there is before pytest leaves out what is long."""
    for item in items:
        if item.nodeid.removeprefix("tests/").startswith(LONG):
            item.add_marker("long")
    config.stash[COLLECTED] = {item.nodeid: left_out_by(item) for item in items}


def left_out_by(item: pytest.Item) -> str:
    """The mark by which a test is left to CI; empty for one that everybody runs."""
    return next((mark for mark in ("campaign", "long") if item.get_closest_marker(mark) is not None), "")


@pytest.fixture(scope="session", autouse=True)
def lines_of_the_socket() -> Iterator[None]:
    """Judge every line that a control in this process writes, whatever the test is about."""
    end = record()
    yield
    end()


@pytest.fixture(scope="session", autouse=True)
def migrations_once() -> Iterator[None]:
    """Begin new logbooks of this process with a copy."""
    database._migrate = migrate_once(plain_migrate)  # type: ignore[assignment]
    yield
    database._migrate = plain_migrate  # type: ignore[assignment]


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every account may enter, unlike pytest's own."""
    folder = Path(tempfile.mkdtemp(prefix="sumlight-"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)
