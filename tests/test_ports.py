"""Ports for programs under test: outside the kernel's own range, free, and each given once."""

import socket
import subprocess
import sys
from itertools import chain
from pathlib import Path

import pytest

from tests import ports

ASK = """
import sys
from tests.ports import free_port
print(*(free_port() for _ in range(40)), flush=True)
sys.stdin.read()
"""


def test_a_port_is_outside_of_what_outgoing_connections_take(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever this kernel's range is; where it is nearly everything, any port must do."""
    told = tmp_path / "range"
    monkeypatch.setattr(ports, "EPHEMERAL", told)
    for low, high in ((32768, 60999), (15000, 64000), (49152, 65535)):
        told.write_text(f"{low}\t{high}\n")
        assert not low <= ports.free_port() <= high
    told.write_text("1024\t65535\n")
    assert ports.free_port() > 1024


def test_the_range_is_the_one_that_the_kernel_uses() -> None:
    """An outgoing connection has its own end in it."""
    with socket.create_server(("127.0.0.1", 0)) as server, socket.create_connection(server.getsockname()) as link:
        assert link.getsockname()[1] in ports.ephemeral()


def test_processes_that_ask_at_once_get_different_ports() -> None:
    """Workers of pytest, other checkouts, benchmarks."""
    asking = [
        subprocess.Popen([sys.executable, "-c", ASK], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    got: list[str] = []
    for process in asking:
        assert process.stdout is not None
        got += process.stdout.readline().split()
    for process in asking:
        process.communicate()
    assert len(got) == len(set(got)) == 160


def test_one_process_never_gets_a_port_twice() -> None:
    """Though nobody listens there yet."""
    got = [ports.free_port() for _ in range(20)]
    assert len(set(got)) == 20


def test_a_port_in_use_is_not_given(monkeypatch: pytest.MonkeyPatch) -> None:
    """By a program that knows nothing of claims."""
    others = list(ports._candidates())
    with socket.create_server(("127.0.0.1", 0)) as other:
        used = other.getsockname()[1]
        monkeypatch.setattr(ports, "_candidates", lambda: chain((used,), others))
        assert ports.free_port() != used
