"""A front panel on the simulated box, and fingers and ears for it."""

from itertools import pairwise
from typing import Any

from sumlight.box.description import FrontPanel
from tests.control.bench_box import BenchBox

GO, STOP, BUZZER, LIGHT = 5, 26, 21, 4
CONFIRMED_S = 0.015
"""A press must last 10 ms to be one, and is then seen at the next tick."""


def panel(**changes: Any) -> FrontPanel:
    """Everything there is."""
    parts = {"go_pin": GO, "stop_pin": STOP, "buzzer_pin": BUZZER, "light_pin": LIGHT, "go_recipe": "quick"}
    return FrontPanel.model_validate(parts | changes)


def go(bench: BenchBox) -> None:
    """Press go once the box has stood still for a moment, and let it go."""
    bench.run(1.0)
    bench.happen("go_tapped")
    bench.run(0.3)


def beeps(bench: BenchBox, since_s: float) -> list[float]:
    """How long the buzzer has sounded each time since then."""
    changes = [(at_s, level) for at_s, level in bench.pin(BUZZER).history if at_s > since_s]
    return [off_s - on_s for (on_s, on), (off_s, off) in pairwise(changes) if on and not off]


def said(bench: BenchBox) -> str:
    """Why the last press did nothing."""
    return str(bench.snapshot()["front_panel"]["said"] or "")
