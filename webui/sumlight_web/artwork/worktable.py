"""The worktable of Artwork: takes one file in pieces, and has one process at a time work on it, in the dark only.

Nothing here looks into a picture: `sumlight.artwork.worker` does, in a process of its own with limits of its own, and
its answer is a file. A process that was killed, ran too long or said nothing has given an answer, too.

`scan/` holds the file, `look/` and `make/` what was made of it; one thread attends to the process that runs.
"""

import json
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import IO, Any

from sumlight.protocol.snapshot import UNDER_LIGHT
from sumlight.store.files import replace_file
from sumlight.text.message import Message, packed, say, unpacked
from sumlight_web.artwork.bench import Bench
from sumlight_web.link import SnapshotWatch

LARGEST_BYTES = 512_000_000
PIECE_BYTES = 60 * 1024
"""Below what any request here may have."""
ROOM_BYTES = 300_000_000
"""Beside the file itself: what the work lays down, and what control must be able to write on."""
TIME_LIMIT_S = 1800.0
"""Of a whole piece of work, without the time that it waited for lamps."""
LOOK_EVERY_S = 0.2
WITH = {"front": "front.png", "back": "back.png", "panel": "drawn.png", "part": "wanted.png"}
"""What a second file may be compared with, and the picture that was made of it."""
FILMS = ("front", "back")
"""Those of them that are films: together they tell how front and back meet."""
BACK = ("through", "behind")
"""A second file may also be the back's own artwork: drawn as seen through from the front, or from behind."""
WORKER = "sumlight.artwork.worker"
LIBRARIES = ("numpy", "cv2", "PIL", "pypdfium2", "resvg_py")
_ODD = re.compile(r"[^A-Za-z0-9._-]+")


class DeskError(ValueError):
    """What was asked for is not done now; its first argument says why. `status` is that of the answer."""

    def __init__(self, told: Message, status: int = 409) -> None:
        super().__init__(told)
        self.message = told
        self.status = status


@dataclass(frozen=True)
class Standing:
    """Where the work stands: empty, arriving, working (`kind` is look, make or compare), asked or made; what was said.

    `seen` and `made` are the answers of the process, `asked` and `known` its tasks; `waits`: for lamps to go off.
    `back` is the name of the back's own artwork, empty where it has none; `sides` is how each film
    met its drawing last.
    """

    phase: str
    kind: str = ""
    stage: str = ""
    waits: bool = False
    name: str = ""
    arrived_share: float = 0.0
    told: tuple[Message, ...] = ()
    scale_asked: bool = False
    seen: dict[str, Any] = field(default_factory=dict)
    made: dict[str, Any] = field(default_factory=dict)
    compared: dict[str, Any] = field(default_factory=dict)
    asked: dict[str, Any] = field(default_factory=dict)
    known: dict[str, Any] = field(default_factory=dict)
    back: str = ""
    sides: dict[str, dict[str, Any]] = field(default_factory=dict)


@dataclass
class _Arrival:
    """A file on its way in."""

    name: str
    size: int
    path: Path
    compare_with: str = ""
    got: int = 0


@dataclass
class _Run:
    """A process at work."""

    kind: str
    process: subprocess.Popen[bytes]
    folder: Path
    waits: bool = False
    stopped: bool = False


def missing_libraries() -> list[str]:
    """What of the extra `artwork` is not installed here. Looked for by name; nothing is imported."""
    return [name for name in LIBRARIES if find_spec(name) is None]


