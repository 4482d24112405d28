"""The logbook seen from an account that may read it and nothing else, as the page's may on an installed box.

The judge is the kernel: a child gives up root for good, or, where the tests do not run as root, the folder is made
unwritable for its owner before the child looks. What SQLite does with files it may not write is its own business
(sqlite.org/wal.html, "Read-Only Databases"); here is tried what comes of it.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.store.logbook.logbook import Logbook
from tests.store.making import NOBODY, new_exposure

HEAD = """
import json, os
from pathlib import Path
from sumlight.store.logbook.database import migrations
from sumlight.store.logbook.logbook import Logbook
folder, root = Path({folder!r}), {root}
migrations()  # read while there are rights: this account need not see where the tests' own program lies
if root:
    os.setgroups([]); os.setgid({account}); os.setuid({account})
"""
READ = """
with Logbook.open_reader(folder / "logbook.sqlite") as book:
    answer = [found["panel"] for found in book.recent(10)]
"""
TAMPER = """
import shutil, sqlite3
def tried(what):
    try:
        what()
    except (OSError, sqlite3.Error) as error:
        return type(error).__name__
    return "done"
def sql(uri, text):
    with sqlite3.connect(uri, uri=True, timeout=0.2) as link:
        link.execute(text)
book = folder / "logbook.sqlite"
acts = {"delete rows": lambda: sql(f"file:{book}", "DELETE FROM exposures"),
        "checkpoint": lambda: sql(f"file:{book}", "PRAGMA journal_mode = DELETE"),
        "new file": lambda: (folder / "more").write_text("x"),
        "link": lambda: (folder / "link").symlink_to("/etc/passwd"),
        "rename folder": lambda: folder.rename(folder.with_name("other"))}
for name in ("logbook.sqlite", "logbook.sqlite-wal", "logbook.sqlite-shm"):
    path = folder / name
    acts |= {f"append {name}": lambda path=path: path.open("ab").close(),
             f"write {name}": lambda path=path: path.open("r+b").close(),
             f"rename {name}": lambda path=path: path.rename(folder / "gone"),
             f"delete {name}": lambda path=path: path.unlink(),
             f"mode {name}": lambda path=path: path.chmod(0o666) if root else path.open("wb"),
             f"replace {name}": lambda path=path: shutil.copy("/etc/hostname", path)}
answer = {name: tried(act) for name, act in acts.items()}
"""


@pytest.fixture
def folder(open_folder: Path) -> Iterator[Path]:
    """A data folder as the installer leaves it: its group may look, nobody else may write.

    Not below pytest's own, which every pytest that starts meanwhile shuts again for other accounts.
    """
    found = open_folder / "data"
    found.mkdir()
    found.chmod(0o755)
    yield found
    found.chmod(0o755)


@pytest.fixture
def as_page(folder: Path) -> Callable[[str], Any]:
    """Runs Python as an account that owns nothing in the folder and gives what it left in `answer`."""

    def run(program: str) -> Any:
        root = os.getuid() == 0
        for path in folder.iterdir():
            path.chmod(0o644 if root else 0o444)
        folder.chmod(0o755 if root else 0o555)
        text = HEAD.format(folder=str(folder), root=root, account=NOBODY) + program + "\nprint(json.dumps(answer))"
        done = subprocess.run([sys.executable, "-c", text], capture_output=True, text=True, timeout=120)
        folder.chmod(0o755)
        for path in folder.iterdir():
            path.chmod(0o644)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return run


@pytest.fixture
def writer(folder: Path) -> Iterator[Logbook]:
    """The logbook as control holds it."""
    with Logbook(folder / "logbook.sqlite") as book:
        yield book


def test_it_reads_what_control_wrote_last(writer: Logbook, as_page: Callable[[str], Any]) -> None:
    """While control holds the file open, each record as soon as it is written."""
    for panel in ("P1", "P2", "P3"):
        writer.begin(new_exposure(panel=panel))
        assert as_page(READ)[0] == panel


def test_it_reads_a_logbook_at_rest(folder: Path, as_page: Callable[[str], Any]) -> None:
    """Control has ended and SQLite has put everything into the one file; the reader may make no other beside it."""
    with Logbook(folder / "logbook.sqlite") as book:
        book.begin(new_exposure(panel="P1"))
    assert [path.name for path in folder.iterdir()] == ["logbook.sqlite"]
    assert as_page(READ) == ["P1"]


def test_it_reads_a_logbook_whose_control_was_killed(folder: Path, as_page: Callable[[str], Any]) -> None:
    """What was written just before the end still lies beside the file."""
    program = (
        "import os, sys; from pathlib import Path; from sumlight.store.logbook.logbook import Logbook\n"
        "from tests.store.making import new_exposure\n"
        "book = Logbook(Path(sys.argv[1])); book.begin(new_exposure(panel='P1')); os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", program, str(folder / "logbook.sqlite")], check=False, timeout=120)
    assert (folder / "logbook.sqlite-wal").stat().st_size
    assert as_page(READ) == ["P1"]


def test_it_can_change_nothing(writer: Logbook, folder: Path, as_page: Callable[[str], Any]) -> None:
    """Write, rename, delete, replace: file, log, shared memory and folder."""
    writer.begin(new_exposure(panel="P1"))
    before = {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.endswith("-shm")}
    answer = as_page(TAMPER)
    assert len(answer) == 23
    assert {name: said for name, said in answer.items() if said == "done"} == {}
    assert {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.endswith("-shm")} == before
