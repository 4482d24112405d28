"""Whether a box that measures wrong ever says that a panel is right: each lie of the reviews, and many sound panels.

A lie (`lies_told`) is told by the twin, with numbers of its own: a byte of the chip, other lamps, something before the
sensor, lamps whose lines and phosphor answer the cold differently. A panel that is completed with the truth outside the
stated ± was lied about. Everything else is fine: the light was refused or ended with words for it, or the ± held.
"""

import math
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from statistics import fmean
from typing import Any

from sumlight.box.description import BoxDescription, load_box
from sumlight.protocol.errors import BadRequestError
from sumlight.twin import demo
from tests.benchmarks.figure import Figure
from tests.benchmarks.lies_told import DOSE_MJ_CM2, LIES, Act, Lie, Sensor, lines_apart, rests
from tests.control.bench_box import BenchBox, demo_box, recipe_text

SOUND, QUICK_SOUND = 1000, 36
SEED = 1311
AFTERWARDS = 2
"""Panels that follow the one at which the lie was told."""
MID_S = 4.5
"""When something happens in the middle of a panel, after its first light."""
OTHER_SENSORS: dict[int, Sensor] = {2: "uv", 3: "both"}
"""Which of five sound boxes have another sensor than the AS7341."""
SENSORS_CALLED = {"uv": "a UV sensor", "both": "both sensors"}


LESS_LIGHT = "less light than panels had before"


@dataclass(frozen=True)
class Outcome:
    """What came of one panel. `told` is what it was said to have got, None if it was not completed."""

    true_mj_cm2: float
    told_mj_cm2: float | None
    expanded_mj_cm2: float
    faults: tuple[str, ...]
    remarks: tuple[str, ...]
    refused: str

    @property
    def completed(self) -> bool:
        """Whether the box says that the panel has its dose."""
        return self.told_mj_cm2 is not None

    @property
    def inside(self) -> bool:
        """Whether the truth lies within what is stated."""
        return self.told_mj_cm2 is not None and abs(self.true_mj_cm2 - self.told_mj_cm2) <= self.expanded_mj_cm2

    @property
    def lied(self) -> bool:
        """Completed, and the truth outside."""
        return self.completed and not self.inside

    def named(self, words: tuple[str, ...]) -> bool:
        """Whether it was refused, ended or remarked upon with one of these words."""
        said = " ".join((*self.faults, *self.remarks, self.refused))
        return bool(self.refused or self.faults) and (not words or any(word in said for word in words))


OF_THE_LIGHT = (LESS_LIGHT, "the light jumped")
"""Remarks that tell of a lie which does not end the panel."""


def measure(quick: bool) -> list[Figure]:
    """Count the lies that were believed, and the sound panels that were not."""
    believed, silent, found, inside, unnamed = 0, 0, 0, 0, 0
    for lie in LIES:
        outcome = told(lie)
        believed += outcome.lied
        silent += outcome.lied and not any(word in remark for word in OF_THE_LIGHT for remark in outcome.remarks)
        inside += outcome.inside
        found += not outcome.completed
        unnamed += not outcome.completed and not outcome.named(lie.words)
        print(f"  {lie.review} {lie.name:42} {_words(outcome)}")
    panels = sound(QUICK_SOUND if quick else SOUND)
    return [
        Figure(f"lies: believed, truth outside ±, of {len(LIES)}", believed, "", "at most", 0),
        Figure("lies: of these without a word about the light", silent, "", "at most", 0),
        Figure("lies: ended or refused without their own words", unnamed, "", "at most", 0),
        Figure("lies: ended or refused in time", found, "", "for comparison"),
        Figure("lies: completed, truth inside ±", inside, "", "for comparison"),
        *panels,
    ]


