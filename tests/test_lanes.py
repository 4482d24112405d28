"""How the tests themselves are shared out among workers."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.conftest import REAL_TIME

WHERE = """
import os
from pathlib import Path
import pytest

@pytest.mark.parametrize("number", range(8))
def test_it(number: int) -> None:
    with Path(os.environ["TOLD"]).open("a") as told:
        told.write(f"{Path(__file__).stem} {os.environ['PYTEST_XDIST_WORKER']}\\n")
"""


def test_every_name_of_a_real_time_test_is_one() -> None:
    """A file that is moved must be moved in the list too."""
    assert [name for name in REAL_TIME if not (Path(__file__).parent / name).exists()] == []


def test_what_is_about_real_time_has_one_worker(tmp_path: Path) -> None:
    """Two browsers or two twins at once would time each other."""
    folder = tmp_path / "tests"
    for name in ("browser/test_seen.py", "processes/test_killed.py"):
        (folder / name).parent.mkdir(parents=True)
        (folder / name).write_text(WHERE, encoding="utf-8")
    shutil.copy(Path(__file__).with_name("conftest.py"), folder)
    told = tmp_path / "told"
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    command = [sys.executable, "-m", "pytest", "-n", "2", "--dist", "loadgroup", "-p", "no:cacheprovider"]
    subprocess.run(
        [*command, f"--rootdir={tmp_path}", str(folder)],
        env=kept | {"TOLD": str(told)},
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    ran = {tuple(line.split()) for line in told.read_text(encoding="utf-8").splitlines()}
    assert len({worker for _, worker in ran}) == 1
    assert {name for name, _ in ran} == {"test_seen", "test_killed"}
