"""`sumlight setup operators`: who may operate, and a new start that ends every session."""

import os
import re
from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.store import operators as files

HASH = "scrypt:1024:8:1$salt$" + "0" * 128


def give(data: Path, *names: str) -> None:
    """Operators in a data folder, and somebody's session."""
    folder = files.access_folder(data)
    files.write_operators(folder, files.Operators(hashes=tuple((name, HASH) for name in names)))
    (folder / files.SESSIONS_FILE).write_text("{}")


def test_it_lists_who_may_operate(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One a line."""
    give(tmp_path, "Ada", "Grace")
    assert main(["setup", "operators", "--data", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "Ada\nGrace\n"


def test_a_box_without_one_tells_the_code_for_the_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same each time, with what to put behind the page's address."""
    told = []
    for _ in range(2):
        assert main(["setup", "operators", "--data", str(tmp_path)]) == 0
        told.append(re.findall(r"(?:\w{4}-){2}\w{4}", capsys.readouterr().out))
    assert told[0] == told[1]
    assert len(set(told[0])) == 1


def test_a_reset_takes_all_out_and_makes_a_new_code(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sessions too; also operators that an older version kept beside the folder."""
    old = files.set_up_code(files.access_folder(tmp_path))
    give(tmp_path, "Ada")
    (tmp_path / "operators.json").write_text("{}")
    assert main(["setup", "operators", "reset", "--data", str(tmp_path)]) == 0
    new = files.set_up_code(files.access_folder(tmp_path))
    assert new != old
    assert new in capsys.readouterr().out
    assert files.read_operators(files.access_folder(tmp_path)).names() == []
    assert not (tmp_path / "page" / files.SESSIONS_FILE).exists()


def test_somebody_elses_box_is_left_alone_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither root nor the owner of the data."""
    give(tmp_path, "Ada")
    monkeypatch.setattr(os, "geteuid", lambda: tmp_path.stat().st_uid + 4321)
    assert main(["setup", "operators", "reset", "--data", str(tmp_path)]) == 2
    assert "only root or the owner" in capsys.readouterr().err
    assert files.read_operators(tmp_path / "page").names() == ["Ada"]


def test_a_folder_that_is_none_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With what to do."""
    assert main(["setup", "operators", "--data", str(tmp_path / "nowhere")]) == 2
    assert "--data" in capsys.readouterr().err
