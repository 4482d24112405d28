"""A process of its own for one piece of work on artwork: low in priority, bounded, and gone with whoever started it.

`python -m sumlight.artwork.worker FOLDER` reads FOLDER/task.json, says on its standard output what it begins, and
writes FOLDER/answer.json: `{"ok": true, "made": …}`, or `{"ok": false, "told": [messages]}`. Whoever starts it keeps
its standard input open; when that closes, the work ends. What is written half is in FOLDER and nowhere else.
"""

import json
import os
import resource
import sys
import threading
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from sumlight.text.message import Message, messages_of, packed, say

MEMORY_BYTES = 600_000_000
"""Of data: what its libraries set aside and never touch counts, too. An A4 sheet at 1200 dpi stays below 250 MB."""
PROCESSOR_S = 3600
LARGEST_WRITTEN_BYTES = 512_000_000
LEAST_FREE_BYTES = 300_000_000
"""Memory that must be free before it begins."""
LOW = 19


def main(folder: Path) -> int:
    """Do the task of a folder; 0 whether it came out or was refused: the answer says which."""
    bound()
    threading.Thread(target=_gone_with_parent, daemon=True).start()
    task = json.loads((folder / "task.json").read_text(encoding="utf-8"))
    answer = answered(folder, task)
    new = folder / "answer.new"
    new.write_text(json.dumps(packed(answer)), encoding="utf-8")
    new.replace(folder / "answer.json")
    return 0


def bound() -> None:
    """Lower this process as far as it goes, and bound what it may take. The limits are the kernel's."""
    os.nice(LOW)
    for what, most in (
        (resource.RLIMIT_DATA, MEMORY_BYTES),
        (resource.RLIMIT_CPU, PROCESSOR_S),
        (resource.RLIMIT_FSIZE, LARGEST_WRITTEN_BYTES),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))
    with suppress(OSError):  # no Linux: nothing there picks by it
        Path("/proc/self/oom_score_adj").write_text("1000", encoding="ascii")
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = "1"


def _gone_with_parent() -> None:
    """End when nobody holds the other end of standard input any more."""
    while os.read(sys.stdin.fileno(), 1):  # not by `sys.stdin`, whose lock would abort the ordinary end
        pass
    os._exit(3)


def answered(folder: Path, task: dict[str, Any]) -> dict[str, Any]:
    """Carry out a task; what it was refused for is part of the answer."""
    try:
        free = free_bytes()
        if free is not None and free < LEAST_FREE_BYTES:
            raise ValueError(say("art_little_memory", free=free / 1e6, least=LEAST_FREE_BYTES / 1e6))
        return {"ok": True, "made": _done(folder, task)}
    except ImportError as error:
        told: list[Message] = [say("art_extra_missing", missing=str(error.name))]
    except MemoryError:
        told = [say("art_no_memory")]
    except (ValueError, OSError) as error:
        asked = type(error).__name__ == "ScaleNeededError"
        return {"ok": False, "told": messages_of(error), "scale_asked": asked}
    except Exception as error:  # noqa: BLE001 - whatever a library says of a hostile file is its answer
        short_of = "nsufficient memory" in str(error) or "alloc" in str(error)
        told = [say("art_no_memory") if short_of else say("art_gave_up", why=f"{type(error).__name__}: {error}"[:300])]
    return {"ok": False, "told": told, "scale_asked": False}


def free_bytes() -> int | None:
    """Memory that can be had without pushing others out, as the kernel reckons; None where it does not say."""
    try:
        for line in Path("/proc/meminfo").read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    except (OSError, ValueError, IndexError):
        return None
    return None


def _done(folder: Path, task: dict[str, Any]) -> dict[str, Any]:
    import cv2

    cv2.setNumThreads(1)
    from sumlight.artwork import pair
    from sumlight.artwork.reading import Known
    from sumlight.craft.etching.fold import Fold

    known = Known(**task["known"]) if task.get("known") else None
    scan = Path(task["file"])
    if task["kind"] == "look":
        return asdict(pair.look(scan, known, folder))
    if task["kind"] == "compare":
        return asdict(pair.meet(scan, Path(task["reference"]), folder))
    back = Path(task["back"]) if task.get("back") else None
    folds = tuple(Fold(**one) for one in task["asked"].get("folds", ()))
    asked = pair.Asked(**task["asked"] | {"folds": folds})
    return asdict(pair.make(scan, known, asked, folder, _say, back))


def _say(stage: str) -> None:
    sys.stdout.write(stage + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
