"""The operators' file: names, password hashes and the number that ends old sessions. Read anew when it has changed.

The file lies in the data folder and is for the page's own user only. Whoever can write there owns the box anyway;
removing the file is how a lost password is overcome.
"""

import json
import logging
import re
import secrets
import threading
import unicodedata
from dataclasses import dataclass, replace
from pathlib import Path

from werkzeug.security import check_password_hash, generate_password_hash

from sumlight.store.files import replace_file

log = logging.getLogger(__name__)

FILE = "operators.json"
CODE_FILE = "set-up-code"
KEY_FILE = "page-key"

SHORTEST_PASSWORD = 8
LONGEST_PASSWORD = 200
MOST_OPERATORS = 30
NAME_RULE = re.compile(r"[^\W_][\w .'-]{0,39}\Z")
HASH_METHOD = "scrypt"
CODE_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without letters and digits that look alike."""


class OperatorsError(RuntimeError):
    """The file cannot be read or written; nobody may operate until it can."""


@dataclass(frozen=True)
class Operators:
    """Everybody's password hash by name. Sessions of another `epoch` are over."""

    epoch: int = 0
    hashes: tuple[tuple[str, str], ...] = ()

    def names(self) -> list[str]:
        """All names, as they were given."""
        return [name for name, _ in self.hashes]

    def hash_of(self, name: str) -> str | None:
        """The hash of one operator; None when there is no such name."""
        return next((value for known, value in self.hashes if known.casefold() == name.casefold()), None)


class OperatorDesk:
    """Keeps the operators of one data folder. Safe to use from any thread."""

    def __init__(self, data: Path) -> None:
        self._path = data / FILE
        self._code_path = data / CODE_FILE
        self._lock = threading.Lock()
        self._checking = threading.Lock()
        self._seen: tuple[tuple[int, int, int] | None, Operators] | None = None
        self._decoy = ""

    def known(self) -> Operators:
        """The operators as the file has them now. Raises OperatorsError."""
        with self._lock:
            return self._known()

    def _known(self) -> Operators:
        mark = _mark(self._path)
        if self._seen is None or self._seen[0] != mark:
            self._seen = (mark, Operators() if mark is None else _read(self._path))
        return self._seen[1]

    def is_password(self, name: str, password: str) -> bool:
        """Whether it is. One check at a time: each takes 32 MB and, on a Pi, a second or more.

        A name that does not exist takes as long as one that does.
        """
        hashed = self.known().hash_of(name)
        with self._checking:
            self._decoy = self._decoy or generate_password_hash(secrets.token_hex(8), HASH_METHOD)
            right = check_password_hash(hashed or self._decoy, _normal(password))
        return right and hashed is not None

    def put(self, name: str, password: str) -> None:
        """Add an operator or give one a new password, which ends every session. Raises ValueError, OperatorsError."""
        check_name(name)
        check_password(password)
        with self._checking:
            hashed = generate_password_hash(_normal(password), HASH_METHOD)
        with self._lock:
            now = self._known()
            known_as = next((n for n in now.names() if n.casefold() == name.casefold()), name)
            others = tuple(pair for pair in now.hashes if pair[0] != known_as)
            if len(others) >= MOST_OPERATORS:
                raise ValueError("operators")
            replaced = len(others) < len(now.hashes)
            self._write(replace(now, epoch=now.epoch + replaced, hashes=(*others, (known_as, hashed))))
        self._code_path.unlink(missing_ok=True)

    def remove(self, name: str) -> None:
        """Take an operator out, which ends every session; the last one stays. Raises OperatorsError."""
        with self._lock:
            now = self._known()
            left = tuple(pair for pair in now.hashes if pair[0] != name)
            if left and len(left) < len(now.hashes):
                self._write(replace(now, epoch=now.epoch + 1, hashes=left))

    def end_sessions(self) -> None:
        """Log everybody out, everywhere. Raises OperatorsError."""
        with self._lock:
            now = self._known()
            self._write(replace(now, epoch=now.epoch + 1))

    def set_up_code(self) -> str:
        """The code that a first operator has to give from another machine; made when there is none yet."""
        with self._lock:
            try:
                code = self._code_path.read_text(encoding="ascii").strip()
                if re.fullmatch(rf"[{CODE_LETTERS}]{{4}}-[{CODE_LETTERS}]{{4}}", code):
                    return code
            except (OSError, ValueError):
                pass
            letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(8))
            code = f"{letters[:4]}-{letters[4:]}"
            write_private(self._code_path, code + "\n")
            return code

    def is_set_up_code(self, typed: str) -> bool:
        """Whether it is; capital or small letters and the hyphen make no difference."""
        right = self.set_up_code().replace("-", "").encode()
        given = re.sub(r"[\s-]", "", typed).upper().encode("utf-8", "replace")
        return secrets.compare_digest(right, given)

    def _write(self, operators: Operators) -> None:
        body = {"epoch": operators.epoch, "operators": [{"name": n, "password_hash": h} for n, h in operators.hashes]}
        write_private(self._path, json.dumps(body, indent=1) + "\n")
        self._seen = (_mark(self._path), operators)


def check_name(name: str) -> None:
    """Raises ValueError("name") when nobody can be called so."""
    if not NAME_RULE.match(name):
        raise ValueError("name")


def check_password(password: str) -> None:
    """Raises ValueError("password") when it is too short or too long."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise ValueError("password")


def _normal(password: str) -> str:
    # Two keyboards may write the same letter in two ways.
    return unicodedata.normalize("NFKC", password)


def _mark(path: Path) -> tuple[int, int, int] | None:
    """Changes when the file does; None when there is none."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise OperatorsError(f"{path.name} cannot be read: {error.strerror}") from error
    return found.st_mtime_ns, found.st_size, found.st_ino


def _read(path: Path) -> Operators:
    try:
        body = json.loads(path.read_text(encoding="utf-8"))
        hashes = tuple((str(entry["name"]), str(entry["password_hash"])) for entry in body["operators"])
        epoch = int(body["epoch"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise OperatorsError(f"{path.name} cannot be read; put it right or remove it") from error
    if not hashes:
        raise OperatorsError(f"{path.name} names no operator; put it right or remove it")
    return Operators(epoch, hashes)


def write_private(path: Path, text: str) -> None:
    """Replace a file as a whole, readable by this user only. Raises OperatorsError."""
    try:
        replace_file(path, text.encode("utf-8"), mode=0o600)
    except OSError as error:
        raise OperatorsError(f"{path.name} cannot be written: {error.strerror}") from error


def session_key(data: Path) -> bytes:
    """The key that signs sessions, kept so that a restart logs nobody out; a passing one if it cannot be kept."""
    path = data / KEY_FILE
    try:
        key = bytes.fromhex(path.read_text(encoding="ascii"))
        if len(key) >= 32:
            return key
    except (OSError, ValueError):
        pass
    key = secrets.token_bytes(32)
    try:
        write_private(path, key.hex() + "\n")
    except OperatorsError as error:
        log.warning("sessions will end with this process: %s", error)
    return key