def told(lie: Lie) -> Outcome:
    """Tell one lie to a box; returns the first panel that is not completed or lies, of those that follow else the last.

    What was noticed once must not be forgotten: the panels that follow get the same light.
    """
    with a_box(lie.lamps, built_in=lie.built_in, sensor=lie.sensor, **lie.scenario) as bench:
        if lie.apart_per_k:
            lines_apart(bench, lie.apart_per_k)
            bench.start_new(dose_mj_cm2=900, time_guard_s=900).until_state("done", 400.0)
        if lie.calibrated:
            by_reference(bench)
        if not lie.fresh:
            panel(bench, DOSE_MJ_CM2)
            bench.ready()
        if lie.before is not None:
            lie.before(bench)
        worst = panel(bench, lie.dose_mj_cm2, lie.within)
        for _ in range(0 if lie.fresh else AFTERWARDS):
            if not worst.completed or worst.lied:
                break
            bench.ready()
            worst = panel(bench, lie.dose_mj_cm2)
        return worst


@contextmanager
def a_box(
    lamps: str = "tubes",
    *,
    two_banks: bool = False,
    sensor: Sensor = "colour",
    built_in: bool = False,
    **scenario: Any,
) -> Iterator[BenchBox]:
    """A box of its own, uncalibrated, with these lamps in its file, and whether LEDs are built in."""
    files = {"uv": demo.UV_SENSOR_BOX, "both": demo.BOTH_SENSORS_BOX}
    box: BoxDescription = load_box(files[sensor]) if sensor in files else demo_box(two_banks)
    banks = [bank.model_copy(update={"lamps": lamps, "leds_built_in": built_in}) for bank in box.banks]
    with tempfile.TemporaryDirectory() as folder:
        bench = BenchBox(Path(folder), box=box.model_copy(update={"banks": banks}), **scenario)
        try:
            yield bench
        finally:
            bench.close()


def by_reference(bench: BenchBox) -> None:
    """A good radiometer's reading, right on average over the lamps' ripple."""
    bench.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=23.0)
    bench.until(lambda: bench.world.is_lit("lower"))
    bench.run(9.0)
    began_s, before = bench.clock.now_s, bench.world.actinic_mj_cm2("lower")
    bench.run(0.5)
    mean = (bench.world.actinic_mj_cm2("lower") - before) / (bench.clock.now_s - began_s)
    bench.ask("radiometer", bank="lower", mw_cm2=mean, relative_uncertainty=0.01)
    bench.until_state("done")


def panel(bench: BenchBox, dose_mj_cm2: float, within: Act | None = None, stack: float = 0.8) -> Outcome:
    """Expose one panel to its end, its fault, or its refusal."""
    text = recipe_text(dose_mj_cm2=dose_mj_cm2, time_guard_s=30_000).replace("a: 0.8", f"a: {stack:g}")
    bench.save("special", text)
    remarks: set[str] = set()
    try:
        bench.start("special")
    except BadRequestError as error:
        return Outcome(0.0, None, 0.0, (), (), error.in_full)
    except AssertionError:  # the box never became ready: what it says instead
        return Outcome(0.0, None, 0.0, (*_standing(bench), str(bench.loop.banks["lower"].meter.lost)), (), "")
    asked_s = 0.0
    while bench.state not in ("done", "faulted"):
        bench.run(0.1)
        lit_s = bench.side().lit_for_s(bench.clock.now_s)
        if within is not None and lit_s > MID_S:
            within(bench)
            within = None
        if bench.clock.now_s > asked_s:
            asked_s = bench.clock.now_s + 1.0
            remarks |= set(bench.snapshot()["warnings"])
    bench.run(0.2)
    side = bench.snapshot()["exposure"]["sides"][0]
    done = bench.exposure.outcome == "completed"
    return Outcome(
        bench.true_dose(),
        side["dose_mj_cm2"] if done else None,
        side["expanded_absolute_mj_cm2"],
        _standing(bench),
        tuple(remarks),
        "",
    )


