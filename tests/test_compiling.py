"""What is compiled once is compiled for all processes of a run, and shared work leaves nothing out."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests import compiling

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("workers", [1, 2, 3, 5])
def test_every_worker_imports_all_and_together_they_are_soon_through(workers: int) -> None:
    """Once each has done its share, every file has been reached by one of them."""
    files = [Path(str(number)) for number in range(7)]
    orders = [compiling.in_turn(files, worker, workers) for worker in range(workers)]
    assert [sorted(order) for order in orders] == [files] * workers
    share = -(-len(files) // workers)
    assert {file for order in orders for file in order[:share]} == set(files)


def test_what_a_test_starts_finds_the_program_compiled(tmp_path: Path) -> None:
    """Whatever the environment says of bytecode, as for a program that is installed."""
    (tmp_path / "part.py").write_text("FOUND = __cached__\n", encoding="utf-8")
    child = [sys.executable, "-c", "import part; print(part.FOUND)"]
    done = subprocess.run(child, cwd=tmp_path, env=os.environ, capture_output=True, text=True, check=True)
    assert Path(done.stdout.strip()).is_file()
    assert not sys.dont_write_bytecode


def test_a_module_that_cannot_be_imported_keeps_no_other_from_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pytest will come to it and say what is wrong."""
    folder = tmp_path / "of_a_run"
    folder.mkdir()
    (folder / "__init__.py").touch()
    (folder / "test_a.py").write_text("raise ValueError('broken')\n", encoding="utf-8")
    (folder / "test_b.py").write_text("x = 1\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    compiling.import_in_turn(tmp_path, folder, 0, 2)
    assert "of_a_run.test_b" in sys.modules
    assert "of_a_run.test_a" not in sys.modules
