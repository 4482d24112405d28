"""Serve the page: `python -m sumlight_web --socket PATH --data DIR [--listen ADDRESS] [--port 8765]`."""

import argparse
import ipaddress
import logging
import os
import signal
import socket
import sys
import threading
from pathlib import Path
from types import FrameType

from sumlight.store.operators import OperatorsError, set_up_path
from sumlight_web.access.gate import access_of
from sumlight_web.access.operators import OperatorStore
from sumlight_web.app import create_app
from sumlight_web.hosts import bracketed, own_hosts, reachable
from sumlight_web.server import page_server
from sumlight_web.services import AppServices, PageConfig

HOST = "127.0.0.1"
"""This machine only, unless --listen says otherwise."""

DEAD_CLIENT_LIMIT_MS = 10_000
"""A client that left without a word, such as a phone out of range, frees its thread after so long."""

SWITCH_S = 0.001
"""So long a thread may hold the interpreter while another waits for it. The usual 5 ms, times all busy threads,
would be felt between a press of *dark* and the lamps."""


def main(arguments: list[str] | None = None) -> int:
    """Serve until told to stop; returns 2 when the port cannot be had."""
    given = _parser().parse_args(arguments)
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    server_log = logging.getLogger("waitress")
    server_log.setLevel(logging.ERROR)  # it tells of every closed tab and every busy moment
    server_log.addFilter(lambda record: not (record.exc_info and isinstance(record.exc_info[1], OSError)))
    try:
        listener = listening_socket(given.port, given.listen)
    except OSError as error:
        sys.stderr.write(
            f"The page cannot listen on {given.listen}, port {given.port}: {error.strerror or error}.\n"
            "Choose another with --port, or end the program that holds it.\n"
        )
        return 2
    app = create_app(
        PageConfig(given.socket, given.data, own_hosts(given.listen, given.host_name), shared=shared_folder())
    )
    services: AppServices = app.extensions["sumlight"]
    sys.setswitchinterval(SWITCH_S)

    def end(number: int, frame: FrameType | None) -> None:
        services.close()  # first, so that open streams let go of their threads
        raise SystemExit(0)

    for signal_number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(signal_number, end)
    if given.stop_with_stdin:
        threading.Thread(target=_end_with_stdin, name="stdin", daemon=True).start()
    try:
        server = page_server(app, listener)
        sys.stdout.write(first_lines(given.listen, listener.getsockname()[1], access_of(app).operators))
        sys.stdout.flush()
        server.run()
    finally:
        services.close()
        listener.close()
    return 0


def shared_folder() -> Path | None:
    """The folder of recipes that SUMLIGHT_SHARED names; None where it names none."""
    return Path(named) if (named := os.environ.get("SUMLIGHT_SHARED")) else None


def first_lines(listen: str, port: int, operators: OperatorStore) -> str:
    """Where the page is. As long as nobody is an operator, the address brings the set-up code along."""
    address = f"http://{bracketed(reachable(listen))}:{port}/"
    try:
        if operators.known().hashes:
            return f"Page at {address}\n"
        path = set_up_path(operators.set_up_code())
        return f"Page at {address}{path}\nNo operator yet: whoever opens this address becomes the first.\n"
    except OperatorsError as error:
        return f"Page at {address}\nNobody may operate: {error}\n"


def listening_socket(port: int, address: str = HOST) -> socket.socket:
    """A bound socket; connections inherit its limit for peers that vanish. Raises OSError when it cannot be had."""
    listener = socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, DEAD_CLIENT_LIMIT_MS)
        listener.bind((address, port))
    except (OSError, OverflowError):
        listener.close()
        raise
    return listener


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="sumlight_web", description="Serve the page of a Sumlight box.")
    parser.add_argument("--socket", type=Path, required=True, help="Unix socket of the control program")
    parser.add_argument("--data", type=Path, required=True, help="folder with recipes/ and logbook.sqlite")
    parser.add_argument("--listen", type=_address, default=HOST, help="own address to listen on; 0.0.0.0 for all")
    parser.add_argument("--host-name", action="append", default=[], help="another name that browsers use for this box")
    parser.add_argument("--port", type=_port, default=8765, help="TCP port on this machine; 0 takes any free one")
    parser.add_argument(
        "--stop-with-stdin", action="store_true", help="end when standard input does, so as never to outlive a starter"
    )
    return parser


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"'{text}' is not a port; give a number from 0 to 65535")
    return int(text)


def _address(text: str) -> str:
    try:
        return str(ipaddress.ip_address(text))
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"'{text}' is no address; give one of this machine's, such as 192.168.1.20, or 0.0.0.0 for all"
        ) from None


def _end_with_stdin() -> None:
    # Not through sys.stdin: its lock, held by this thread, would abort the interpreter's end.
    while os.read(0, 4096):
        pass
    os.kill(os.getpid(), signal.SIGTERM)


if __name__ == "__main__":
    sys.exit(main())
