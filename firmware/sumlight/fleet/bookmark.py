"""How far the collector has a box's records, in a file of the publisher's own. Losing it only repeats."""

import hashlib
import json
import secrets
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from sumlight.fleet.outbox import Outbox, Place
from sumlight.store.files import replace_file

_MACHINE = (Path("/proc/device-tree/serial-number"), Path("/etc/machine-id"))


@dataclass(frozen=True)
class Bookmark:
    """What is on the collector's disk: all up to `seq`, whose change has this `mark`.

    `machine` tells the computer: a copied card in another one begins an epoch of its own.
    """

    epoch: str
    machine: str
    seq: int = 0
    mark: str = ""

    @property
    def place(self) -> Place:
        """The last change that the collector has."""
        return Place(self.seq, self.mark)


def machine_id(files: tuple[Path, ...] = _MACHINE) -> str:
    """A fingerprint of this computer: a Pi's serial number, or else what the system was given; '' where neither is."""
    for file in files:
        try:
            raw = file.read_bytes().strip(b"\0\n ")
        except OSError:
            continue
        if raw:
            return hashlib.sha256(b"sumlight fleet " + raw).hexdigest()[:16]
    return ""


def opened(path: Path, outbox: Outbox, machine: str) -> Bookmark:
    """The bookmark that holds for this logbook on this computer; a new epoch where the one in the file does not."""
    kept = _read(path)
    if kept is not None and kept.machine == machine and outbox.holds(kept.place):
        return kept
    return renewed(path, machine)


def renewed(path: Path, machine: str) -> Bookmark:
    """Begin a new epoch: all records are sent again. What the collector knows by its mark it skips."""
    fresh = Bookmark(secrets.token_hex(8), machine)
    with suppress(OSError):  # without the file, the next start begins another one: that only repeats
        keep(path, fresh)
    return fresh


def at(mark: Bookmark, place: Place) -> Bookmark:
    """The bookmark at another place, which the collector has named."""
    return replace(mark, seq=place.seq, mark=place.mark)


def keep(path: Path, mark: Bookmark) -> None:
    """Put it on the disk as a whole, unless it lies there already. Raises OSError."""
    if _read(path) == mark:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    replace_file(path, json.dumps(asdict(mark)).encode(), mode=0o640)


def _read(path: Path) -> Bookmark | None:
    """What the file says; None for one that is missing or damaged, whose loss only repeats."""
    try:
        given = json.loads(path.read_text(encoding="utf-8"))
        mark = Bookmark(**given)
    except (OSError, ValueError, TypeError, RecursionError):
        return None
    texts = (mark.epoch, mark.machine, mark.mark)
    sound = all(isinstance(text, str) for text in texts) and len(mark.epoch) == 16 and type(mark.seq) is int
    return mark if sound and mark.seq >= 0 else None
