"""How the tests themselves are shared out among workers, and where their folders are made."""

import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.conftest import BEHIND, PICTURES, REAL_TIME, ROOM_BYTES, TOGETHER, RealTimeInOneLane, folder_of_all_tests

WHERE = """
import os
from pathlib import Path
import pytest

@pytest.mark.parametrize("number", range(8))
def test_it(number: int) -> None:
    with Path(os.environ["TOLD"]).open("a") as told:
        told.write(f"{Path(__file__).stem} {os.environ['PYTEST_XDIST_WORKER']} {os.getpriority(os.PRIO_PROCESS, 0)}\\n")
"""


@pytest.mark.parametrize(
    ("room_bytes", "flags", "chosen", "taken"),
    [
        (ROOM_BYTES, 0, None, True),
        (ROOM_BYTES - 4096, 0, None, False),
        (ROOM_BYTES, os.ST_NOEXEC, None, False),
        (ROOM_BYTES, 0, "/somewhere", False),
    ],
)
def test_folders_lie_in_memory_where_there_is_room(
    room_bytes: int, flags: int, chosen: str | None, taken: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A small machine's memory is left alone, and whoever says where is obeyed."""
    told = SimpleNamespace(f_bavail=room_bytes // 4096, f_frsize=4096, f_flag=flags)
    monkeypatch.setattr(os, "statvfs", lambda _place: told)
    monkeypatch.delenv("TMPDIR", raising=False)
    if chosen is not None:
        monkeypatch.setenv("TMPDIR", chosen)
    assert folder_of_all_tests(tmp_path) == (tmp_path if taken else None)


def test_every_name_of_what_belongs_together_is_one() -> None:
    """A file that is moved must be moved in the list too."""
    assert [name for name in (*REAL_TIME, *PICTURES, *TOGETHER) if not (Path(__file__).parent / name).exists()] == []


@pytest.mark.long
def test_what_is_about_real_time_has_one_worker(tmp_path: Path) -> None:
    """Two twins at once would time each other; a second browser would be started for nothing. The rest stands back."""
    folder = tmp_path / "tests"
    lanes = ("browser/test_twin.py", "processes/test_killed.py", "browser/test_look.py")
    for name in lanes:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(WHERE, encoding="utf-8")
    shutil.copy(Path(__file__).with_name("conftest.py"), folder)
    told = tmp_path / "told"
    path = os.pathsep.join([str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH", "")])  # for conftest's imports
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    command = [sys.executable, "-m", "pytest", "-n", "2", "--dist", "loadgroup", "-p", "no:cacheprovider"]
    subprocess.run(
        [*command, f"--rootdir={tmp_path}", str(folder)],
        env=kept | {"TOLD": str(told), "PYTHONPATH": path},
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    lines = set(told.read_text(encoding="utf-8").splitlines())
    assert len(lines) == len(lanes), "one file was shared between workers"
    workers = {file: (worker, int(behind)) for file, worker, behind in map(str.split, lines)}
    assert workers["test_twin"] == workers["test_killed"]
    assert workers["test_twin"][0] != workers["test_look"][0]
    mine = os.getpriority(os.PRIO_PROCESS, 0)
    assert (workers["test_twin"][1], workers["test_look"][1]) == (mine, max(mine, BEHIND))


class Worker:
    """What the scheduler asks of one."""

    shutting_down = False
    gateway = SimpleNamespace(id="gw")

    def __init__(self) -> None:
        self.given: list[int] = []

    def send_runtest_some(self, numbers: list[int]) -> None:
        """Tests to run."""
        self.given += numbers

    def shutdown(self) -> None:
        """Nothing more is coming."""
        self.shutting_down = True


def test_every_test_is_given_out_once_and_what_is_done_is_forgotten() -> None:
    """Or each of ten thousand tests would be counted again when any other ends. What belongs together stays so."""
    pieces = [f"tests/{name}/test_a.py::test_{n}" for name in ("processes", TOGETHER[1]) for n in range(5)]
    tests = pieces + [f"tests/test_b.py::test_{n}" for n in range(9)]
    config = SimpleNamespace(getvalue=lambda _name: ["popen", "popen"], option=SimpleNamespace(loadscopereorder=True))
    shared_out = RealTimeInOneLane(config, None)
    workers = [Worker(), Worker()]
    for worker in workers:
        shared_out.add_node(worker)
    for worker in workers:
        shared_out.add_node_collection(worker, tests)
    shared_out.schedule()
    done: dict[str, Worker] = {}
    while any(worker.given for worker in workers):
        for worker in workers:
            if worker.given:
                number = worker.given.pop(0)
                assert tests[number] not in done
                done[tests[number]] = worker
                shared_out.mark_test_complete(worker, number)
                assert all(False in piece.values() for piece in shared_out.assigned_work[worker].values())
    assert done.keys() == set(tests)
    assert [len({done[test] for test in piece}) for piece in (pieces[:5], pieces[5:])] == [1, 1]
    assert shared_out.tests_finished


def test_every_test_with_a_running_twin_is_about_real_time() -> None:
    """Whoever starts a whole box in its own processes is in that lane."""
    folder = Path(__file__).parent
    own = {"test_lanes.py", "benchmarks", "guest"}
    users = [
        path.relative_to(folder) for path in folder.rglob("test_*.py") if "RunningTwin(" in path.read_text("utf-8")
    ]
    assert len(users) > 4
    assert [str(path) for path in users if path.parts[0] not in own and not str(path).startswith(REAL_TIME)] == []
