"""Somebody with a step tablet at the simulated box: exposes a panel as asked, develops it, reads it."""

from typing import Any

from sumlight.twin.panel import Panel, Resist
from tests.control.bench_box import BenchBox

TARGET_STEP = 8
RESIST = Resist(threshold_mj_cm2=6.0)
REFERENCE_MJ_CM2 = 6.0 * 10 ** (0.05 + 0.15 * (TARGET_STEP - 1))
"""The dose that just holds the target step of the invented resist, as its data sheet would say."""


def expose_zones(bench: BenchBox, doses_mj_cm2: list[float], recipe: str = "quick") -> dict[str, float]:
    """Expose the zones of one panel; returns the true dose of each."""
    bench.ready().ask("series", kind="tablet", recipe=recipe, panel="tablet", doses_mj_cm2=doses_mj_cm2)
    while True:
        bench.until(lambda: bench.state in ("turn", "done"))
        if bench.state == "done":
            return bench.truth.dose_mj_cm2()
        bench.turn_panel()
        bench.ask("go")


def develop(doses_mj_cm2: dict[str, float], panel: int | str, resist: Resist = RESIST) -> list[dict[str, Any]]:
    """Develop and read each zone's tablet, by the last step held in full."""
    piece = Panel(resist, panel)
    seen = {zone: piece.develop_tablet(dose, zone=zone) for zone, dose in doses_mj_cm2.items()}
    return [{"zone": zone, "step": read.step, "half": read.half} for zone, read in seen.items()]


def tablet_run(bench: BenchBox, panel: int | str, resist: Resist = RESIST) -> dict[str, Any]:
    """The whole guided run by commands only; returns the reply to the readings."""
    planned = bench.ask(
        "tablet_plan", recipe="quick", target_step=TARGET_STEP, zones=4, reference_mj_cm2=REFERENCE_MJ_CM2
    )
    true = expose_zones(bench, planned["doses_mj_cm2"])
    exposure_id = bench.snapshot()["exposure"]["exposure_id"]
    return bench.ask(
        "tablet_readings",
        exposure_id=exposure_id,
        convention="last_held",
        readings=develop(true, panel, resist),
        target_step=TARGET_STEP,
        reference_mj_cm2=REFERENCE_MJ_CM2,
        reference_uncertainty=0.005,
        apply="calibration",
    )
