"""Whether what is written to a folder outlasts the next start of the computer, by the kernel's table of mounts."""

import os
from pathlib import Path
from typing import Literal, NamedTuple

MOUNTS = Path("/proc/self/mountinfo")

Lasting = Literal["lasts", "read_only", "in_ram", "unsure"]

_IN_RAM = ("tmpfs", "ramfs")
_RAM_DEVICES = ("/dev/zram", "/dev/ram")


class _Mount(NamedTuple):
    place: str
    options: frozenset[str]
    kind: str
    source: str
    upper: str


def lasting(folder: Path, mounts: str | None = None) -> Lasting:
    """What becomes of a file in `folder`; `unsure` for a layer whose own place cannot be seen.

    `mounts` is the table, as proc(5) describes `/proc/pid/mountinfo`; without one, and where there is none, it lasts.
    """
    if mounts is None:
        try:
            mounts = MOUNTS.read_text(encoding="utf-8", errors="replace")
        except OSError:
            return "lasts"
    known = [mount for line in mounts.splitlines() if (mount := _mount(line)) is not None]
    return _of(os.path.realpath(folder), known, layers=8)


def _of(path: str, known: list[_Mount], *, layers: int) -> Lasting:
    mount = None
    for each in known:  # of two at one place the later one hides the other
        if _holds(each.place, path) and (mount is None or len(each.place) >= len(mount.place)):
            mount = each
    if mount is None:
        return "lasts"
    if "ro" in mount.options:
        return "read_only"
    if mount.kind in _IN_RAM or mount.source.startswith(_RAM_DEVICES):
        return "in_ram"
    if mount.kind != "overlay":
        return "lasts"
    below = [each for each in known if each.kind != "overlay"]
    if not layers or not any(_holds(each.place, mount.upper) for each in below if each.place != "/"):
        return "unsure"
    return _of(mount.upper, below, layers=layers - 1)


def _holds(place: str, path: str) -> bool:
    return place == "/" or path == place or path.startswith(f"{place}/")


def _mount(line: str) -> _Mount | None:
    """One line: id, parent, device, root, place, options, any number of tags, a dash, kind, source, more options."""
    left, dash, right = line.partition(" - ")
    words, rest = left.split(), right.split()
    if not dash or len(words) < 6 or len(rest) < 3:
        return None
    more = rest[2].split(",")
    upper = next((option.removeprefix("upperdir=") for option in more if option.startswith("upperdir=")), "")
    place = words[4].replace("\\040", " ")
    return _Mount(place, frozenset((*words[5].split(","), *more)), rest[0], rest[1], upper)
