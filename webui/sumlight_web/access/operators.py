"""Operators and their passwords. All that takes work (scrypt) happens here, one piece at a time.

The files lie in the page's own folder of the data; `sumlight setup operators reset` is how a lost password is overcome.
"""

import re
import secrets
import threading
import unicodedata
from dataclasses import replace
from pathlib import Path

from werkzeug.security import check_password_hash, generate_password_hash

from sumlight.store import operators as files
from sumlight.store.operators import Operators, OperatorsError, locked, mark_of
from sumlight.text.message import say

SHORTEST_PASSWORD = 8
LONGEST_PASSWORD = 200
MOST_OPERATORS = 30
NAME_RULE = re.compile(r"[^\W_][\w .'-]{0,39}\Z")
COMMAND_LINE = "terminal"
"""What records call whoever pressed there: nobody on the page may be called so."""
HASH_METHOD = "scrypt"


class NotNowError(RuntimeError):
    """Somebody else changed the operators in the meantime; look again."""


class OperatorStore:
    """Keeps the operators of one access folder. Safe to use from any thread."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._path = folder / files.FILE
        self._lock = threading.Lock()
        self._checking = threading.Lock()
        self._seen: tuple[tuple[int, int, int] | None, Operators] | None = None
        self._decoy = ""

    def known(self) -> Operators:
        """The operators as the file has them now. Raises OperatorsError."""
        with self._lock:
            return self._known()

    def _known(self) -> Operators:
        mark = mark_of(self._path)
        if self._seen is None or self._seen[0] != mark:
            self._seen = (mark, files.read_operators(self.folder))
        return self._seen[1]

    def is_password(self, name: str, password: str) -> bool:
        """Whether it is. One check at a time: each takes 32 MB and, on a Pi, a second or more. Raises OperatorsError.

        A name that does not exist takes as long as one that does.
        """
        hashed = self.known().hash_of(name)
        with self._checking:
            self._decoy = self._decoy or generate_password_hash(secrets.token_hex(8), HASH_METHOD)
            try:
                right = check_password_hash(hashed or self._decoy, _normal(password))
            except (ValueError, MemoryError) as error:
                raise OperatorsError(say("password_not_checked", name=name, why=str(error))) from error
        return right and hashed is not None

    def found(self, name: str, password: str, code: str) -> Operators:
        """Make the first operator, which uses up the set-up code. Returns the operators.

        Raises ValueError, OperatorsError; NotNowError when there is an operator by now, or the code is another.
        """
        hashed = self._hashed(name, password)
        with self._lock, locked(self.folder):
            if self._known().hashes or not self.is_set_up_code(code):
                raise NotNowError
            now = self._write(Operators(hashes=((name, hashed),)))
        (self.folder / files.CODE_FILE).unlink(missing_ok=True)
        return now

    def put(self, name: str, password: str) -> Operators:
        """Add an operator, or give one a new password, which ends every session. Returns the operators.

        Raises ValueError, OperatorsError; NotNowError when the operators were started anew while this was worked out.
        """
        before = self.known()
        hashed = self._hashed(name, password)
        with self._lock, locked(self.folder):
            now = self._known()
            if not now.hashes or now.epoch != before.epoch:
                raise NotNowError
            known_as = now.known_as(name)
            others = tuple(pair for pair in now.hashes if pair[0] != known_as)
            if len(others) >= MOST_OPERATORS:
                raise ValueError("operators")
            hashes = (*others, (known_as or name, hashed))
            return self._write(replace(now, hashes=hashes) if known_as is None else Operators(hashes=hashes))

    def remove(self, name: str) -> Operators:
        """Take an operator out, which ends every session; the last one stays. Raises OperatorsError."""
        with self._lock, locked(self.folder):
            now = self._known()
            left = tuple(pair for pair in now.hashes if pair[0] != name)
            return self._write(Operators(hashes=left)) if left and len(left) < len(now.hashes) else now

    def end_sessions(self) -> None:
        """Log everybody out, everywhere. Raises OperatorsError."""
        with self._lock, locked(self.folder):
            now = self._known()
            if now.hashes:
                self._write(Operators(hashes=now.hashes))

    def set_up_code(self) -> str:
        """The code that the first operator has to give. Raises OperatorsError."""
        return files.set_up_code(self.folder)

    def is_set_up_code(self, typed: str) -> bool:
        """Whether it is; capital or small letters and hyphens make no difference. Raises OperatorsError.

        It holds 60 bits, so that guessing needs no limit.
        """
        right = self.set_up_code().replace("-", "").encode()
        given = re.sub(r"[\s-]", "", typed[:100]).upper().encode("utf-8", "replace")
        return secrets.compare_digest(right, given)

    def _hashed(self, name: str, password: str) -> str:
        check_name(name)
        check_password(password)
        with self._checking:
            return generate_password_hash(_normal(password), HASH_METHOD)

    def _write(self, operators: Operators) -> Operators:
        files.write_operators(self.folder, operators)
        self._seen = (mark_of(self._path), operators)
        return operators


def check_name(name: str) -> None:
    """Raises ValueError("name") when nobody can be called so."""
    if not NAME_RULE.match(name) or name.casefold() == COMMAND_LINE:
        raise ValueError("name")


def check_password(password: str) -> None:
    """Raises ValueError("password") when it is too short or too long."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise ValueError("password")


def _normal(password: str) -> str:
    # Two keyboards may write the same letter in two ways.
    return unicodedata.normalize("NFKC", password)
