"""What a box writes to its card: sectors and flushes of an ext4 file system on a loop device, at rest and in light.

Needs root, for the loop device. Counted by the kernel (its Documentation/ABI/stable/sysfs-block, `stat`), with
everything of ours on that file system; what the journal of ext4 writes on its own is in it.
"""

import os
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sumlight.protocol.client import ControlClient
from sumlight.store.logbook.writer import GATHER_S
from tests.benchmarks.figure import Figure
from tests.pressing import press
from tests.running import RunningTwin

SECTOR_BYTES = 512
CARD_MB = 256
SETTLE_S = 4.0
LIGHT_WITHIN_S = 60.0
REST_S, QUICK_REST_S = 60.0, 8.0
LIT_S, QUICK_LIT_S = 60.0, 15.0


def measure(quick: bool) -> list[Figure]:
    """Nothing where there is no loop device to be had."""
    if os.geteuid() != 0:
        print("card: needs root for a loop device; not measured")
        return []
    with tempfile.TemporaryDirectory(prefix="sumlight-card-") as folder, card(Path(folder)) as (mounted, device):
        (mounted / "recipes").mkdir()
        (mounted / "recipes" / "long.yaml").write_text(LONG)
        with RunningTwin(mounted, speed=1.0) as twin, ControlClient(twin.socket) as client:
            twin.wait_until_ready(client)
            time.sleep(SETTLE_S)
            rest = _written(mounted, device, QUICK_REST_S if quick else REST_S)
            press(client, "start", recipe="long", panel="card")
            until_s = time.monotonic() + LIGHT_WITHIN_S
            while client.ask("state")["state"] != "light":
                if time.monotonic() > until_s:
                    raise RuntimeError(f"no light within {LIGHT_WITHIN_S:g} s: nothing to measure")
                time.sleep(0.2)
            time.sleep(SETTLE_S)
            lit = _written(mounted, device, QUICK_LIT_S if quick else LIT_S)
            if (state := client.ask("state")["state"]) != "light":
                raise RuntimeError(f"the panel was to be under light while the card was looked at, and is '{state}'")
    return [
        Figure("card: written at rest", rest[0], "MB/h", "at most", 0.1),
        Figure("card: written in light", lit[0], "MB/h", "at most", 60),
        Figure("card: flushes in light", lit[1], "1/s", "at most", MOST_FLUSHES_HZ),
    ]


MOST_FLUSHES_HZ = 1 / GATHER_S + 2 / 5 + 0.1
"""One sync for the states of each 0.8 s, the two with which ext4 ends its own journal every 5 s (its default, `commit=`
in the kernel's Documentation/filesystems/ext4), and now and then one of another record."""

LONG = """resist: Thick film (invented)
thickness_um: 50
sides: one
dose_mj_cm2: 2000
transmission: {a: 0.85, b: 0.85}
time_guard_s: 1200
hold_s: 0
interruptions: {forgiven: 2, longest_gap_s: 60}
"""


@contextmanager
def card(folder: Path) -> Iterator[tuple[Path, str]]:
    """An empty ext4 file system: where it is mounted, and the name of its device."""
    image, mounted = folder / "card.img", folder / "card"
    mounted.mkdir()
    with image.open("wb") as file:
        file.truncate(CARD_MB * 1_000_000)
    whole = "lazy_itable_init=0,lazy_journal_init=0"  # else the kernel goes on making it while we count
    _do("mkfs.ext4", "-q", "-E", whole, str(image))
    device = _do("losetup", "--find", "--show", str(image)).strip()
    try:
        _do("mount", device, str(mounted))
        try:
            yield mounted, Path(device).name
        finally:
            _do("umount", str(mounted))
    finally:
        _do("losetup", "--detach", device)


def _written(mounted: Path, device: str, span_s: float) -> tuple[float, float]:
    """MB an hour and flushes a second over a while; what is still in memory at its ends is written out first."""
    _do("sync", "--file-system", str(mounted))
    before, before_s = _counted(device), time.monotonic()
    time.sleep(span_s)
    syncs = _counted(device)[1] - before[1]
    _do("sync", "--file-system", str(mounted))
    after_s = time.monotonic() - before_s
    return (_counted(device)[0] - before[0]) * SECTOR_BYTES * 3600 / after_s / 1e6, syncs / after_s


def _counted(device: str) -> tuple[int, int]:
    """Sectors written, and requests to flush, since the device is there."""
    fields = Path(f"/sys/block/{device}/stat").read_text().split()
    return int(fields[6]), int(fields[15])


def _do(*words: str) -> str:
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout
