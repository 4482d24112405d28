"""Forked children that run tests: each says which test it is at, and is ended when one takes too long."""

import contextlib
import json
import os
import select
import shutil
import signal
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

BEGIN_LIMIT_S = 120.0
"""For a child that has not begun with its first test."""

Say = Callable[[object], None]


@dataclass(frozen=True)
class Said:
    """What a child said last: where it was, and its last words; None if it died or hung without any."""

    at: int = 0
    words: dict[str, Any] | None = None
    hung: bool = False


def fork(act: Callable[[], object]) -> int:
    """A child that does this and no more; its exit status is what `act` returns."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            found = act()
            status = found if isinstance(found, int) else 0
        finally:
            os._exit(status)
    return child


def status_of(child: int, limit_s: float) -> int:
    """The status of a child, which is ended when it takes too long."""
    handle = os.pidfd_open(child)
    if not select.select([handle], [], [], limit_s)[0]:
        os.kill(child, signal.SIGKILL)
    os.close(handle)
    return os.waitpid(child, 0)[1]


def heard_from(act: Callable[[Say], None], limits_s: Sequence[float]) -> Said:
    """Let a child act, and listen: it says the number of each step before it takes it, and in the end what it found.

    A step that takes longer than its limit ends the child, and whatever it has started.
    """
    heard, say = os.pipe()
    room = tempfile.mkdtemp()

    def run() -> None:
        os.close(heard)
        os.setsid()
        os.environ["PYTEST_DEBUG_TEMPROOT"] = room  # the folders of its tests go with it
        with os.fdopen(say, "w") as out:
            act(lambda words: print(json.dumps(words), file=out, flush=True))

    child = fork(run)
    os.close(say)
    try:
        return _listen(child, heard, limits_s)
    finally:
        for end in (os.killpg, os.kill):
            with contextlib.suppress(ProcessLookupError):
                end(child, signal.SIGKILL)  # and whatever a test that failed has left
        os.waitpid(child, 0)
        os.close(heard)
        shutil.rmtree(room, ignore_errors=True)


def _listen(child: int, heard: int, limits_s: Sequence[float]) -> Said:
    ended = os.pidfd_open(child)  # a pipe may be held open by what the child has left
    text, at, until_s = b"", 0, time.monotonic() + BEGIN_LIMIT_S
    try:
        while True:
            ready = select.select([heard, ended], [], [], max(0.0, until_s - time.monotonic()))[0]
            if not ready:
                return Said(at, hung=True)
            piece = os.read(heard, 65536) if heard in ready else b""
            if not piece:
                return Said(at)
            text += piece
            *lines, text = text.split(b"\n")
            for line in lines:
                words = json.loads(line)
                if isinstance(words, dict):
                    return Said(at, words)
                at, until_s = words, time.monotonic() + limits_s[words]
    finally:
        os.close(ended)
