"""`sumlight box twin` and `sumlight box run`: start control and page as two processes and keep them going."""

import argparse
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import FrameType

from sumlight.cli import options as shared
from sumlight.control.daemon import SOCKET
from sumlight.language import _
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.store.operators import OperatorsError, access_folder, read_operators, set_up_code, set_up_path

HOST = "127.0.0.1"
START_LIMIT_S = 60.0
LOOK_S = 0.1
REST_S = 1.0
"""Pause before a page or a killed control is started again."""


def add_twin(command: argparse.ArgumentParser) -> None:
    """Declare the options of `twin`."""
    shared.add_data(command, twin=True)
    shared.add_twin(command, speed=1.0)
    _add_page(command)
    command.set_defaults(carry_out=lambda options: _start(options, twin=True))


def add_run(command: argparse.ArgumentParser) -> None:
    """Declare the options of `run`."""
    shared.add_data(command, twin=False)
    command.add_argument("--box", type=Path, required=True, metavar="FILE", help=_("box.yaml of this box"))
    _add_page(command)
    command.set_defaults(carry_out=lambda options: _start(options, twin=False))


def _add_page(command: argparse.ArgumentParser) -> None:
    """Where the page is reached."""
    command.add_argument(
        "--port", type=int, default=shared.HTTP_PORT, metavar="P", help=_("port of the page (default: %(default)s)")
    )
    command.add_argument(
        "--listen",
        default=HOST,
        metavar="ADDRESS",
        help=_("own address of the page; 0.0.0.0 for all (default: %(default)s, this machine only)"),
    )
    command.add_argument(
        "--host-name",
        action="append",
        default=[],
        metavar="NAME",
        help=_("another name that browsers use for this box"),
    )


def _start(options: argparse.Namespace, *, twin: bool) -> int:
    data = options.data or shared.default_data(twin=twin)
    data.mkdir(parents=True, exist_ok=True)
    control = [sys.executable, "-m", "sumlight.cli", "box", "control", "--data", str(data), "--stop-with-stdin"]
    if options.box:
        control += ["--box", str(options.box)]
    if twin:
        control += ["--twin", "--speed", "max" if options.speed is None else str(options.speed)]
        control += ["--scenario", str(options.scenario)] if options.scenario else []
    page = [sys.executable, "-m", "sumlight_web", "--data", str(data), "--port", str(options.port)]
    page += ["--socket", str(data / SOCKET), "--stop-with-stdin", "--listen", options.listen]
    page += [part for name in options.host_name for part in ("--host-name", name)]
    shown = HOST if options.listen in ("0.0.0.0", "::") else options.listen  # noqa: S104 - compared, not bound
    return Pair(control, page, data / SOCKET, f"{f'[{shown}]' if ':' in shown else shown}:{options.port}").run()


class Pair:
    """The two processes. Control decides about light; the page may crash and come back as it likes."""

    def __init__(self, control: list[str], page: list[str], socket: Path, place: str) -> None:
        self._commands = {"control": control, "page": page}
        self._socket = socket
        self._place = place
        self._running: dict[str, subprocess.Popen[bytes]] = {}
        self._stopping = False

    def run(self) -> int:
        """Until told to stop; returns control's exit status."""
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, self._told)
        try:
            self._spawn("control")
            self._wait_for_control()
            self._spawn("page")
            address = f"http://{self._place}/{self._way_in()}"
            print(_("Sumlight is running. Ctrl-C ends it.\nOpen {address}", address=address), flush=True)
            return self._mind()
        finally:
            self._end()

    def _way_in(self) -> str:
        """As long as there is no operator, the address brings the set-up code along."""
        folder = access_folder(self._socket.parent)
        try:
            return "" if read_operators(folder).hashes else set_up_path(set_up_code(folder))
        except OperatorsError:  # the page says what is wrong
            return ""

    def _told(self, _number: int, _frame: FrameType | None) -> None:
        self._stopping = True

    def _spawn(self, name: str) -> None:
        # Their standard input is a pipe of ours: it ends when this process does, however it dies.
        self._running[name] = subprocess.Popen(  # noqa: S603 - our own interpreter and modules
            self._commands[name], stdin=subprocess.PIPE
        )

    def _wait_for_control(self) -> None:
        until = time.monotonic() + START_LIMIT_S
        while not self._stopping:
            status = self._running["control"].poll()
            if status is not None:
                sys.exit(status or 1)
            try:
                with ControlClient(self._socket) as client:
                    client.ask("state")
                    return
            except ControlGoneError:
                if time.monotonic() > until:
                    raise RuntimeError(
                        _("the controller did not answer within {limit_s:.0f} s", limit_s=START_LIMIT_S)
                    ) from None
                time.sleep(LOOK_S)

    def _mind(self) -> int:
        while not self._stopping:
            time.sleep(LOOK_S)
            status = self._running["control"].poll()
            if status is not None and status >= 0:
                return status
            for name, process in list(self._running.items()):
                if process.poll() is not None and not self._stopping:
                    told = {"process": name, "status": process.returncode}
                    print(_("{process} ended with status {status}; starting it again", **told), file=sys.stderr)
                    time.sleep(REST_S)
                    self._spawn(name)
        return 0

    def _end(self) -> None:
        for process in self._running.values():
            process.terminate()
        for process in self._running.values():
            try:
                process.wait(5)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
