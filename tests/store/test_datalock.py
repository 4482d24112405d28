"""One process works with a data folder at a time; the lock ends with the process that holds it."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.cli.simulated import SimulatedBox
from sumlight.store.datalock import NAME, DataInUseError, DataLock
from sumlight.twin.scenario import Scenario
from tests.control.bench_box import demo_box
from tests.control.real_box import RealBox
from tests.processes.test_killed_control import connect, ready
from tests.store.making import NOBODY, without_rights


def test_a_folder_is_taken_by_one_at_a_time(tmp_path: Path) -> None:
    """The second is refused in words, until the first lets go."""
    with DataLock(tmp_path / "new"):
        with pytest.raises(DataInUseError, match="another Sumlight is working with the data folder"):
            DataLock(tmp_path / "new")
        with DataLock(tmp_path / "other"):
            pass
    DataLock(tmp_path / "new").release()


def test_whoever_fails_after_taking_it_leaves_no_lock(tmp_path: Path) -> None:
    """E.g. control that finds a logbook it cannot open."""
    lock = DataLock(tmp_path)
    del lock
    DataLock(tmp_path).release()


def test_another_account_can_neither_take_nor_keep_it(tmp_path: Path) -> None:
    """The page's account may look into the folder, but must not be able to keep control from starting."""
    tmp_path.chmod(0o755)
    DataLock(tmp_path).release()
    assert (tmp_path / NAME).stat().st_mode & 0o077 == 0
    with without_rights(), pytest.raises(DataInUseError, match="cannot be used: Permission denied"):
        DataLock(tmp_path)


def test_root_leaves_the_lock_to_the_owner_of_the_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`sudo sumlight records restore` on a new card, before control has ever run.

    Where this is not root, a stand-in takes down what would be given away: the kernel refuses it to everybody else.
    """
    given: list[tuple[int, int]] = []
    if os.geteuid() == 0:
        os.chown(tmp_path, NOBODY, NOBODY)
        DataLock(tmp_path).release()
        kept = (tmp_path / NAME).stat()
        given.append((kept.st_uid, kept.st_gid))
        owner = NOBODY, NOBODY
    else:
        monkeypatch.setattr(os, "geteuid", lambda: 0)
        monkeypatch.setattr(os, "fchown", lambda _handle, uid, gid: given.append((uid, gid)))
        DataLock(tmp_path).release()
        owner = os.getuid(), tmp_path.stat().st_gid
    assert given == [owner]


@pytest.mark.parametrize(
    "box",
    [
        lambda data: RealBox(data, demo_box()),
        lambda data: SimulatedBox(demo_box(), Scenario(), data, speed=None, attended=False, threaded=True),
    ],
    ids=["real", "simulated"],
)
def test_control_takes_the_folder_before_it_reads_or_mends_anything(
    tmp_path: Path, box: Callable[[Path], object]
) -> None:
    """A logbook that looks damaged may be one that the other control is writing at this moment."""
    (tmp_path / "logbook.sqlite").write_bytes(b"half a page" * 1000)
    with DataLock(tmp_path):
        before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
        with pytest.raises(DataInUseError, match="another Sumlight is working with the data folder"):
            box(tmp_path)
        assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def control(data: Path, *options: str) -> subprocess.Popen[str]:
    """`sumlight box control --twin` over a data folder."""
    command = [sys.executable, "-m", "sumlight.cli", "box", "control", "--twin", "--data", str(data), *options]
    return subprocess.Popen(command, stderr=subprocess.PIPE, text=True)


def test_a_second_control_on_the_same_data_is_refused_whatever_its_socket(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And so is all that needs the box at rest; after a kill -9 the next one starts at once."""
    first = control(tmp_path)
    try:
        with connect(tmp_path / "control.sock") as client:
            ready(client)
        second = control(tmp_path, "--socket", str(tmp_path / "second.sock"))
        assert second.wait(120) == 2
        assert second.stderr is not None
        assert "another Sumlight is working with the data folder" in second.stderr.read()
        second.stderr.close()
        for command in (
            ["panel", "expose", "blue-38", "--twin", "--data", str(tmp_path)],
            ["records", "restore", str(tmp_path / "logbook.sqlite"), "--data", str(tmp_path)],
            ["records", "compact", "--data", str(tmp_path)],
        ):
            assert main(command) == 2
            assert "another Sumlight is working with the data folder" in capsys.readouterr().err, command
    finally:
        first.send_signal(signal.SIGKILL)
        first.communicate()
    third = control(tmp_path)
    try:
        with connect(tmp_path / "control.sock") as client:
            ready(client)
    finally:
        third.terminate()
        third.communicate()
