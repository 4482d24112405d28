"""Signs of life to a service manager, after sd_notify(3)."""

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight.control.systemd import Notifier


@pytest.fixture
def manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    """A service manager's end, with a watchdog of three seconds."""
    path = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(path))
        listener.settimeout(60)
        monkeypatch.setenv("NOTIFY_SOCKET", str(path))
        monkeypatch.setenv("WATCHDOG_USEC", "3000000")
        yield listener


def test_the_manager_hears_ready_signs_of_life_and_the_end(manager: socket.socket) -> None:
    """A third of the watchdog's interval passes between signs, however often the loop comes by."""
    notifier = Notifier()
    notifier.ready()
    for step in range(500):
        notifier.alive(10.0 + step * 0.005)
    notifier.close()
    heard = [manager.recv(100) for _ in range(5)]
    assert heard == [b"READY=1", b"WATCHDOG=1", b"WATCHDOG=1", b"WATCHDOG=1", b"STOPPING=1"]


def test_without_a_manager_nothing_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Started by hand: no error, no socket."""
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    notifier = Notifier()
    notifier.ready()
    notifier.alive(1.0)
    notifier.close()


def test_a_manager_that_is_gone_does_not_hold_up_the_loop(manager: socket.socket) -> None:
    """Datagrams to a closed socket are dropped."""
    notifier = Notifier()
    manager.close()
    notifier.ready()
    notifier.alive(5.0)
    notifier.close()
