"""What the tests of commissioning share: its steps, and somebody who does them."""

from typing import Any

from sumlight.cli.simulated_operator import SimulatedOperator
from sumlight.control.commissioning.state_machine import Commissioning
from tests.control.bench_box import BenchBox

ALL_STEPS = [
    "lid_shut",
    "k1_rest",
    "lid_open",
    "shut_contact_held",
    "open_contact_held",
    "over_temperature",
    "bank_relay",
    "k1_mirror",
    "lid_alone",
    "stop_alone",
    "cut_out_alone",
    "lid_under_light",
    "emergency_stop",
    "sensor_pulled",
    "light_blocked",
    "process_killed",
    "light_leak",
]


def at_step(bench: BenchBox, step: str) -> None:
    """Begin a run that stands at a step already."""
    bench.ask("commission_begin", who="A")
    run = bench.daemon.commander.commissioning._run
    assert run is not None
    run.index = ALL_STEPS.index(step)
    run._enter()


def where_k1_may_be_held(bench: BenchBox) -> Commissioning:
    """Begin a run that stands at the lid switch alone, and has seen K1 held in the dark."""
    at_step(bench, "lid_alone")
    run = bench.daemon.commander.commissioning._run
    assert run is not None
    run.k1_shown = True
    return run


def commission(bench: BenchBox, **attending: Any) -> dict[str, Any]:
    """Let the attendant do it; returns the run's picture."""
    picture = SimulatedOperator(bench, **attending).run()
    bench.loop = bench.daemon.loop
    bench.exposure = bench.loop.exposure
    return dict(picture["run"])
