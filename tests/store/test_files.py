"""Small files on a full disk, on a read-only one, after a power cut: the old one stands, nothing half is left."""

import errno
import os
import stat
from pathlib import Path

import pytest

from sumlight.store.files import replace_file
from sumlight.store.logbook.logbook import LogbookError
from sumlight.store.logbook.reports import write_report
from sumlight.store.logbook.writer import LogWriter
from tests.store.making import ask, no_room, without_rights


def test_a_full_disk_leaves_the_old_file_and_no_rubbish(tmp_path: Path) -> None:
    """And lets the same file be written later."""
    path = tmp_path / "small"
    replace_file(path, b"old")
    with no_room(4), pytest.raises(OSError, match="too large"):
        replace_file(path, b"new and longer")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["small"]
    (tmp_path / ".small.new").write_bytes(b"half")  # a power cut came in between
    replace_file(path, b"new and longer")
    assert path.read_bytes() == b"new and longer"
    assert os.listdir(tmp_path) == ["small"]


def test_permissions_are_those_wanted_or_those_there(tmp_path: Path) -> None:
    """A secret one is never open, not even where it was."""
    path = tmp_path / "small"
    replace_file(path, b"1", mode=0o600)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.chmod(0o640)
    replace_file(path, b"2")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    replace_file(path, b"3", mode=0o600)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_report_waits_for_room_and_the_records_behind_it_with_it(path: Path) -> None:
    """Nothing half written under its name; once there is room it is there, and so are they."""
    writer = LogWriter(path, threaded=False)
    report = path.parent / "reports" / "commissioning.html"
    with no_room(100):
        writer.add_report(report, "a long report " * 20)
        writer.add_lamp_use("lower", 1.0, 1)
        assert writer.error is not None
        assert "the report cannot be written" in writer.error
        assert not report.exists()
        assert writer.lag_s > 0
    assert writer.drain(0)
    assert writer.error is None
    assert writer.lost_count == 0
    assert report.read_text() == "a long report " * 20
    assert os.listdir(report.parent) == [report.name]
    writer.close()
    assert ask(path, "SELECT strikes FROM banks") == [(1,)]


def test_a_report_that_may_not_be_written_holds_up_no_record(path: Path) -> None:
    """It is left out with words; what it tells of is a record, too."""
    writer = LogWriter(path, threaded=False)
    (path.parent / "reports").write_text("a file where the folder should be")
    writer.add_report(path.parent / "reports" / "commissioning.html", "a report")
    assert writer.error is not None
    assert "not recorded: the report commissioning.html" in writer.error
    assert writer.lag_s == 0
    writer.add_lamp_use("lower", 1.0, 1)
    assert writer.error is None
    writer.close()


def test_what_may_pass_is_told_from_what_may_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Full and broken disks may; missing rights may not; a full one is called so."""
    tmp_path.chmod(0o755)
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o555)
    for parent in (tmp_path, *tmp_path.parents[:2]):
        parent.chmod(0o755)
    with without_rights(), pytest.raises(LogbookError) as caught:
        write_report(folder / "report.html", "")
    assert not caught.value.may_pass

    def full(fd: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(LogbookError, match="No space left") as caught:
        write_report(tmp_path / "report.html", "")
    assert (caught.value.may_pass, caught.value.trouble) == (True, "full")
    assert not (tmp_path / "report.html").exists()
