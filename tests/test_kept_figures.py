"""The table of figures that is kept: a run replaces its own rows only, and nothing in it names a machine."""

import getpass
import json
import socket
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from tests.benchmarks import __main__ as benchmarks
from tests.benchmarks import busy, keeping, reference
from tests.benchmarks.figure import Figure
from tests.benchmarks.keeping import Row, as_text, from_text, keep, merged, rows_of

ORDER = ["dose", "twin", "kills"]
DAY = date(2026, 11, 25)
GOOD = Figure("dose: worst", 0.21, "%", "at most", 0.3)
BAD = Figure("twin: speed", 150.0, "x", "at least", 200)
TOLD = Figure("twin: fixed minutes", 31.4159, "%", "for comparison")


def test_a_row_says_goal_figure_result_day_and_machine() -> None:
    """A missed goal is kept as missed; a figure without a goal neither passes nor fails."""
    rows = rows_of("twin", [GOOD, BAD, TOLD], DAY, "a machine")
    assert rows[0] == Row("twin", "dose: worst", "0.21 %", "at most 0.3 %", "pass", "2026-11-25", "a machine")
    assert (rows[1].figure, rows[1].result) == ("speed", "**FAIL**")
    assert (rows[2].measured, rows[2].goal, rows[2].result) == ("31.42 %", "for comparison", "–")


@pytest.mark.parametrize("measured", [5.0, 50.0])
def test_a_deadline_on_a_busy_machine_neither_passes_nor_fails(measured: float) -> None:
    """Not even when it was met; it changes no exit status, and `--json` says null."""
    figure = Figure("latency: lid", measured, "ms", "at most", 7, judged=False)
    assert figure.result == "not judged"
    assert figure.passed
    assert figure.as_json()["pass"] is None
    assert rows_of("latency", [figure], DAY, "a machine")[0].result == "not judged"


def test_work_of_others_is_seen_and_our_own_is_not() -> None:
    """Half a second of our own, then of a program that is no child of ours."""
    others = busy.Others()
    began = busy._own_s()
    while busy._own_s() - began < 0.5:
        sum(range(10_000))
    _, working, own = (now - then for now, then in zip(others._now(), others._began, strict=True))
    assert own == pytest.approx(0.5, abs=0.2)
    before = others.share()
    stranger = "import os, time\nif os.fork(): os._exit(0)\nos.setsid()\nend = time.process_time() + 1.0\n"
    subprocess.run([sys.executable, "-c", stranger + "while time.process_time() < end: pass"], check=True)
    foreign_s, until_s = 0.0, time.monotonic() + 60
    while foreign_s <= 0.5 and time.monotonic() < until_s:
        time.sleep(0.1)
        later = others._now()
        foreign_s = (later[1] - others._began[1] - working) - (later[2] - others._began[2] - own)
    assert foreign_s > 0.5
    assert 0.0 <= before <= 1.0


def test_a_run_replaces_the_rows_of_its_own_benchmarks() -> None:
    """All of them, also those it does not give any more; others stay with their day and machine; the order is ours."""
    old = rows_of("kills", [GOOD], DAY, "one") + rows_of("twin", [BAD, TOLD], DAY, "one")
    new = rows_of("twin", [TOLD], date(2026, 12, 1), "two") + rows_of("dose", [GOOD], date(2026, 12, 1), "two")
    found = merged(old, new, ORDER)
    assert [(row.benchmark, row.day, row.machine) for row in found] == [
        ("dose", "2026-12-01", "two"),
        ("twin", "2026-12-01", "two"),
        ("kills", "2026-11-25", "one"),
    ]
    assert merged(found, [], ["dose"]) == found[:1]


def test_what_was_written_is_read_again() -> None:
    """Machines in words below the table; a bar in a name does not break a row."""
    odd = Figure("dose: a|b", 1.0, "", "for comparison")
    rows = rows_of("dose", [GOOD, odd], DAY, "one, two") + rows_of("twin", [BAD], DAY, "three")
    text = as_text(rows)
    assert from_text(text) == [*rows[:1], Row(**{**vars(rows[1]), "figure": "a/b"}), rows[2]]
    assert "| twin | speed | 150 x | at least 200 x | **FAIL** | 2026-11-25 | 2 |" in text
    assert "Machine 2: three" in text
    for broken in ("", text.replace("| 2 |", "| 7 |"), text.replace("| 2026-11-25 | 2 |", "| 2 |")):
        with pytest.raises(ValueError, match="table"):
            from_text(broken)