def sound(count: int) -> list[Figure]:
    """Sound panels one after the other, some boxes with two banks, some with a UV sensor, some with both sensors.

    What is found fault with, and how wide the ± is: without a LED of its own a UV sensor cannot clear its window.
    """
    chance = Random(SEED)
    wrong: Counter[str] = Counter()
    widths: dict[Sensor, list[float]] = {"colour": [], "uv": [], "both": []}
    weaker, outside, seen, boxes = 0, 0, 0, 0
    while seen < count:
        boxes += 1
        two_banks, sensor = chance.random() < 0.27, OTHER_SENSORS.get(boxes % 5, "colour")
        with a_box(two_banks=two_banks, sensor=sensor, ageing="apart", lamp_hours=chance.uniform(18, 900)) as bench:
            by_reference(bench)
            if sensor != "uv":
                bench.self_check()
            for _ in range(min(12, count - seen)):
                live_on(bench, chance)
                outcome = panel(bench, chance.uniform(12, 90), stack=chance.uniform(0.35, 0.95))
                seen += 1
                wrong.update(outcome.faults)
                wrong.update(["not completed"] if not outcome.completed and not outcome.faults else [])
                weaker += sensor == "colour" and any(LESS_LIGHT in remark for remark in outcome.remarks)
                outside += outcome.lied
                width = outcome.expanded_mj_cm2 / outcome.told_mj_cm2 if outcome.told_mj_cm2 else math.inf
                widths[sensor].append(width)
                if outcome.faults:
                    bench.ask("acknowledge", who="somebody")
                    bench.ask("abandon")
                bench.ready()
    others = [(sensor, fmean(widths[sensor])) for sensor in ("uv", "both") if widths[sensor]]
    for name, times in wrong.items():
        print(f"  sound panels: {name}: {times}")
    return [
        Figure(f"lies: faults or doubts of {count} sound panels", wrong.total(), "", "at most", max(1, count // 1000)),
        Figure("lies: sound panels with the truth outside ±", 100 * outside / count, "%", "at most", 5),
        Figure("lies: mean ± of sound panels (k = 2)", 100 * fmean(widths["colour"]), "%", "at most", 6),
        *(
            Figure(f"lies: the same under {SENSORS_CALLED[sensor]}", 100 * width, "%", "for comparison")
            for sensor, width in others
        ),
        Figure(
            "lies: sound panels told to be weaker than the last",
            100 * weaker / len(widths["colour"]),
            "%",
            "for comparison",
        ),
    ]


def live_on(bench: BenchBox, chance: Random) -> None:
    """Between two panels: the room, a rest, some hours, now and then new tubes that are recorded and calibrated."""
    bench.happen("room_c", value=chance.uniform(15, 31))
    rests(bench, chance.choice([5.0, 60.0, 600.0]))
    if chance.random() < 0.3:
        hours = chance.uniform(0.5, 12)
        bench.world.burn_in("lower", hours)
        bench.loop.recorder.add_use("lower", 3600 * hours, 5)
    if chance.random() < 0.06:
        bench.ready()
        bench.happen("lamps_swapped", lamp_type="fluorescent", hours=0.0)
        bench.ask("new_lamps", bank="lower", lamp_type="tubes (invented)")
        by_reference(bench)
    if bench.snapshot()["calibration"]["lower"]["self_check_due"]:
        bench.self_check()
    bench.ready()


def _standing(bench: BenchBox) -> tuple[str, ...]:
    return tuple(f"{fault.kind.fault}: {fault.detail}" for fault in bench.loop.desk.standing())


def _words(outcome: Outcome) -> str:
    if outcome.told_mj_cm2 is not None:
        share = 100 * (outcome.true_mj_cm2 / outcome.told_mj_cm2 - 1)
        verdict = "inside" if outcome.inside else "BELIEVED, outside"
        return f"{verdict} ±{100 * outcome.expanded_mj_cm2 / outcome.told_mj_cm2:.1f} % (true {share:+.1f} %)"
    said = outcome.refused or "; ".join(outcome.faults)
    return f"found, {outcome.true_mj_cm2:.1f} mJ/cm² given: {said[:90]}"
