"""Nothing a visitor asks for touches the light: no file is opened by the loop under light, and no question takes long.

What is opened is told by the interpreter itself (its audit events), not by the program.
"""

import gc
import json
import os
import stat
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from sumlight.control.daemon import RECIPES
from sumlight.protocol.messages import LINE_LIMIT
from tests.control.bench_box import BenchBox, recipe_text
from tests.control.conftest import MakeBench
from tests.control.server.socket_desk import Caller
from tests.protocol.examples import EXAMPLES

OPENS = ("open", "os.listdir", "os.scandir", "sqlite3.connect", "os.mkdir", "os.rename", "os.remove")
LONGEST_S = 0.03
"""Processor time of one turn of the socket; a recipe of 45 kB took 0.07 to 0.2 s, a broken one 6.8 s (review A3)."""

ENDS_LIGHT = ("dark", "abandon")
NAMES = ("quick", "whole", "broken", "pipe", "folder", "loop", "nobody", "../quick", "\x00", "ä" * 60, "")
ODD: tuple[Any, ...] = (
    *NAMES,
    1,
    -1,
    0.5,
    1e308,
    None,
    True,
    [],
    [1] * 200,
    {},
    [{"zone": "A", "step": 3}],
    "x" * 3000,
)

_seen: list[tuple[str, str]] = []
_watched: list[int] = []


def _hear(event: str, arguments: tuple[Any, ...]) -> None:
    if _watched and event in OPENS and threading.get_ident() == _watched[0]:
        _seen.append((event, repr(arguments)[:80]))


sys.addaudithook(_hear)  # for the rest of the process: an audit hook cannot be taken away; it is deaf outside `audited`


@contextmanager
def audited() -> Iterator[list[tuple[str, str]]]:
    """What this thread opens meanwhile."""
    _seen.clear()
    _watched.append(threading.get_ident())
    try:
        yield _seen
    finally:
        _watched.clear()


def odd_shelf(folder: Path) -> None:
    """A shelf as only malice or a bad day makes it: a whole 8 KiB of recipe, and what is no recipe at all."""
    folder.mkdir(parents=True, exist_ok=True)
    whole = recipe_text()
    (folder / "whole.yaml").write_text(whole + "#" * (8 * 1024 - len(whole)), encoding="utf-8")
    (folder / "broken.yaml").write_text("a: 1\n" * 1600, encoding="utf-8")
    (folder / "secret.yaml").write_text(whole, encoding="utf-8")
    (folder / "secret.yaml").chmod(0)
    os.mkfifo(folder / "pipe.yaml")
    (folder / "folder.yaml").mkdir()
    (folder / "loop.yaml").symlink_to("loop.yaml")
    Path(os.fsdecode(os.fsencode(folder) + b"/\xff.yaml")).write_text(whole, encoding="utf-8")


def hostile_lines() -> list[bytes]:
    """Every command with odd values in every field, those of a loaded recipe among them."""
    lines = []
    for command, example in EXAMPLES.items():
        if command in ENDS_LIGHT:
            continue
        for value in ODD:
            lines.append({"id": 1, "command": command, **dict.fromkeys(example, value)})
        for value in (1e308, {"x": []}, "x" * 3000):
            lines += [{"id": 1, "command": command, **example, field: value} for field in example]
        for name in NAMES[:6]:
            lines.append({"id": 1, "command": command, **({"recipe": name} if "recipe" in example else {})})
            lines.append({"id": 1, "command": command, "recipe": name, "kind": "steady", "seconds": 5, "panel": "x"})
    lines.append({"id": 1, "command": "calibration", "recipe": "whole"})
    return [line for each in lines if len(line := json.dumps(each).encode() + b"\n") <= LINE_LIMIT]


def test_under_light_no_question_opens_a_file_or_takes_long(make_bench: MakeBench, tmp_path: Path) -> None:
    """Every command, odd in every field, at the twin's own socket; the exposure goes on through all of it."""
    bench = make_bench(threaded=True)
    odd_shelf(bench.data / RECIPES)
    bench.daemon.serve(tmp_path / "s")
    bench.light_up(dose_mj_cm2=5000, time_guard_s=30_000)
    caller = Caller(tmp_path / "s")
    longest_s, answered = 0.0, 0
    gc.collect()
    gc.disable()
    try:
        with audited() as opened:
            for line in hostile_lines():
                caller.send(line)
                assert bench.daemon.service is not None
                began_s = time.thread_time()
                bench.daemon.service.poll()
                longest_s = max(longest_s, time.thread_time() - began_s)
                bench.daemon.loop.tick()
                bench.loop.wait()
                answered += len(caller.take())
                caller.received = b""
    finally:
        gc.enable()
    assert opened == []
    assert longest_s < LONGEST_S
    assert answered == len(hostile_lines())
    assert bench.state == "light"
    assert bench.faults == []
    assert bench.any_relay_lights()
    caller.link.close()


def test_the_audit_sees_a_file_that_is_opened() -> None:
    """Else the test above could not fail."""
    with audited() as opened:
        Path(__file__).read_bytes()
        os.listdir("/")
    assert [event for event, _ in opened] == ["open", "os.listdir"]


@pytest.mark.parametrize("command", ["start", "series", "tablet_plan"])
def test_while_an_exposure_is_under_way_that_is_said_before_the_recipe_is_looked_for(
    bench: BenchBox, command: str
) -> None:
    """Also in a pause: whoever asks gets no recipe loaded."""
    bench.light_up()
    error = bench.refused(command, **EXAMPLES[command] | {"recipe": "no such recipe"})
    assert (error.code, error.message) == ("refused", "An exposure is under way.")


def sound(bench: BenchBox, command: str, recipe: str) -> dict[str, Any]:
    """A command in sight of the present state, right but for its recipe."""
    seen = {"state_number": bench.snapshot()["state_number"]} if command == "start" else {}
    return EXAMPLES[command] | {"recipe": recipe} | seen


@pytest.mark.parametrize("name", ["broken", "pipe", "folder", "loop"])
def test_a_file_that_cannot_be_read_is_an_answer_and_no_fault(bench: BenchBox, name: str) -> None:
    """In the dark, where recipes are read; nothing waits for a pipe."""
    odd_shelf(bench.data / RECIPES)
    bench.ready()
    for command in ("start", "tablet_plan"):
        error = bench.refused(command, **sound(bench, command, name))
        assert error.code == "bad_value"
        assert error.field == "recipe"
        assert f"{name}.yaml" in error.message
    assert bench.faults == []


def test_a_shelf_that_cannot_be_read_is_an_answer_and_no_fault(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder without the right to it latched the fault *internal* (review A3)."""
    bench.ready()

    def shut(self: Path) -> Iterator[Path]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", shut)
    for command in ("start", "tablet_plan"):
        error = bench.refused(command, **sound(bench, command, "quick"))
        assert error.code == "refused"
        assert "cannot be read: Permission denied" in error.message
    assert bench.faults == []


def test_a_shelf_that_is_a_file_is_an_answer_and_no_fault(bench: BenchBox) -> None:
    """As a slip of the hand makes it."""
    bench.ready()
    folder = bench.data / RECIPES
    folder.rename(folder.with_name("elsewhere"))
    folder.write_text("")
    assert bench.refused("start", recipe="quick").code == "refused"
    assert bench.faults == []
    assert stat.S_ISREG(folder.stat().st_mode)