def test_keeping_goes_on_from_the_file_and_leaves_one_it_cannot_read(tmp_path: Path) -> None:
    """Benchmark by benchmark."""
    path = tmp_path / "LAST.md"
    keep({"twin": [BAD]}, ORDER, path)
    keep({"dose": [GOOD]}, ORDER, path)
    assert [row.benchmark for row in from_text(path.read_text())] == ["dose", "twin"]
    path.write_text("by hand")
    with pytest.raises(ValueError, match="table"):
        keep({"dose": [GOOD]}, ORDER, path)
    assert path.read_text() == "by hand"
    assert [file.name for file in tmp_path.iterdir()] == ["LAST.md"]


def test_the_option_keeps_full_runs_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each as soon as it is through, so that a later one that breaks takes nothing away."""
    path = tmp_path / "LAST.md"
    monkeypatch.setattr(keeping.keep, "__defaults__", (path,))

    def break_down(quick: bool) -> list[Figure]:
        raise RuntimeError

    monkeypatch.setattr(benchmarks, "BENCHMARKS", {"dose": lambda quick: [GOOD], "twin": break_down})
    with pytest.raises(SystemExit):
        benchmarks.main(["dose", "--quick", "--keep"])
    assert "full runs" in capsys.readouterr().err
    with pytest.raises(RuntimeError):
        benchmarks.main(["--keep"])
    assert [row.figure for row in from_text(path.read_text())] == ["worst"]
    path.unlink()
    assert benchmarks.main(["dose"]) == 0
    assert not path.exists()


def test_the_machine_is_told_in_general_words() -> None:
    """Cores, memory, class of processor, versions; no name of the machine or of anybody on it, no path."""
    told = keeping.machine()
    assert "core" in told
    assert "GB of memory" in told
    assert "Python 3." in told
    for name in (socket.gethostname(), getpass.getuser(), "/", "\n"):
        assert name not in told


def test_the_kept_table_can_be_read_and_has_full_rows_only() -> None:
    """As it stands in the repository."""
    rows = from_text(keeping.PATH.read_text(encoding="utf-8"))
    assert {row.benchmark for row in rows} <= set(benchmarks.BENCHMARKS)
    assert all(row.result in ("pass", "–", "**FAIL**") for row in rows)


@pytest.mark.long
def test_json_is_all_that_stands_on_standard_output(tmp_path: Path) -> None:
    """Whatever the benchmark or a child of it prints; it was broken by a page that told its address."""
    program = (
        "import subprocess, sys\n"
        "from tests.benchmarks import __main__ as benchmarks\n"
        "from tests.benchmarks.figure import Figure\n"
        "def loud(quick):\n"
        "    print('aside')\n"
        "    subprocess.run([sys.executable, '-c', 'print(\"Page at …\")'], check=True)\n"
        "    return [Figure('loud: one', 1.0, '', 'for comparison')]\n"
        "benchmarks.BENCHMARKS = {'loud': loud}\n"
        "sys.exit(benchmarks.main(['loud', '--json']))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout)["figures"][0]["name"] == "loud: one"
    assert "aside" in done.stderr
    assert "Page at" in done.stderr


def test_a_ratio_is_the_median_of_five_beside_the_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that is slow for one piece does not decide; the spread is told."""
    seconds = iter([0.5, 1.0, 1.0, 1.0, 4.0])
    monkeypatch.setattr(reference, "reference_cpu_s", lambda: next(seconds))
    ratios = reference.beside(lambda piece: 10.0 + piece, lambda measured, reference_s: measured / reference_s)
    assert ratios == [20.0, 11.0, 12.0, 13.0, 3.5]
    rows = reference.judged("twin: speed", ratios, "s", "at least", 12.5)
    assert [row.measured for row in rows] == [12.0, 3.5, 20.0]
    assert [row.passed for row in rows] == [False, True, True]


def test_the_loop_takes_cpu_time_of_its_own() -> None:
    """Ten million additions are no less than a few hundredths of a second anywhere, and time asleep is not counted."""
    assert 0.05 < reference.reference_cpu_s() < 30
