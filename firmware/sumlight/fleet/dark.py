"""*Dark* over the network: the one thing that may come from there, and it only ends light.

It is off until box.yaml names a key. It is obeyed when it is signed with that key, for this box, not retained, with a
life of at most 5 s that is not over, and seen for the first time.
It is no emergency stop: a network may be slow or gone.
"""

import hashlib
import hmac
import json
import logging
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sumlight.fleet.messages import DarkOrder, FleetMessageError, read
from sumlight.fleet.wire import Incoming, WireError
from sumlight.store.logbook.database import utc_text

log = logging.getLogger(__name__)

LIFE_S = 5
"""So long an order lives."""
AHEAD_S = 1.0
"""The sender's clock may be ahead by this."""
SHORTEST_KEY = 32
"""Characters."""
RECORD_BYTES = 256 * 1024
"""Of the record of orders; then it is begun anew, and one before it is kept."""


@dataclass(frozen=True)
class Key:
    """A shared secret, never printed."""

    secret: bytes

    def __repr__(self) -> str:
        return "Key(…)"


def key_of(file: Path) -> Key:
    """The first line of the file. Raises WireError."""
    try:
        word = file.read_text(encoding="utf-8").partition("\n")[0].strip()
    except (OSError, UnicodeError) as error:
        why = getattr(error, "strerror", None) or "it is no text"
        raise WireError(f"fleet.dark_key_file: {file}: {why}; put a key of 64 hexadecimal digits into it") from error
    if len(word) < SHORTEST_KEY:
        raise WireError(f"fleet.dark_key_file: {file}: {len(word)} characters; a key has {SHORTEST_KEY} at least")
    return Key(word.encode())


def signed(key: Key, box_id: str, sender: str, nonce: str, issued_utc: str) -> str:
    """HMAC-SHA256 (RFC 2104, FIPS 198-1) over these lines, as hexadecimal."""
    lines = "\n".join(("sumlight dark 1", box_id, sender, nonce, issued_utc))
    return hmac.new(key.secret, lines.encode(), hashlib.sha256).hexdigest()


def order(key: Key, box_id: str, sender: str, now: datetime) -> DarkOrder:
    """A fresh order."""
    nonce, issued_utc = secrets.token_hex(16), utc_text(now)
    signature = signed(key, box_id, sender, nonce, issued_utc)
    return DarkOrder(box_id=box_id, sender=sender, nonce=nonce, issued_utc=issued_utc, signature=signature)


class Dark:
    """Obeys what may be obeyed. `go_dark` tells the controller, with who asked, and returns whether it took it."""

    def __init__(
        self, key: Key, box_id: str, go_dark: Callable[[str], bool], now: Callable[[], datetime], record: Path
    ) -> None:
        self._key, self._box_id, self._go_dark, self._now, self._record = key, box_id, go_dark, now, record
        self._begun = now()
        self._seen: dict[str, datetime] = {}

    def obey(self, message: Incoming) -> tuple[DarkOrder, bool]:
        """End light, then note who asked for it. Raises FleetMessageError for what must do nothing."""
        given = self._judged(message)
        done = self._go_dark(given.sender)
        log.warning("dark over the network by %s: %s", given.sender, "done" if done else "the controller is silent")
        self._note(given, done)
        return given, done

    def _judged(self, message: Incoming) -> DarkOrder:
        if message.retained:
            raise FleetMessageError("a retained dark is an old one")
        if message.expires_s is None or message.expires_s > LIFE_S:
            raise FleetMessageError(f"a dark lives {LIFE_S} s at most, by its message expiry")
        given = read(message.payload, DarkOrder)
        right = signed(self._key, given.box_id, given.sender, given.nonce, given.issued_utc)
        if given.box_id != self._box_id or not hmac.compare_digest(right, given.signature):
            raise FleetMessageError("the signature is not that of this box's key")
        try:
            now, issued = self._now(), datetime.fromisoformat(given.issued_utc).astimezone(UTC)
        except ValueError as error:
            raise FleetMessageError(f"issued_utc: {given.issued_utc} is no time") from error
        if not -AHEAD_S <= (now - issued).total_seconds() <= LIFE_S:
            raise FleetMessageError("it is too old, or a clock is wrong")
        if issued < self._begun:
            raise FleetMessageError("it is from before this start, and may have been obeyed already")
        self._seen = {nonce: at for nonce, at in self._seen.items() if now - at < timedelta(seconds=3 * LIFE_S)}
        if given.nonce in self._seen:
            raise FleetMessageError("it was obeyed already")
        self._seen[given.nonce] = now
        return given

    def _note(self, given: DarkOrder, done: bool) -> None:
        """One line, in the publisher's own folder."""
        line = {"obeyed_utc": utc_text(self._now()), "sender": given.sender, "nonce": given.nonce, "done": done}
        try:
            self._record.parent.mkdir(parents=True, exist_ok=True)
            if self._record.exists() and self._record.stat().st_size > RECORD_BYTES:
                self._record.replace(self._record.with_suffix(".before"))
            with self._record.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line, ensure_ascii=False) + "\n")
        except OSError as error:
            log.warning("%s: %s", self._record, error.strerror or error)
