"""How often those that watch are told, and that a change is told at once."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from sumlight.box.charge_pump import TICK_S
from sumlight.control import daemon
from sumlight.control.pace import IDLE_TICK_S, LINGER_S
from tests.control.bench_box import BenchBox
from tests.control.server.socket_desk import Caller

ASKED_EVERY_S = 0.01
"""Two ticks of light: so long may a word or a press at the box wait for the loop."""


@contextmanager
def watched(bench: BenchBox, path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[float], list[float]]]:
    """Somebody watches; yields what runs the box for a while and returns when pictures were sent, in box time."""
    monkeypatch.setattr(daemon, "time", SimpleNamespace(monotonic=bench.clock.mono_s))
    bench.daemon.serve(path)
    service, sent_s = bench.daemon.service, []
    assert service is not None
    caller = Caller(path)
    caller.send(b'{"id": 1, "command": "watch"}\n')

    def push(_picture: dict[str, Any]) -> None:
        sent_s.append(bench.clock.mono_s())

    monkeypatch.setattr(service, "push", push)

    def run(seconds: float) -> list[float]:
        sent_s.clear()
        bench.run(seconds)
        return list(sent_s)

    yield run
    caller.link.close()


def test_a_box_at_rest_is_shown_twice_a_second_and_a_change_at_once(
    bench: BenchBox, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing moves there; what does is not kept waiting."""
    bench.ready()
    bench.run(LINGER_S + 1.0)
    with watched(bench, tmp_path / "s", monkeypatch) as run:
        run(1.0)
        assert len(run(10.0)) in range(18, 22)
        bench.happen("lid_opens")
        opened_s = bench.clock.mono_s()
        assert run(0.2)[0] - opened_s <= 2 * IDLE_TICK_S


def test_light_is_shown_five_times_a_second_and_its_end_at_once(
    bench: BenchBox, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Often enough for a curve, and no oftener, for every picture costs the loop."""
    bench.light_up(dose_mj_cm2=5000, time_guard_s=30_000)
    with watched(bench, tmp_path / "s", monkeypatch) as run:
        run(1.0)
        assert len(run(10.0)) in range(47, 53)
        bench.happen("lid_opens")
        opened_s = bench.clock.mono_s()
        assert run(0.2)[0] - opened_s <= ASKED_EVERY_S + TICK_S


def test_dark_is_obeyed_within_two_ticks_of_light(
    bench: BenchBox, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The socket is looked at every second tick only; whenever the word comes, it waits no longer."""
    for late in range(3):
        bench.light_up(dose_mj_cm2=5000, time_guard_s=30_000)
        path = tmp_path / str(late)
        with watched(bench, path, monkeypatch) as run:
            run(0.1 + late * TICK_S)
            caller = Caller(path)
            said_s = bench.clock.mono_s()
            caller.send(b'{"id": 1, "command": "dark"}\n')
            bench.until(lambda: not bench.any_relay_lights(), 1.0)
            assert bench.clock.mono_s() - said_s <= ASKED_EVERY_S + TICK_S + 1e-6
            caller.link.close()
        service, bench.daemon.service = bench.daemon.service, None
        assert service is not None
        service.close()
        bench.ask("abandon")
