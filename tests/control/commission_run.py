"""What the tests of commissioning share: its steps, and somebody who does them."""

from typing import Any

from sumlight.cli.attend import Attending
from tests.control.bench_box import BenchBox

ALL_STEPS = [
    "lid_shut",
    "lid_open",
    "shut_contact_held",
    "open_contact_held",
    "over_temperature",
    "bank_relay",
    "k1_mirror",
    "lid_under_light",
    "emergency_stop",
    "sensor_pulled",
    "light_blocked",
    "process_killed",
    "light_leak",
]


def commission(bench: BenchBox, **attending: Any) -> dict[str, Any]:
    """Let the attendant do it; returns the run's picture."""
    picture = Attending(bench, **attending).run()
    bench.loop = bench.daemon.loop
    bench.exposure = bench.loop.exposure
    return dict(picture["run"])
