"""`sumlight fleet demo`: a shop to look at: broker, database, three simulated boxes, collector and the shop's page.

All of it runs on this computer, in a folder of its own, and ends together. The boxes and what they expose are invented.
"""

import argparse
import contextlib
import os
import re
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from pathlib import Path

from sumlight.cli.fleet import HOST, SHOP_PORT, ended, needing_fleet
from sumlight.control.daemon import SOCKET
from sumlight.language import _
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.errors import BadRequestError
from sumlight.twin import demo

BOXES = ("bench-1", "bench-2", "school-1")
RECIPE = "blue-38"
SPEED = "5"
REST_S = 3.0
"""Between two panels of a box."""
READY_LIMIT_S = 60.0
PLACES = ("/usr/sbin", "/usr/local/sbin")


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument(
        "--folder", type=Path, metavar="DIR", help=_("where all of it lies (default: a new one, removed)")
    )
    command.add_argument(
        "--port", type=int, default=SHOP_PORT, metavar="P", help=_("port of the page (default: %(default)s)")
    )
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Run until somebody ends it. Raises ValueError for what is not installed."""
    with needing_fleet():
        pass
    stop = ended()
    with ExitStack() as ends:
        folder = options.folder or Path(ends.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-demo-")))
        folder.mkdir(parents=True, exist_ok=True)
        port = free_port()
        words = {name: secrets.token_hex(16) for name in (*BOXES, "collector")}
        _broker(ends, folder, port, words)
        database = _database(ends, folder)
        _begin(ends, "fleet", "collect", "--database", database, *_at(port, folder / "collector.password"))
        for name in BOXES:
            _box(ends, folder, name, port, stop)
        _begin(ends, "fleet", "shop", "--database", database, "--port", str(options.port))
        address = f"http://{HOST}:{options.port}"
        print(_("The shop's page: {address}", address=address), flush=True)
        print(_("Three simulated boxes expose invented panels. End it with Ctrl-C."), flush=True)
        stop.wait()
    return 0


def _broker(ends: ExitStack, folder: Path, port: int, words: dict[str, str]) -> None:
    """Debian's own, on this computer only, with passwords and rights as in a shop."""
    from sumlight.fleet.topics import rights

    passwords, acl, conf = folder / "passwords", folder / "acl", folder / "mosquitto.conf"
    passwords.write_text("".join(f"{name}:{word}\n" for name, word in words.items()))
    for name, word in words.items():
        (folder / f"{name}.password").write_text(word + "\n")
    acl.write_text(rights())
    subprocess.run([_program("mosquitto_passwd"), "-U", str(passwords)], check=True)  # noqa: S603 - its name is ours
    for file in (passwords, acl, *(folder / f"{name}.password" for name in words)):
        file.chmod(0o600)
    settings = {"listener": f"{port} {HOST}", "allow_anonymous": "false", "max_packet_size": "65536"}
    settings |= {"password_file": str(passwords), "acl_file": str(acl)}
    if os.geteuid() == 0:
        settings["user"] = "root"
    conf.write_text("".join(f"{name} {value}\n" for name, value in settings.items()))
    _start(ends, [_program("mosquitto"), "-c", str(conf)], folder / "mosquitto.log")


def _database(ends: ExitStack, folder: Path) -> str:
    """PostgreSQL in the folder, where it is installed and will run under this account; else a file of SQLite."""
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    if not places or os.geteuid() == 0:  # it refuses root
        print(_("The database: SQLite in a file."), flush=True)
        return f"sqlite:///{folder / 'fleet.sqlite'}"
    where = folder / "postgresql"
    if not (where / "data").exists():
        where.mkdir()
        made = [str(places[0] / "initdb"), "-D", str(where / "data"), "-A", "trust", "-U", "fleet", "--no-sync"]
        subprocess.run(made, check=True, stdout=subprocess.DEVNULL)  # noqa: S603 - its place is Debian's
    _start(
        ends,
        [str(places[0] / "postgres"), "-D", str(where / "data"), "-k", str(where), "-c", "listen_addresses="],
        where / "log",
    )
    until_s = time.monotonic() + READY_LIMIT_S
    while not (where / ".s.PGSQL.5432").exists() and time.monotonic() < until_s:
        time.sleep(0.1)
    print(_("The database: PostgreSQL."), flush=True)
    return f"postgresql://fleet@/postgres?host={where}"


def _box(ends: ExitStack, folder: Path, name: str, port: int, stop: threading.Event) -> None:
    """A simulated box, its publisher, and somebody who exposes at it."""
    data, file = folder / name, folder / f"{name}.yaml"
    text = re.sub(r"(?m)^name: .*$", f"name: Demo {name}", demo.BOX.read_text(encoding="utf-8"))
    block = f"box_id: {name}, broker: {HOST}, port: {port}, password_file: {folder / name}.password"
    file.write_text(f"{text}\nfleet: {{{block}}}\n", encoding="utf-8")
    twin = ("--twin", "--data", str(data), "--box", str(file), "--speed", SPEED)
    _begin(ends, "box", "control", *twin)
    _begin(ends, "fleet", "publish", "--box", str(file), "--data", str(data))
    worker = threading.Thread(target=_work, args=(data, stop), daemon=True)
    worker.start()
    ends.callback(worker.join)


def _work(data: Path, stop: threading.Event) -> None:
    """Panel after panel; the lid is opened and shut between them."""
    number = 0
    while not stop.wait(REST_S):
        number += 1
        with contextlib.suppress(ControlGoneError, BadRequestError), ControlClient(data / SOCKET) as client:
            client.ask("simulate", do="lid_opens")
            stop.wait(0.3)
            client.ask("simulate", do="lid_closes")
        asked = [sys.executable, "-m", "sumlight.cli", "panel", "expose", RECIPE, "--panel", f"invented {number}"]
        quiet = subprocess.DEVNULL
        hand = subprocess.Popen([*asked, "--data", str(data)], stdout=quiet, stderr=quiet)  # noqa: S603 - ours
        while hand.poll() is None:
            if stop.wait(0.2):
                hand.kill()
        hand.wait()


def _at(port: int, password: Path) -> tuple[str, ...]:
    return ("--port", str(port), "--password-file", str(password))


def _begin(ends: ExitStack, *words: str) -> None:
    """A command of ours, in a process of its own."""
    _start(ends, [sys.executable, "-m", "sumlight.cli", *words])


def _start(ends: ExitStack, command: list[str], log: Path | None = None) -> None:
    with open(os.devnull if log is None else log, "ab") as told:
        stderr = None if log is None else told
        process = subprocess.Popen(command, stdout=told, stderr=stderr, start_new_session=True)  # noqa: S603 - ours

    def end() -> None:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()

    ends.callback(end)


def _program(name: str) -> str:
    """Where it lies. Raises ValueError."""
    found = shutil.which(name) or shutil.which(name, path=os.pathsep.join(PLACES))
    if found is None:
        raise ValueError(_("{program} is missing: apt-get install mosquitto", program=name))
    return found


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as line:
        line.bind((HOST, 0))
        return int(line.getsockname()[1])
