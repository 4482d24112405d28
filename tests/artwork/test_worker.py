"""The process that works on artwork: its limits are the kernel's, and every end of it is an answer."""

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from sumlight.artwork import pair, worker
from tests.artwork.scans import crooked_scan

BOUND = "import os, resource; from sumlight.artwork import worker; worker.bound(); "


def test_it_lowers_and_bounds_itself() -> None:
    """Asked of the kernel, in a process of its own."""
    ask = "print(os.getpriority(os.PRIO_PROCESS, 0), *(resource.getrlimit(getattr(resource, 'RLIMIT_' + name))[1] "
    ask += "for name in ('DATA', 'CPU', 'FSIZE', 'CORE')), open('/proc/self/oom_score_adj').read())"
    told = subprocess.run([sys.executable, "-c", BOUND + ask], capture_output=True, text=True, check=True, timeout=120)
    wanted = [19, worker.MEMORY_BYTES, worker.PROCESSOR_S, worker.LARGEST_WRITTEN_BYTES, 0, 1000]
    assert [int(one) for one in told.stdout.split()] == wanted


def test_too_much_memory_is_refused_by_the_kernel() -> None:
    """What would take more than the limit gets a MemoryError instead."""
    take = "\ntry:\n    bytearray(worker.MEMORY_BYTES)\nexcept MemoryError:\n    print('refused')"
    told = subprocess.run([sys.executable, "-c", BOUND + take], capture_output=True, text=True, check=True, timeout=120)
    assert told.stdout == "refused\n"


def test_it_ends_with_whoever_holds_its_input() -> None:
    """A page that is killed leaves no process behind."""
    waits = "import time; from sumlight.artwork import worker; worker._gone_with_parent()"
    process = subprocess.Popen([sys.executable, "-c", waits], stdin=subprocess.PIPE)
    process.communicate(timeout=120)
    assert process.returncode == 3


def test_what_is_refused_is_an_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A broken file, one without scale, a short memory, and whatever a library throws."""
    broken = tmp_path / "scan.png"
    broken.write_bytes(crooked_scan(tmp_path / "whole.png").read_bytes()[:3000])
    task = {"kind": "look", "file": str(broken), "known": None}
    told = worker.answered(tmp_path, task)
    assert (told["ok"], told["told"][0].code) == (False, "art_broken")

    def ends(error: Exception) -> dict[str, object]:
        def look(*_: object) -> pair.Seen:
            raise error

        monkeypatch.setattr(pair, "look", look)
        return worker.answered(tmp_path, task)

    assert [one.code for one in ends(MemoryError())["told"]] == ["art_no_memory"]  # type: ignore[attr-defined]
    assert [one.code for one in ends(RuntimeError("odd"))["told"]] == ["art_gave_up"]  # type: ignore[attr-defined]
    monkeypatch.setattr(worker, "free_bytes", lambda: 100_000_000)
    assert [one.code for one in worker.answered(tmp_path, task)["told"]] == ["art_little_memory"]


def test_a_made_pair_says_what_was_done(tmp_path: Path) -> None:
    """24 × 16 mm with their line's outer edge, upright, the speck closed; a hole of 2 mm is drawn smaller by what k
    and F ask: sqrt(90² - 75²)/2 µm at each edge (Steiner)."""
    scan = crooked_scan(tmp_path / "scan.png", degrees=-2.5)
    asked = {"thickness_um": 150, "factor": 2.0, "speck_um": 150.0, "name": "Invented plate"}
    task = {"kind": "make", "file": str(scan), "known": None, "asked": asked}
    told = worker.answered(tmp_path, task)
    assert told["ok"], told
    made = json.loads(json.dumps(told["made"]))
    assert made["tilt_degrees"] == pytest.approx(-2.5, abs=0.05)
    assert made["seen_mm"] == pytest.approx([26.0, 18.0], abs=0.15)
    assert (made["cropped_to"], made["specks"]) == ("frame", 1)
    assert made["moves_um"] == pytest.approx((90**2 - 75**2) ** 0.5 / 2)
    assert made["metal_mm"] == pytest.approx([46.0, 38.0], abs=0.15)
    # Frame line, slot and holes as drawn, each face grown by R/F - w; corners are worth less than the tolerance.
    line, slot, hole = 24 * 16 - 23 * 15, 2 * 6, 2 * 3.14159
    edge_mm = 2 * (24 + 16) + 2 * (23 + 15) + 16 + 4 * 3.14159
    wanted_cm2 = 2 * (line + slot + hole + edge_mm * (45 - made["moves_um"]) / 1000) / 100
    assert made["open_cm2"] == pytest.approx(wanted_cm2, rel=0.02)
    assert [one["kind"] for one in made["part"]["findings"]] == ["falls_apart"]
    assert made["tabs"] == 0
    assert not (tmp_path / "grey.raw").exists()
    for name in (
        "wanted.png",
        "front.pdf",
        "back.pdf",
        "part.png",
        "part-daylight.png",
        "film-back.png",
    ):
        assert (tmp_path / name).stat().st_size > 100


def test_free_memory_is_read_as_the_kernel_says_it() -> None:
    """More than nothing, and no more than there is."""
    free = worker.free_bytes()
    assert free is not None
    assert 0 < free <= os.sysconf("SC_PHYS_PAGES") * resource.getpagesize()


@pytest.mark.long
def test_a_print_of_its_own_film_meets_it(tmp_path: Path) -> None:
    """Turned by another library; nothing that matters differs."""
    asked = {"thickness_um": 150, "factor": 2.0, "speck_um": 150.0}
    task = {"kind": "make", "file": str(crooked_scan(tmp_path / "scan.png")), "known": None, "asked": asked}
    assert worker.answered(tmp_path, task)["ok"]
    film = Image.open(tmp_path / "front.png")
    film.convert("L").rotate(-1.0, fillcolor=255).save(tmp_path / "printed.png", dpi=film.info["dpi"])
    task = {"kind": "compare", "file": str(tmp_path / "printed.png"), "reference": str(tmp_path / "front.png")}
    told = worker.answered(tmp_path, task)
    assert told["ok"], told
    (lies,) = [one for one in told["made"]["told"] if one.code == "art_lies"]
    assert abs(lies.values["turn"]) == pytest.approx(1.0, abs=0.01)
    assert told["made"]["findings"] == ()
    assert (tmp_path / "compared.png").is_file()
