"""`sumlight box control`: the controller alone, as systemd or the starting command runs it."""

import argparse
import faulthandler
import os
import signal
import threading
from pathlib import Path
from types import FrameType
from typing import Any

from sumlight.box.assembly import real_bus, real_pin_factory
from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.box.description import load_box
from sumlight.cli import options as shared
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.cli.trial import tried_hz
from sumlight.clock import SystemClock
from sumlight.control.daemon import SOCKET, Daemon
from sumlight.language import _
from sumlight.store.datalock import DataLock


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    shared.add_data(command, twin=True)
    command.add_argument("--twin", action="store_true", help=_("a simulated box"))
    shared.add_twin(command, speed=1.0)
    command.add_argument("--socket", type=Path, metavar="PATH", help=_("where to listen (default: DATA/control.sock)"))
    command.add_argument("--stop-with-stdin", action="store_true", help=_("stop when standard input ends"))
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Run until told to stop."""
    faulthandler.enable()
    data = options.data or shared.default_data(twin=options.twin)
    stop = threading.Event()

    def told(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, told)
    if options.stop_with_stdin:
        threading.Thread(target=_wait_for_end, args=(stop,), daemon=True).start()
    daemon, step = _simulated(options, data) if options.twin else _real(options, data, stop)
    daemon.serve(options.socket or data / SOCKET)
    daemon.run(lambda: not stop.is_set(), step)
    return 0


def _simulated(options: argparse.Namespace, data: Path) -> tuple[Daemon, Any]:
    description, scenario = read_files(options.box, options.scenario)
    box = SimulatedBox(description, scenario, data, speed=options.speed, attended=False, threaded=True, kill=_kill)
    return box.daemon, box.step


def _kill() -> None:
    # Without a word, as commissioning asks for it: nothing may be tidied up.
    os.kill(os.getpid(), signal.SIGKILL)


def _real(options: argparse.Namespace, data: Path, stop: threading.Event) -> tuple[Daemon, Any]:
    if options.box is None:
        raise ValueError(_("a real box needs --box FILE (see hardware/box.yaml); for a simulated one add --twin"))
    description = load_box(options.box)
    pins = real_pin_factory(description.pin_library)
    lock = DataLock(data)
    rate_hz = None  # without K1 there is no pump that could ask for a rate
    if description.enable_pin is not None:
        rate_hz = tried_hz(description, needed_ticks_hz(), go_on=lambda: not stop.is_set())
    daemon = Daemon(description, SystemClock(), pins, real_bus, data, lock=lock, trial_hz=rate_hz)
    return daemon, daemon.step


def _wait_for_end(stop: threading.Event) -> None:
    # Not sys.stdin: a thread that waits inside its lock would abort the interpreter at the end.
    while os.read(0, 4096):
        pass
    stop.set()
