"""A real `sumlight box twin` in its own processes, for what is about real processes and real time."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import psutil

from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.errors import BadRequestError
from tests.ports import free_port

START_LIMIT_S = 120.0


def first_in_line(pid: int) -> None:
    """Put a control process before others, as its systemd unit does; without the right to, it stays as it is.

    0 is the calling thread (Linux gives each its own place), whose box is then held up by nobody but the interpreter.
    """
    with contextlib.suppress(PermissionError, ProcessLookupError):
        os.setpriority(os.PRIO_PROCESS, pid, -10)


class RunningTwin:
    """`sumlight box twin` over `data`; a context manager that leaves no process behind."""

    def __init__(self, data: Path, *, speed: float, scenario: Path | None = None, box: Path | None = None) -> None:
        self.data = data
        self.socket = data / "control.sock"
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._command = [
            sys.executable,
            "-m",
            "sumlight.cli",
            "box",
            "twin",
            "--data",
            str(data),
            "--speed",
            str(speed),
        ]
        self._command += ["--port", str(self.port)]
        self._command += ["--scenario", str(scenario)] if scenario else []
        self._command += ["--box", str(box)] if box else []
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self._process = subprocess.Popen(self._command, stdout=subprocess.PIPE, start_new_session=True)
        try:
            self._wait_for_page()
            first_in_line(self.control_pid())
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End it as Ctrl-C would; kill what does not obey."""
        if self._process is None:
            return
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
        try:
            self._process.wait(60)
        except subprocess.TimeoutExpired:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()
        if self._process.stdout:
            self._process.stdout.close()
        self._process = None

    def printed_address(self) -> str:
        """The address at which the terminal asks a newcomer to open the page."""
        if self._process is None or self._process.stdout is None:
            raise RuntimeError("not running")
        for line in self._process.stdout:
            if line.startswith(b"Open "):
                return line.decode().removeprefix("Open ").strip()
        raise RuntimeError("no address was printed")

    def control_pid(self) -> int:
        """The control process."""
        return self._child("sumlight.cli")

    def page_pid(self) -> int:
        """The page process."""
        return self._child("sumlight_web")

    def has_page(self) -> bool:
        """Whether a page process lives."""
        try:
            return self.page_pid() > 0
        except (RuntimeError, psutil.NoSuchProcess):
            return False

    def answers(self) -> bool:
        """Whether control answers at its socket."""
        try:
            with ControlClient(self.socket) as client:
                return bool(client.ask("state"))
        except ControlGoneError:
            return False

    def kill_starter(self) -> None:
        """SIGKILL to `sumlight box twin` itself, which then cannot end its children."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()

    def change_panel(self, client: ControlClient) -> None:
        """Open the lid, and shut it again."""
        for act in ("lid_opens", "lid_closes"):
            client.ask("simulate", do=act)
            time.sleep(0.3)

    def wait_until_ready(self, client: ControlClient, limit_s: float = 60.0) -> dict[str, Any]:
        """Until a panel could be started; returns the snapshot that says so.

        A box over an older logbook does not know whether its last panel was taken out: the lid is opened once.
        """
        until_s = time.monotonic() + limit_s
        changed = False
        while time.monotonic() < until_s:
            snapshot = client.ask("state")
            if snapshot["lid"] == "shut" and "start" not in snapshot["may"] and not snapshot["faults"] and not changed:
                changed = True
                self.change_panel(client)
            if "start" in snapshot["may"] and all(bank["meter_ok"] for bank in snapshot["banks"]):
                return snapshot
            time.sleep(0.02)
        raise TimeoutError(f"the box was not ready within {limit_s} s")

    def put_in_order(self, limit_s: float = 120.0) -> None:
        """Undo what was done to the box: the meter is back, the lid shut, faults seen to, a panel given up, taken out.

        Raises TimeoutError when it is not ready for a panel then.
        """
        until_s = time.monotonic() + limit_s
        while not self.answers():
            if time.monotonic() > until_s:
                raise TimeoutError(f"the controller did not answer within {limit_s} s")
            time.sleep(0.05)
        with ControlClient(self.socket) as client:
            for act in ("meter_returns", "lid_closes"):
                client.ask("simulate", do=act)
            while (snapshot := client.ask("state"))["faults"] or snapshot["state"] not in ("idle", "done"):
                if time.monotonic() > until_s:
                    raise TimeoutError(f"the box stayed in state {snapshot['state']}: {snapshot['faults']}")
                for command in ("dark", "acknowledge", "abandon"):
                    if command in client.ask("state")["may"]:
                        with contextlib.suppress(BadRequestError):  # the box has moved on since
                            client.ask(command)
                time.sleep(0.05)
            self.wait_until_ready(client)

    def _child(self, module: str) -> int:
        if self._process is None:
            raise RuntimeError("not running")
        for child in psutil.Process(self._process.pid).children():
            if child.status() != psutil.STATUS_ZOMBIE and module in child.cmdline():
                return int(child.pid)
        raise RuntimeError(f"no process runs {module}")

    def _wait_for_page(self) -> None:
        until_s = time.monotonic() + START_LIMIT_S
        while time.monotonic() < until_s:
            if self._process is None or self._process.poll() is not None:
                raise RuntimeError("sumlight box twin ended at once")
            with contextlib.suppress(RuntimeError, psutil.NoSuchProcess):
                first_in_line(self.control_pid())
            try:
                with socket.create_connection(("127.0.0.1", self.port), 0.2), ControlClient(self.socket):
                    return
            except (OSError, ControlGoneError):
                time.sleep(0.05)
        raise TimeoutError(f"sumlight box twin did not come up within {START_LIMIT_S} s")
