"""Delivered against target dose on random lamps, rooms and mains, beside what fixed minutes would have given."""

import math
import tempfile
from pathlib import Path
from random import Random

from gpiozero import OutputDevice

from sumlight.box.description import BoxDescription, load_box
from sumlight.cli.simulated import SimulatedBox
from sumlight.store.recipes import recipe_to_text
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from sumlight.twin.optics import NOMINAL_MW_CM2
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World
from tests.benchmarks.figure import Figure

CASES, QUICK_CASES = 400, 60
SHORTEST_S, LONGEST_S = 10.0, 600.0
SEED = 20_26
PULSE_S = 0.02


def measure(quick: bool) -> list[Figure]:
    """Root mean square and worst error of the dose in percent of the target, true dose of the twin against target."""
    chance = Random(SEED)
    count = QUICK_CASES if quick else CASES
    measured, fixed, shortest = [], [], math.inf
    for number in range(count):
        scenario = random_scenario(chance, number)
        target = random_target(chance, LONGEST_S / (6 if quick else 1))
        true, lit_s = deliver(scenario, target)
        shortest = min(shortest, lit_s)
        measured.append(100 * (true / target - 1))
        fixed.append(100 * (fixed_time_dose(scenario, reference_time_s(target)) / target - 1))
    return [
        Figure(f"dose: rms error, {count} random boxes", rms(measured), "%", "at most", 0.1),
        Figure(f"dose: worst error, {count} random boxes", max(map(abs, measured)), "%", "at most", 0.3),
        Figure("dose: rms error of fixed minutes, same boxes", rms(fixed), "%", "for comparison"),
        Figure("dose: worst error of fixed minutes, same boxes", max(map(abs, fixed)), "%", "for comparison"),
        Figure("dose: shortest exposure among them", shortest, "s", "at least", SHORTEST_S),
    ]


def rms(values: list[float]) -> float:
    """Root mean square."""
    return math.sqrt(sum(value * value for value in values) / len(values))


def random_scenario(chance: Random, seed: int) -> Scenario:
    """Any lamp between new and 1500 h, any workshop from 10 to 35 °C, mains within ±7 %, 50 or 60 Hz.

    All of the light ages alike: this is about reaching a measured dose, not about what a calibration is worth.
    """
    return Scenario(
        seed=seed,
        ageing="alike",
        lamp_hours=chance.uniform(0, 1500),
        room_c=chance.uniform(10, 35),
        mains_factor=chance.uniform(0.93, 1.07),
        ripple_hz=chance.choice([100, 120]),
        ripple_depth=chance.uniform(0.1, 0.5),
        relay_release_s=chance.uniform(0.004, 0.015),
    )


def random_target(chance: Random, longest_s: float) -> float:
    """A dose that the strongest lamp gives in `SHORTEST_S` or more and an ordinary one in up to `longest_s`."""
    seconds = math.exp(chance.uniform(math.log(SHORTEST_S), math.log(longest_s)))
    return min(NOMINAL_MW_CM2 * seconds, 3000.0)


def deliver(scenario: Scenario, target_mj_cm2: float) -> tuple[float, float]:
    """Expose on the twin by the real control; returns the true dose and the seconds with lamps on."""
    with tempfile.TemporaryDirectory() as folder:
        box = SimulatedBox(demo_box(), scenario, Path(folder), speed=None, attended=True, threaded=False)
        try:
            box.daemon.shelf.save("bench", bench_recipe(target_mj_cm2))
            exposure = box.daemon.loop.exposure
            while "start" not in exposure.may() or not all(
                watch.fresh(box.clock.mono_s()) for watch in box.daemon.loop.banks.values()
            ):
                box.step()
            box.press("start", recipe="bench")
            while exposure.state not in ("done", "faulted"):
                box.step()
            if exposure.outcome != "completed":
                raise RuntimeError(f"{scenario}: {[fault.detail for fault in box.daemon.loop.desk.standing()]}")
            return box.truth.dose_mj_cm2()["A"], exposure.sides[0].lit_s
        finally:
            box.daemon.close()


def reference_time_s(target_mj_cm2: float) -> float:
    """The minutes somebody would have found by trial on a seasoned lamp in an ordinary room, bisected on the twin."""
    low_s, high_s = 0.0, 4 * target_mj_cm2 / NOMINAL_MW_CM2 + 60
    for _ in range(14):
        middle_s = (low_s + high_s) / 2
        if fixed_time_dose(Scenario(), middle_s) < target_mj_cm2:
            low_s = middle_s
        else:
            high_s = middle_s
    return (low_s + high_s) / 2


def fixed_time_dose(scenario: Scenario, lit_s: float) -> float:
    """The true dose of lamps that are simply on for `lit_s`."""
    box = demo_box().model_copy(update={"enable_pin": None})
    clock = TwinClock()
    world = World(clock, box, scenario)
    bank = box.banks[0]
    relay = OutputDevice(bank.relay_pin, active_high=bank.lights_when == "high", pin_factory=world.pin_factory)
    try:
        relay.on()
        clock.wait_until(clock.mono_s() + lit_s)
        relay.off()
        clock.wait_until(clock.mono_s() + 1.0)
        return world.actinic_mj_cm2(bank.name)
    finally:
        relay.close()


def demo_box() -> BoxDescription:
    """The one-bank demo box."""
    return load_box(demo.BOX)


def bench_recipe(target_mj_cm2: float, **changed: object) -> str:
    """A recipe without a stack: the dose at the glass is the dose at the resist."""
    return recipe_to_text(
        {
            "resist": "bench (invented)",
            "thickness_um": 38,
            "sides": "one",
            "dose_mj_cm2": target_mj_cm2,
            "transmission": {"a": 1.0},
            "time_guard_s": 1800,
            "hold_s": 900,
            "interruptions": {"forgiven": 0, "longest_gap_s": 0},
        }
        | changed
    )
