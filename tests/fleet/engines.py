"""The distribution's own mosquitto, PostgreSQL and Prometheus, on loopback, in folders of the test.

Started as root they would give their rights away and could not write: they run as `nobody`, who owns the folder.
"""

import os
import pwd
import shutil
import signal
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from tests.ports import free_port

NOBODY = "nobody"
START_LIMIT_S = 60.0


class MissingError(RuntimeError):
    """An engine is not installed; says which package brings it."""


def program(name: str, package: str, *places: Path) -> Path:
    """Where an engine lies. Raises MissingError."""
    found = shutil.which(name)
    more = [*(place / name for place in places), Path("/usr/sbin", name), *([Path(found)] if found else [])]
    here = [place for place in more if place.exists()]
    if not here:
        raise MissingError(f"{name} is not installed: apt-get install {package}")
    return here[0]


def owned(folder: Path) -> Path:
    """A folder that the engine may write."""
    folder.mkdir(parents=True, exist_ok=True)
    if os.geteuid() == 0:
        account = pwd.getpwnam(NOBODY)
        os.chown(folder, account.pw_uid, account.pw_gid)
    return folder


class Engine:
    """A program that can be killed and started again; a context manager that leaves nothing behind."""

    def __init__(self, command: Sequence[str], folder: Path, ready: Callable[[], bool]) -> None:
        self._command, self._folder, self._ready = command, folder, ready
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill(signal.SIGKILL)

    def start(self) -> None:
        """Start it and wait until it answers. Raises RuntimeError with what it said."""
        as_root = os.geteuid() == 0
        with (self._folder / "said").open("ab") as said:
            self._process = subprocess.Popen(
                self._command,
                stdout=said,
                stderr=said,
                cwd=self._folder,
                user=NOBODY if as_root else None,
                group=pwd.getpwnam(NOBODY).pw_gid if as_root else None,
                extra_groups=[] if as_root else None,
                start_new_session=True,
            )
        until_s = time.monotonic() + START_LIMIT_S
        while not self._ready():
            if self._process.poll() is not None or time.monotonic() > until_s:
                raise RuntimeError(f"{self._command[0]}: {(self._folder / 'said').read_text(errors='replace')[-2000:]}")
            time.sleep(0.02)

    def kill(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End it at once, with all its children."""
        if self._process is not None:
            with_children = os.getpgid(self._process.pid) if self._process.poll() is None else None
            if with_children is not None:
                os.killpg(with_children, how)
            self._process.wait(30)
        self._process = None


def answers(port: int) -> bool:
    """Whether somebody listens there."""
    import socket

    with socket.socket() as line:
        line.settimeout(0.5)
        return line.connect_ex(("127.0.0.1", port)) == 0


def mosquitto(
    folder: Path, acl: str, users: dict[str, str], tls: tuple[Path, Path] | None = None
) -> tuple[Engine, int]:
    """A broker with passwords and rights, as the manual sets it up; `tls` is its certificate and key, else none."""
    port, where = free_port(), owned(folder)
    passwords = where / "passwords"
    passwords.write_text("".join(f"{name}:{word}\n" for name, word in users.items()))
    subprocess.run([program("mosquitto_passwd", "mosquitto"), "-U", passwords], check=True, capture_output=True)
    (where / "acl").write_text(acl)
    for file in (passwords, where / "acl"):
        if os.geteuid() == 0:
            os.chown(file, pwd.getpwnam(NOBODY).pw_uid, pwd.getpwnam(NOBODY).pw_gid)
        file.chmod(0o600)
    (where / "mosquitto.conf").write_text(
        f"listener {port} 127.0.0.1\nallow_anonymous false\npassword_file {passwords}\nacl_file {where / 'acl'}\n"
        "max_packet_size 65536\npersistence false\n" + ("" if tls is None else f"certfile {tls[0]}\nkeyfile {tls[1]}\n")
    )
    command = [str(program("mosquitto", "mosquitto")), "-c", str(where / "mosquitto.conf")]
    return Engine(command, where, lambda: answers(port)), port


def postgres(folder: Path) -> tuple[Engine, str]:
    """A database server on a Unix socket in its folder, and its address."""
    where = owned(folder)
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    initdb, server = program("initdb", "postgresql", *places), program("postgres", "postgresql", *places)
    account = NOBODY if os.geteuid() == 0 else None
    subprocess.run(
        [initdb, "-D", where / "data", "-A", "trust", "-U", "fleet", "--no-sync", "-E", "UTF8", "--locale=C"],
        check=True, capture_output=True, cwd=where, user=account, extra_groups=[] if account else None,
    )  # fmt: skip
    command = [str(server), "-D", str(where / "data"), "-k", str(where), "-c", "listen_addresses="]
    url = f"postgresql://fleet@/postgres?host={where}"

    def ready() -> bool:
        ask = [str(program("pg_isready", "postgresql", *places)), "-h", str(where), "-U", "fleet"]
        return subprocess.run(ask, capture_output=True, check=False).returncode == 0

    return Engine(command, where, ready), url
