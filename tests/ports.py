"""TCP ports for programs that must be told theirs before they start.

A port that the kernel gave for the moment (bind to 0) may be gone a second later: an outgoing connection of any program
takes its own end from the same range. So these come from outside that range, and a port that one process got here is
given to no other as long as the first lives: each is claimed by an abstract Unix socket, which the kernel lets go by
itself, in the same network namespace as the ports.
"""

import contextlib
import errno
import socket
from collections.abc import Iterator
from pathlib import Path

LOWEST, HIGHEST = 20_000, 65_535
"""Above the ports that browsers refuse to open and most that services are known by."""

EPHEMERAL = Path("/proc/sys/net/ipv4/ip_local_port_range")
FEWEST = 200

_claims: dict[int, socket.socket] = {}


def free_port() -> int:
    """A TCP port on loopback that nobody uses, given to nobody else while this process lives. Raises RuntimeError."""
    for port in _candidates():
        if port not in _claims and (claim := _claimed(port)):
            _claims[port] = claim
            return port
    raise RuntimeError("no TCP port is free")


def ephemeral() -> range:
    """The ports from which the kernel takes one for an outgoing connection."""
    low, high = (int(text) for text in EPHEMERAL.read_text().split())
    return range(low, high + 1)


def _candidates() -> Iterator[int]:
    taken_by_kernel = ephemeral()
    outside = [port for port in range(LOWEST, HIGHEST + 1) if port not in taken_by_kernel]
    # A kernel that uses nearly all ports leaves no better choice than any.
    yield from outside if len(outside) >= FEWEST else range(LOWEST, HIGHEST + 1)


def _claimed(port: int) -> socket.socket | None:
    claim = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    with contextlib.ExitStack() as unless_free:
        unless_free.callback(claim.close)
        with socket.socket() as probe:
            try:
                claim.bind(f"\0sumlight-tests-port-{port}")
                probe.bind(("127.0.0.1", port))
            except OSError as error:
                if error.errno != errno.EADDRINUSE:
                    raise
                return None
        unless_free.pop_all()
    return claim
