"""What the tests of the scenario's events share: when the lamps must be dark, and that they stay so."""

from tests.control.bench_box import BenchBox

REACTION_S = 0.010
"""Two ticks: lid contact to lamp outputs off (design, §10)."""

STEP_SEEN_S = 0.3
"""Three conversions show a step, the first of them cut in two by it, and one must end first."""

BRIDGE_S = 0.5
"""limits.bridge_limit_s of the demo box."""


def stays_dark(bench: BenchBox, seconds: float = 5.0) -> None:
    """Nothing comes back by itself; the relay pin is never touched."""
    changes = len(bench.pin(17).history)
    bench.run(seconds)
    assert len(bench.pin(17).history) == changes
    assert not bench.any_relay_lights()
    assert not bench.any_light()


def happens(bench: BenchBox, do: str, **extra: object) -> float:
    """Let it happen; returns when it did."""
    bench.happen(do, **extra)
    return bench.clock.now_s


def darkens_with(bench: BenchBox, fault: str, do: str, **extra: object) -> None:
    """The event changes the reading suddenly while lamps are on: dark within the time a step takes to be seen."""
    at_s = happens(bench, do, **extra)
    bench.run(0.6)
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S
    assert bench.faults == [fault]
    stays_dark(bench)
