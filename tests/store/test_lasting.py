"""A data folder in RAM or on a read-only disk is found: tables of mounts written as proc(5) describes them.

The first of them is held against this machine's own kernel.
"""

import os
import shutil
from pathlib import Path

import pytest

from sumlight.store.lasting import lasting

CARD = "29 1 179:2 / / rw,noatime shared:1 - ext4 /dev/mmcblk0p2 rw"
TMP = "33 29 0:30 / /tmp rw,nosuid shared:5 - tmpfs tmpfs rw,size=4096k"
OVER = "29 1 0:24 / / rw,relatime shared:1 - overlay overlayroot rw,lowerdir=/media/root-ro,upperdir={},workdir=/w"
UPPER_RAM = "31 29 0:25 / /media/root-rw rw,relatime shared:2 - tmpfs tmpfs-root rw"
UPPER_DISK = "31 29 8:1 / /media/root-rw rw,relatime shared:2 - ext4 /dev/sda1 rw"
STATE = "90 29 0:24 /var/lib/sumlight /var/lib/sumlight rw - overlay overlayroot rw,upperdir=/media/root-rw/overlay"


@pytest.mark.parametrize(
    ("mounts", "found"),
    [
        ([CARD], "lasts"),
        ([], "lasts"),
        ([CARD, TMP], "lasts"),
        ([CARD, TMP.replace("/tmp", "/var/lib")], "in_ram"),
        ([CARD, TMP.replace("/tmp", "/var/lib/sum")], "lasts"),
        ([CARD, TMP.replace("/tmp", "/var/lib/sumlight")], "in_ram"),
        ([CARD, TMP.replace("/tmp", "/var"), CARD.replace(" / / ", " / /var/lib ")], "lasts"),
        ([CARD, "40 29 254:0 / /var rw - ext4 /dev/zram0 rw"], "in_ram"),
        ([CARD.replace("/ rw,noatime", "/ ro,noatime")], "read_only"),
        ([CARD.replace("mmcblk0p2 rw", "mmcblk0p2 ro")], "read_only"),
        ([OVER.format("/media/root-rw/overlay"), UPPER_RAM], "in_ram"),
        ([OVER.format("/media/root-rw/overlay"), UPPER_RAM, STATE], "in_ram"),
        ([OVER.format("/media/root-rw/overlay"), UPPER_DISK, STATE], "lasts"),
        ([OVER.format("/out/of/sight")], "unsure"),
        ([OVER.format("/out/of/sight"), UPPER_DISK.replace("/media/root-rw", "/var/lib/sumlight")], "lasts"),
        (["a line that is none", CARD], "lasts"),
    ],
)
def test_where_a_folder_lies(mounts: list[str], found: str) -> None:
    """The nearest mount decides; a layer is as lasting as the place of what is written to it."""
    assert lasting(Path("/var/lib/sumlight"), "\n".join(mounts)) == found


def test_it_is_this_machines_own_table_that_is_read() -> None:
    """Shared memory is RAM on every Linux; where a machine has none, its table says nothing of it."""
    shared = Path("/dev/shm")
    if "/dev/shm tmpfs" not in Path("/proc/mounts").read_text():
        assert lasting(shared) in ("lasts", "unsure")
        return
    folder = shared / f"sumlight-test-{os.getpid()}"
    folder.mkdir()
    try:
        assert lasting(folder / "not" / "there yet") == "in_ram"
    finally:
        shutil.rmtree(folder)