class ArtworkDesk:
    """One file, one process. Any thread may ask; a lock keeps order, and what takes long is done outside of it."""

    def __init__(self, folder: Path, watch: SnapshotWatch) -> None:
        self._folder = folder
        self._watch = watch
        self.bench = Bench(folder.with_name("compared.json"))
        self._lock = threading.Lock()
        self._arrival: _Arrival | None = None
        self._run: _Run | None = None
        self._told: tuple[Message, ...] = ()

    # What comes in.

    def begin(self, name: str, size: int, compare_with: str = "") -> None:
        """Make ready for a file; an earlier one goes. With one of WITH it is only compared with what was made;
        with one of BACK it is the back's artwork.

        Raises DeskError.
        """
        missing = missing_libraries()
        if missing:
            raise DeskError(say("art_extra_missing", missing=", ".join(missing)), 501)
        if not 0 < size <= LARGEST_BYTES:
            raise DeskError(say("art_file_large", mb=size / 1e6, most=LARGEST_BYTES / 1e6), 413)
        self._refuse_light()
        with self._lock:
            self._refuse_busy()
            if compare_with in BACK:
                if self.scan_path() is None:
                    raise DeskError(say("art_no_file"))
                self._drop("arriving", *BACK)
            elif compare_with:
                if compare_with not in WITH or not (self._folder / "make" / WITH[compare_with]).is_file():
                    raise DeskError(say("art_no_file"))
                self._keep_side()
                self._drop("arriving", "second", "compare")
            else:
                self._clear()
            place = self._folder / "arriving"  # what is there only in part is no file yet, also after a power cut
            place.mkdir(mode=0o700, parents=True)
            self._refuse_without_room(size)
            self._arrival = _Arrival(name, size, place / safe_name(name), compare_with)

    def put(self, at: int, piece: bytes) -> bool:
        """Take a piece that begins at byte `at`; True when the file is whole. Raises DeskError."""
        with self._lock:
            arrival = self._arrival
            if arrival is None or at != arrival.got or not piece or at + len(piece) > arrival.size:
                raise DeskError(say("art_piece_missing"))
            try:
                with arrival.path.open("ab" if at else "wb") as file:
                    file.write(piece)
            except OSError as error:
                raise DeskError(say("art_not_kept", why=error.strerror or str(error)), 507) from error
            arrival.got += len(piece)
            if arrival.got < arrival.size:
                return False
            goes_to = (
                arrival.compare_with if arrival.compare_with in BACK else "second" if arrival.compare_with else "scan"
            )
            arrival.path.parent.replace(self._folder / goes_to)
            self._arrival = None
        if arrival.compare_with in BACK:
            return True  # it is read when the films are made
        if arrival.compare_with:
            reference = self._folder / "make" / WITH[arrival.compare_with]
            self.work("compare", {"with": arrival.compare_with, "reference": str(reference)})
        else:
            self.work("look", {"known": None})
        return True

    def back(self) -> tuple[Path, str] | None:
        """The back's own artwork, and which of BACK it is; None without one."""
        found = ((self.scan_path(seen), seen) for seen in BACK)
        return next(((path, seen) for path, seen in found if path is not None), None)

    def leave_back(self) -> None:
        """Do without the back's own artwork. Raises DeskError while it is worked on."""
        with self._lock:
            self._refuse_busy()
            self._drop(*BACK)

    def forget(self) -> None:
        """Throw the file and all that was made of it away. Raises DeskError while it is worked on."""
        with self._lock:
            self._refuse_busy()
            self._clear()

    def _keep_side(self) -> None:
        """Keep how a film met its drawing, before the next comparison takes its place."""
        for side, met in self._sides().items():
            (self._folder / "met").mkdir(mode=0o700, exist_ok=True)
            replace_file(self._folder / "met" / f"{side}.json", json.dumps(packed(met)).encode(), mode=0o600)

    def _sides(self) -> dict[str, dict[str, Any]]:
        """How each film met its drawing last."""
        found = {side: _read(self._folder / "met" / f"{side}.json") for side in FILMS}
        last, side = _answer(self._folder / "compare"), _read(self._folder / "compare" / "task.json").get("with")
        if last.get("ok") and side in FILMS:
            found[side] = last["made"]
        return {side: met for side, met in found.items() if met}

    def _drop(self, *names: str) -> None:
        for name in names:
            shutil.rmtree(self._folder / name, ignore_errors=True)

    def _clear(self) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)
        self._arrival = None
        self._told = ()

    def _refuse_without_room(self, size: int) -> None:
        free = shutil.disk_usage(self._folder).free
        if free < size + ROOM_BYTES:
            raise DeskError(say("art_no_room", free=free / 1e6, least=(size + ROOM_BYTES) / 1e6), 507)

    def _refuse_light(self) -> None:
        if self._lit():
            raise DeskError(say("art_light_on"))

    def _refuse_busy(self) -> None:
        if self._run is not None:
            raise DeskError(say("art_busy"))

    def _lit(self) -> bool:
        """Whether lamps burn, are about to, or nobody knows."""
        latest = self._watch.latest()
        if latest.snapshot is None or not latest.live:
            return True
        return latest.snapshot["state"] in UNDER_LIGHT or any(bank["commanded"] for bank in latest.snapshot["banks"])

    # What is done with it.

    def scan_path(self, place: str = "scan") -> Path | None:
        """The file, or the `second` one, if it is here whole."""
        found = sorted((self._folder / place).glob("*"))
        return found[0] if found else None

    def work(self, kind: str, task: dict[str, Any]) -> None:
        """Begin to look, make or compare; returns at once. Raises DeskError."""
        self._refuse_light()
        with self._lock:
            self._refuse_busy()
            scan = self.scan_path("second" if kind == "compare" else "scan")
            if scan is None:
                raise DeskError(say("art_no_file"))
            self._refuse_without_room(0)
            place = self._folder / kind
            made = ("make", "compare", "met")
            after = {"look": ("look", *made), "make": made, "compare": ("compare",)}
            self._drop(*after[kind])
            place.mkdir(mode=0o700, parents=True)
            given = task | {"kind": kind, "file": str(scan)}
            replace_file(place / "task.json", json.dumps(packed(given)).encode(), mode=0o600)
            self._told = ()
            with (place / "stage").open("wb") as said:
                run = _Run(kind, self._started(place, said), place)
            self._run = run
        threading.Thread(target=self._attend, args=(run,), name="artwork", daemon=True).start()

    def _started(self, place: Path, said: IO[bytes]) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", WORKER, str(place)]
        # Its standard input stays open as long as this process lives, and ends the work when it closes.
        return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=said, stderr=subprocess.DEVNULL)  # noqa: S603

    def stop(self) -> None:
        """End what is being done; nothing if nothing is."""
        with self._lock:
            run = self._run
            if run is not None:
                run.stopped = True
                run.process.kill()

    def _attend(self, run: _Run) -> None:
        """Hold the process while lamps burn, end it when it takes too long, and take its answer."""
        used_s, at_s = 0.0, time.monotonic()
        told: list[Message] = []
        while run.process.poll() is None:
            now_s = time.monotonic()
            used_s, at_s = used_s + (0.0 if run.waits else now_s - at_s), now_s
            if self._watch.closing or used_s > TIME_LIMIT_S:
                run.process.kill()
                told = [say("art_time_up", minutes=TIME_LIMIT_S / 60)]
                break
            lit = self._lit()
            if lit != run.waits:
                run.waits = lit
                run.process.send_signal(signal.SIGSTOP if lit else signal.SIGCONT)
            try:
                run.process.wait(LOOK_EVERY_S)
            except subprocess.TimeoutExpired:
                continue
        code = run.process.wait()
        if run.process.stdin is not None:
            run.process.stdin.close()
        with self._lock:
            self._run = None
            self._told = tuple(told or self._ended(run, code))

    def _ended(self, run: _Run, code: int) -> list[Message]:
        """What is to be said of a process that ended without an answer that is one."""
        if run.stopped:
            return [say("art_stopped")]
        if code < 0:
            return [say("art_killed", signal=-code)]
        if not _answer(run.folder):
            return [say("art_no_answer", code=code)]
        return []

    # What is to be seen.

    def standing(self) -> Standing:
        """How it stands now."""
        with self._lock:
            run, arrival, told = self._run, self._arrival, self._told
        if arrival is not None:
            return Standing("arriving", name=arrival.name, arrived_share=arrival.got / arrival.size, told=told)
        scan = self.scan_path()
        if scan is None:
            return Standing("empty", told=told)
        if run is not None:
            return Standing("working", run.kind, _last_stage(run.folder), run.waits, scan.name)
        look, make = (_answer(self._folder / kind) for kind in ("look", "make"))
        own = self.back()
        back = own[0].name if own is not None else ""
        known = _read(self._folder / "look" / "task.json").get("known") or {}
        asked = _read(self._folder / "make" / "task.json")
        seen = look.get("made", {}) if look.get("ok") else {}
        if make.get("ok"):
            compare = _answer(self._folder / "compare")
            compared = compare.get("made", {}) | _read(self._folder / "compare" / "task.json")
            compared["at"] = _written_ns(self._folder / "compare" / "answer.json")
            told = told or tuple(compare.get("told", ()))
            return Standing(
                "made",
                name=scan.name,
                told=told,
                seen=seen,
                made=make["made"],
                compared=compared if compare.get("ok") else {},
                asked=asked,
                known=known,
                back=back,
                sides=self._sides(),
            )
        refused = make or look
        told = told or tuple(refused.get("told", ())) or (() if refused else (say("art_interrupted"),))
        scale_asked = bool(look.get("scale_asked"))
        return Standing(
            "asked",
            name=scan.name,
            told=told,
            scale_asked=scale_asked,
            seen=seen,
            asked=asked,
            known=known,
            back=back,
        )

    def file(self, kind: str, name: str) -> Path | None:
        """A file that was made, by its plain name."""
        place = self._folder / kind / name
        shown = place.suffix in (".png", ".pdf", ".svg") and safe_name(name) == name
        return place if kind in ("look", "make", "compare") and shown and place.is_file() else None


def safe_name(name: str) -> str:
    """The last part of a name, without what a shell or a folder could take amiss."""
    plain = _ODD.sub("_", name.replace("\\", "/").rpartition("/")[2]).lstrip(".")
    return plain[-60:] or "artwork"


def _last_stage(folder: Path) -> str:
    """What the process said last; the page has words for what it knows of it."""
    try:
        said = (folder / "stage").read_text(encoding="ascii", errors="replace").split()
    except OSError:
        return ""
    return said[-1] if said else ""


def _answer(folder: Path) -> dict[str, Any]:
    return _read(folder / "answer.json")


def _written_ns(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _read(path: Path) -> dict[str, Any]:
    """What a file of the worker's says; nothing if it is not there or is no JSON."""
    try:
        found = unpacked(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}
