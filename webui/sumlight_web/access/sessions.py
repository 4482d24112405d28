"""Sessions, kept on the server: what a browser holds is a random token, and here stands whose it is and how long still.

The file has only hashes of the tokens, so that reading it lets nobody in. Time is the wall clock's, for it goes on
while the box is switched off.
"""

import hashlib
import json
import logging
import secrets
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from sumlight.store.operators import SESSIONS_FILE, OperatorsError, locked, mark_of, write_private

log = logging.getLogger(__name__)

DAY_S = 24 * 3600.0
UNUSED_LIMIT_S = 14 * DAY_S
LIFE_LIMIT_S = 90 * DAY_S

NOTE_USE_EVERY_S = 3600.0
"""That a session is used is written down so often, to spare the card."""

MOST_SESSIONS = 100
LONGEST_TOKEN = 100
MOST_BYTES = 256 * 1024


@dataclass(frozen=True)
class Session:
    """One browser that logged in. `epoch` is that of the operators' file; times are seconds since 1970."""

    token_sha256: str
    operator: str
    epoch: str
    began_s: float
    used_s: float


class SessionKeeper:
    """Keeps the sessions of one access folder. Safe to use from any thread."""

    def __init__(self, folder: Path, now_s: Callable[[], float] = time.time) -> None:
        self._folder = folder
        self._path = folder / SESSIONS_FILE
        self._now_s = now_s
        self._lock = threading.Lock()
        self._seen: tuple[tuple[int, int, int] | None, dict[str, Session]] = (None, {})

    def begin(self, operator: str, epoch: str, instead_of: str = "") -> str:
        """Begin a session, which ends that of the token `instead_of`. On a full disk it lasts until the page ends.

        Returns its token.
        """
        token, now_s = secrets.token_urlsafe(32), self._now_s()
        new, old = Session(_hash(token), operator, epoch, now_s, now_s), _hash(instead_of)
        with self._lock:
            try:
                with locked(self._folder):
                    others = [s for s in self._sessions() if s.epoch == epoch and s.token_sha256 != old]
                    self._write([*others, new])
            except OperatorsError as error:
                log.warning("a session cannot be kept over a restart: %s", error)
                self._seen[1].pop(old, None)
                self._seen[1][new.token_sha256] = new
        return token

    def find(self, token: str) -> Session | None:
        """The session of a token, if it is not over; takes note that it was used."""
        if not token:
            return None
        with self._lock:
            found = self._find(_hash(token))
            if found is not None and not 0 <= self._now_s() - found.used_s <= NOTE_USE_EVERY_S:
                found = self._note_use(found)
        return found

    def _find(self, key: str) -> Session | None:
        try:
            self._look()
        except OperatorsError:
            return None
        found = self._seen[1].get(key)
        return found if found is not None and _goes_on(found, self._now_s()) else None

    def _note_use(self, session: Session) -> Session | None:
        used = replace(session, used_s=self._now_s())
        try:
            with locked(self._folder):
                others = [s for s in self._sessions() if s.token_sha256 != session.token_sha256]
                if self._find(session.token_sha256) is None:
                    return None
                self._write([*others, used])
        except OperatorsError:
            self._seen[1][session.token_sha256] = used
        return used

    def end(self, token: str) -> None:
        """End one session, so that a copy of its cookie is worth nothing. Raises OperatorsError if it may revive."""
        key = _hash(token)
        with self._lock:
            self._look()
            if key not in self._seen[1]:
                return
            self._seen[1].pop(key)
            with locked(self._folder):
                self._write(s for s in self._sessions() if s.token_sha256 != key)

    def _look(self) -> None:
        mark = mark_of(self._path)
        if mark != self._seen[0]:
            self._seen = (mark, {} if mark is None else _read(self._path))

    def _sessions(self) -> list[Session]:
        self._look()
        now_s = self._now_s()
        return [session for session in self._seen[1].values() if _goes_on(session, now_s)]

    def _write(self, sessions: Iterable[Session]) -> None:
        kept = sorted(sessions, key=lambda session: session.used_s)[-MOST_SESSIONS:]
        write_private(self._path, json.dumps({"sessions": [asdict(s) for s in kept]}, indent=1) + "\n")
        self._seen = (mark_of(self._path), {s.token_sha256: s for s in kept})


def _goes_on(session: Session, now_s: float) -> bool:
    """Whether it is not over. One begun in the future, before the clock was put right, has no age and is over."""
    return -DAY_S <= now_s - session.began_s <= LIFE_LIMIT_S and now_s - session.used_s <= UNUSED_LIMIT_S


def _hash(token: str) -> str:
    return hashlib.sha256(token[:LONGEST_TOKEN].encode("utf-8", "replace")).hexdigest()


def _read(path: Path) -> dict[str, Session]:
    """All sessions of a file. A damaged one has none: everybody logs in again."""
    try:
        with path.open("rb") as file:
            body = json.loads(file.read(MOST_BYTES))
        sessions = [
            Session(
                str(each["token_sha256"]),
                str(each["operator"]),
                str(each["epoch"]),
                float(each["began_s"]),
                float(each["used_s"]),
            )
            for each in body["sessions"]
        ]
    except (OSError, ValueError, KeyError, TypeError, RecursionError, OverflowError) as error:
        log.warning("%s cannot be read, so nobody is logged in: %s", path.name, error)
        return {}
    return {session.token_sha256: session for session in sessions}
