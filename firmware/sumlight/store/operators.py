"""Who may operate, as files in the page's own folder: operators with their password hashes, and the set-up code.

The page reads these files anew when they have changed. They are for the page's own user only; passwords are worked out
there (`sumlight_web.access.operators`), never here.
"""

import contextlib
import fcntl
import json
import os
import re
import secrets
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from sumlight.store.files import replace_file
from sumlight.text.message import Message, say

FOLDER = "page"
FILE = "operators.json"
CODE_FILE = "set-up-code"
SESSIONS_FILE = "sessions.json"

CODE_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without letters and digits that look alike. 32 of them: five bits each."""

CODE_GROUPS = 3
CODE_RULE = re.compile("-".join([f"[{CODE_LETTERS}]{{4}}"] * CODE_GROUPS))

HASH_RULE = re.compile(
    r"scrypt:(1024|2048|4096|8192|16384|32768|65536|131072):([1-9]|1[0-6]):[1-4]\$[^$]{1,64}\$[0-9a-f]{128}\Z"
)
"""What a password hash looks like. Cost is bounded, so that a file cannot ask for all memory."""

MOST_BYTES = 256 * 1024


class OperatorsError(RuntimeError):
    """The files cannot be read or written; nobody may operate until they can. `message` says why, and what helps."""

    def __init__(self, message: Message) -> None:
        super().__init__(message)
        self.message = message


@dataclass(frozen=True)
class Operators:
    """Everybody's password hash by name. Sessions of another `epoch` are over; a new file never has an old one's."""

    epoch: str = field(default_factory=lambda: secrets.token_hex(16))
    hashes: tuple[tuple[str, str], ...] = ()

    def names(self) -> list[str]:
        """All names, as they were given."""
        return [name for name, _ in self.hashes]

    def known_as(self, name: str) -> str | None:
        """How an operator is spelt; None when there is no such name."""
        return next((known for known in self.names() if known.casefold() == name.casefold()), None)

    def hash_of(self, name: str) -> str | None:
        """The hash of one operator; None when there is no such name."""
        return next((value for known, value in self.hashes if known.casefold() == name.casefold()), None)


def read_operators(folder: Path) -> Operators:
    """The operators in an access folder; none when there is no file. Raises OperatorsError."""
    path = folder / FILE
    remedy = say("operators_remedy")
    try:
        body = json.loads(_read(path))
        hashes = tuple((entry["name"], entry["password_hash"]) for entry in body["operators"])
        epoch = str(body["epoch"])
    except FileNotFoundError:
        return Operators()
    except OSError as error:
        raise OperatorsError(say("operators_unreadable", file=path.name, why=error.strerror or str(error))) from error
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise OperatorsError(say("operators_spoilt", file=path.name, remedy=remedy)) from error
    if not hashes or not epoch:
        raise OperatorsError(say("operators_none", file=path.name, remedy=remedy))
    for name, value in hashes:
        if not isinstance(name, str) or not name:
            raise OperatorsError(say("operators_nameless", file=path.name, remedy=remedy))
        if not isinstance(value, str) or not HASH_RULE.match(value):
            raise OperatorsError(say("operators_password", file=path.name, name=name[:40], remedy=remedy))
    return Operators(epoch, hashes)


def write_operators(folder: Path, operators: Operators) -> None:
    """Replace the file as a whole. Raises OperatorsError."""
    body = {"epoch": operators.epoch, "operators": [{"name": n, "password_hash": h} for n, h in operators.hashes]}
    write_private(folder / FILE, json.dumps(body, indent=1) + "\n")


def set_up_code(folder: Path) -> str:
    """The code that a first operator has to give; made when there is none yet. Raises OperatorsError."""
    with contextlib.suppress(OSError, ValueError):
        code = _read(folder / CODE_FILE).strip()
        if CODE_RULE.fullmatch(code):
            return code
    return _new_code(folder)


def set_up_path(code: str) -> str:
    """Where on the page a first operator is made. The code is a fragment, which browsers never send to any server."""
    return f"access/#code={code}"


def reset(data: Path) -> str:
    """Take all operators out and end every session; returns the new set-up code. Raises OperatorsError.

    Root and the owner of the data folder may. The operators go first: without them no session counts.
    """
    try:
        allowed = (0, data.stat().st_uid)
    except OSError as error:
        raise OperatorsError(say("operators_unreadable", file=str(data), why=error.strerror or str(error))) from error
    if os.geteuid() not in allowed:
        raise OperatorsError(say("operators_not_yours", folder=str(data)))
    folder = access_folder(data)
    with locked(folder):
        try:
            for path in (data / FILE, folder / FILE, folder / SESSIONS_FILE):
                path.unlink(missing_ok=True)
        except OSError as error:
            raise OperatorsError(
                say("operators_not_removed", file=str(error.filename), why=error.strerror or str(error))
            ) from error
        return _new_code(folder)


def access_folder(data: Path) -> Path:
    """The folder of these files, made when it is missing; takes over operators that an older version kept beside it."""
    folder = data / FOLDER
    with contextlib.suppress(OSError):
        if not folder.exists():
            folder.mkdir(mode=0o700)
            if os.geteuid() == 0:
                owner = data.stat()
                os.chown(folder, owner.st_uid, owner.st_gid)
        if (data / FILE).exists() and not (folder / FILE).exists():
            (data / FILE).replace(folder / FILE)
    return folder


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Keep other processes from changing the files in between. Raises OperatorsError."""
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    except OSError as error:
        raise OperatorsError(say("operators_folder", folder=str(folder), why=error.strerror or str(error))) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def write_private(path: Path, text: str) -> None:
    """Replace a file as a whole, readable by the folder's owner only. Raises OperatorsError."""
    try:
        replace_file(path, text.encode("utf-8"), mode=0o600)
        if os.geteuid() == 0:  # root at a terminal: the page's own user has to read it
            owner = path.parent.stat()
            os.chown(path, owner.st_uid, owner.st_gid)
    except OSError as error:
        raise OperatorsError(say("operators_not_written", file=path.name, why=error.strerror or str(error))) from error


def mark_of(path: Path) -> tuple[int, int, int] | None:
    """Changes when the file does; None when there is none. Raises OperatorsError."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise OperatorsError(say("operators_unreadable", file=path.name, why=error.strerror or str(error))) from error
    return found.st_mtime_ns, found.st_size, found.st_ino


def _new_code(folder: Path) -> str:
    letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(4 * CODE_GROUPS))
    code = "-".join(letters[at : at + 4] for at in range(0, len(letters), 4))
    write_private(folder / CODE_FILE, code + "\n")
    return code


def _read(path: Path) -> str:
    with path.open("rb") as file:
        return file.read(MOST_BYTES).decode("utf-8")
