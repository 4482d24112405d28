"""A real box whose records would not last says so at all times; one that cannot write does not start."""

from pathlib import Path

import pytest

from sumlight.store.datalock import DataInUseError
from sumlight.store.logbook.writer import LogWriter
from sumlight.text.message import as_written
from tests.control.bench_box import demo_box
from tests.control.real_box import RealBox


@pytest.mark.parametrize(
    ("found", "code"), [("lasts", None), ("in_ram", "data_in_ram"), ("unsure", "data_may_be_in_ram")]
)
def test_a_data_folder_that_does_not_last_is_said(
    found: str, code: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Among the remarks on how the box is built."""
    monkeypatch.setattr("sumlight.control.daemon.lasting", lambda _folder: found)
    box = RealBox(tmp_path, demo_box())
    told = [warning.code for warning in box.ask("state")["warnings"] if warning.code.startswith("data_")]
    box.daemon.close()
    assert told == ([] if code is None else [code])


def test_a_read_only_data_folder_is_refused_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Instead of SQLite's word for it, and before a pin is opened."""
    monkeypatch.setattr("sumlight.control.daemon.lasting", lambda _folder: "read_only")
    with pytest.raises(DataInUseError, match=r"its file system is read-only. Make it writable"):
        RealBox(tmp_path, demo_box())


@pytest.mark.parametrize(("lag_s", "error", "told"), [(2.9, None, []), (3.4, None, [3]), (9.0, "no room", [])])
def test_a_card_that_takes_no_record_is_said(
    lag_s: float, error: str | None, told: list[int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After three seconds, with how long; a refusal is told in its own words."""
    box = RealBox(tmp_path, demo_box())
    monkeypatch.setattr(LogWriter, "lag_s", property(lambda _writer: lag_s))
    monkeypatch.setattr(LogWriter, "error", property(lambda _writer: error and as_written(error)))
    found = [warning for warning in box.ask("state")["warnings"] if warning.code == "records_wait"]
    monkeypatch.undo()
    box.daemon.close()
    assert [warning.values["seconds"] for warning in found] == told
