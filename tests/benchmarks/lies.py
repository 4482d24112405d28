"""Whether a box that measures wrong ever says that a panel is right: each lie of the reviews, and many sound panels.

A lie is told by the twin, with numbers of its own: a byte of the chip, other lamps, something before the sensor, lamps
whose lines and phosphor answer the cold differently. A panel that is completed with the truth outside the stated ± was
lied about. Everything else is fine: the light was refused or ended with words for it, or the ± held.
"""

import math
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random
from statistics import fmean
from typing import Any, Literal

from sumlight.box.description import BoxDescription, load_box
from sumlight.protocol.errors import BadRequestError
from sumlight.twin import demo
from sumlight.twin import lamps as twin_lamps
from tests.benchmarks.figure import Figure
from tests.control.bench_box import BenchBox, demo_box, recipe_text

DOSE_MJ_CM2 = 61.0
SOUND, QUICK_SOUND = 1000, 36
SEED = 1311
MID_S = 4.5
"""When something happens in the middle of a panel, after its first light."""
UPPER_VIOLET = 0x96
UV_GAIN_AND_TIME = 0x06
SWITCHED_AT, ATIME, ASTEP_LOW, ASTEP_HIGH = 0x01, 0x81, 0xCA, 0xCB

Act = Callable[[BenchBox], None]
Sensor = Literal["colour", "uv", "both"]
BESIDE = "below-colour"
"""The colour sensor beside a UV sensor, as the demo's box with both calls it."""
OTHER_SENSORS: dict[int, Sensor] = {2: "uv", 3: "both"}
"""Which of five sound boxes have another sensor than the AS7341."""
SENSORS_CALLED = {"uv": "a UV sensor", "both": "both sensors"}


@dataclass(frozen=True)
class Lie:
    """One way to be wrong. `before` acts between a good panel and the next, `within` in the middle of that one.

    `calibrated` sets the box right by a reference with 2 % (k = 2) first; `sensor` is an AS7341, an AS7331 or a head of
    both. `fresh` leaves the good panel out. With `apart_per_k` the lamps are warmed up first, and their lines follow
    the cold by so much more than their phosphor. With `words` the fault or the refusal that is expected must hold one
    of them.
    """

    review: str
    name: str
    before: Act | None = None
    within: Act | None = None
    calibrated: bool = False
    fresh: bool = False
    lamps: str = "tubes"
    sensor: Sensor = "colour"
    apart_per_k: float = 0.0
    dose_mj_cm2: float = DOSE_MJ_CM2
    scenario: dict[str, Any] = field(default_factory=dict)
    words: tuple[str, ...] = ()


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


def disturb(register: int, value: int, chip: str = "below") -> Act:
    """A register takes a value that nobody wrote."""
    return lambda bench: _chip(bench, chip).disturb(bench.clock.now_s, register, value)


def reads(register: int, change: Callable[[int], int], chip: str = "below") -> Act:
    """A byte comes wrong over the bus from now on."""

    def act(bench: BenchBox) -> None:
        _chip(bench, chip).misread[register] = change

    return act


def lost_at_reconnect(register: int, mask: int) -> Act:
    """The cable was off for a moment, and a bit of one register does not arrive when the sensor is set up anew."""

    def act(bench: BenchBox) -> None:
        _chip(bench).miswritten[register] = lambda value: value & mask
        bench.loop.banks["lower"].meter.connect(bench.clock.now_s)

    return act


def swapped_channels(bench: BenchBox) -> None:
    """ADC0 and ADC1 change places behind the registers."""
    chip = _chip(bench)
    publish = chip._publish
    chip._publish = lambda seen: publish([seen[1], seen[0], *seen[2:]])


def slow_clock(share: float) -> Act:
    """The chip's own clock, from now on."""

    def act(bench: BenchBox) -> None:
        chip = _chip(bench)
        chip.quirks = replace(chip.quirks, clock_error=share)
        bench.loop.banks["lower"].meter.connect(bench.clock.now_s)
        bench.run(25.0)

    return act


def clips(share: float) -> Act:
    """The analogue part clips early, and only STATUS2 says so."""

    def act(bench: BenchBox) -> None:
        _chip(bench).clips_at = share

    return act


def unseen_leds(bench: BenchBox) -> None:
    """The colour sensor goes silent, and somebody fits other LEDs meanwhile."""
    bench.happen("meter_disappears", meter=BESIDE)
    bench.run(1.5)
    bench.happen("lamps_swapped", lamp_type="led_385", hours=0.0)


def uv_window(transmission: float) -> Act:
    """Dirt lies before the UV sensor of a head of two and not before the other."""

    def act(bench: BenchBox) -> None:
        bench.happen("diffuser_fouls", transmission=transmission)
        bench.happen("diffuser_cleaned", meter=BESIDE)

    return act


def happens(do: str, **extra: Any) -> Act:
    """An event of the scenario's list."""
    return lambda bench: bench.happen(do, **extra)


def lines_apart(bench: BenchBox, share_per_k: float) -> None:
    """The lamps' lines follow the wall's temperature by so much more than their phosphor."""
    lamp = bench.world.lamp("lower")
    plain = lamp._left

    def left(hours: float) -> tuple[float, float]:
        band, lines = plain(hours)
        away_k = lamp.wall_c(max(lamp._t_s, lamp._since_s)) - twin_lamps.BEST_WALL_C
        return band, lines * (1 + share_per_k * away_k)

    lamp._left = left  # type: ignore[method-assign]


def rests(bench: BenchBox, seconds: float = 900.0) -> None:
    """The lamps go cold; control sleeps meanwhile, and finds its sensor again."""
    bench.clock.wait_until(bench.clock.now_s + seconds)
    bench.run(3.0)


def dirty_and_looked_at(bench: BenchBox) -> None:
    """Somebody had the box look at its LED when it was clean, does so again, and applies what it finds."""
    bench.self_check()
    bench.happen("diffuser_fouls", transmission=0.8)
    bench.self_check()
    bench.ask("self_check", bank="lower", apply=True)


LIES = (
    Lie("B", "ATIME 29 to 31", disturb(ATIME, 31), calibrated=True, words=("ATIME",)),
    Lie("B", "ATIME 29 to 25", disturb(ATIME, 25), calibrated=True, words=("ATIME",)),
    Lie("B", "ASTEP, low byte", disturb(ASTEP_LOW, 0xE6), calibrated=True, words=("ASTEP",)),
    Lie("B", "ASTEP, high byte", disturb(ASTEP_HIGH, 0x03), calibrated=True, words=("ASTEP",)),
    Lie("B", "a bit lost at reconnect", lost_at_reconnect(ATIME, 0xEF), calibrated=True, words=("ATIME",)),
    Lie("B", "half of 415 nm off the switch", disturb(SWITCHED_AT, 0x00), words=("SMUX", "violet")),
    Lie("B", "bit 12 of 415 nm stuck at 0", reads(UPPER_VIOLET, lambda b: b & 0xEF), words=("violet",)),
    Lie(
        "B", "the same from the first panel on", reads(UPPER_VIOLET, lambda b: b & 0xEF), fresh=True, words=("violet",)
    ),
    Lie("B", "bit 11 of 415 nm stuck at 0", reads(UPPER_VIOLET, lambda b: b & 0xF7), words=("violet",)),
    Lie("B", "bit 10 of 415 nm stuck at 0", reads(UPPER_VIOLET, lambda b: b & 0xFB), calibrated=True),
    Lie("B", "bit 9 of 415 nm stuck at 0", reads(UPPER_VIOLET, lambda b: b & 0xFD), calibrated=True),
    Lie("B", "bit 8 of 415 nm stuck at 0", reads(UPPER_VIOLET, lambda b: b & 0xFE), calibrated=True),
    Lie("B", "bit 13 of 415 nm stuck at 1", reads(UPPER_VIOLET, lambda b: b | 0x20), words=("violet", "dark")),
    Lie("B", "two bits of 415 nm swapped", reads(UPPER_VIOLET, lambda b: (b & 0xE7) | b >> 1 & 8 | b << 1 & 16)),
    Lie("B", "415 and 445 nm swapped, uncalibrated", swapped_channels, words=("violet",)),
    Lie("B", "415 and 445 nm swapped, calibrated", swapped_channels, calibrated=True),
    Lie("B", "chip clock 3 % slow", slow_clock(0.03), calibrated=True),
    Lie("B", "chip clock 3 % fast", slow_clock(-0.03), calibrated=True),
    Lie("B", "clipping at 45 % of full scale", clips(0.36), calibrated=True),
    Lie("C", "1,800 h apart", fresh=True, scenario={"ageing": "apart", "lamp_hours": 1800.0}),
    Lie("C", "tubes of another phosphor", fresh=True, scenario={"lamp_type": "other_fluorescent"}),
    *(
        Lie("C", f"LEDs of {nm} nm, {dose:g} mJ/cm²", fresh=True, dose_mj_cm2=dose, scenario={"lamp_type": f"led_{nm}"})
        for nm in (365, 385, 395, 405)
        for dose in (DOSE_MJ_CM2, 7.0)
    ),
    *(
        Lie("C", f"LEDs of {nm} nm, told as such", fresh=True, lamps="led", scenario={"lamp_type": f"led_{nm}"})
        for nm in (365, 395)
    ),
    Lie(
        "C",
        "1,800 h apart, by a UV sensor",
        fresh=True,
        sensor="uv",
        scenario={"ageing": "apart", "lamp_hours": 1800.0},
    ),
    Lie("C", "LEDs of 365 nm, by a UV sensor", fresh=True, sensor="uv", scenario={"lamp_type": "led_365"}),
    Lie("C", "LEDs of 405 nm, by a UV sensor", fresh=True, sensor="uv", scenario={"lamp_type": "led_405"}),
    *(
        Lie(
            "C",
            f"{name} put in unsaid, {dose:g} mJ/cm², by a UV sensor",
            happens("lamps_swapped", lamp_type=kind, hours=0.0),
            sensor="uv",
            calibrated=True,
            dose_mj_cm2=dose,
            words=("unlike those of the calibration", "UV-B"),
        )
        for name, kind in (("LEDs of 385 nm", "led_385"), ("other tubes", "other_fluorescent"))
        for dose in (DOSE_MJ_CM2, 7.0)
    ),
    Lie("B", "a UV sensor that clips early", clips(0.11), sensor="uv", calibrated=True),
    Lie("B", "a UV sensor's gain bit lost", lost_at_reconnect(UV_GAIN_AND_TIME, 0xEF), sensor="uv", words=("CREG1",)),
    Lie("B", "gain bit of the UV sensor lost, by both", lost_at_reconnect(UV_GAIN_AND_TIME, 0xEF), sensor="both"),
    Lie("B", "a UV sensor that clips early, by both", clips(0.11), sensor="both", calibrated=True),
    Lie("B", "ATIME 29 to 31 beside a UV sensor", disturb(ATIME, 31, BESIDE), sensor="both", calibrated=True),
    Lie(
        "B",
        "bit 12 of 415 nm stuck beside a UV sensor",
        reads(UPPER_VIOLET, lambda b: b & 0xEF, BESIDE),
        sensor="both",
        calibrated=True,
    ),
    Lie("C", "1,800 h apart, by both", fresh=True, sensor="both", scenario={"ageing": "apart", "lamp_hours": 1800.0}),
    *(
        Lie("C", f"LEDs of {nm} nm, by both", fresh=True, sensor="both", scenario={"lamp_type": f"led_{nm}"})
        for nm in (365, 405)
    ),
    *(
        Lie(
            "C",
            f"LEDs of {then} nm for {first}, {dose:g} mJ/cm², by both",
            happens("lamps_swapped", lamp_type=f"led_{then}", hours=0.0),
            sensor="both",
            calibrated=True,
            lamps="led",
            dose_mj_cm2=dose,
            scenario={"lamp_type": f"led_{first}"},
        )
        for first, then in ((365, 385), (385, 365))
        for dose in (DOSE_MJ_CM2, 7.0)
    ),
    *(
        Lie(
            "C",
            f"{name} put in unsaid, by both",
            happens("lamps_swapped", lamp_type=kind, hours=0.0),
            sensor="both",
            calibrated=True,
        )
        for name, kind in (("LEDs of 385 nm", "led_385"), ("other tubes", "other_fluorescent"))
    ),
    Lie(
        "C",
        "LEDs of 385 nm for 365, the colour sensor silent",
        unseen_leds,
        sensor="both",
        calibrated=True,
        lamps="led",
        scenario={"lamp_type": "led_365"},
    ),
    Lie(
        "F",
        "the UV sensor's window at 0.85, by both",
        uv_window(0.85),
        sensor="both",
        calibrated=True,
    ),
    Lie("F", "both windows at 0.80, looked at first", dirty_and_looked_at, sensor="both", calibrated=True),
    Lie("F", "40 minutes", dose_mj_cm2=4900.0, scenario={"lamp_hours": 1500.0, "room_c": 14.0}, words=("lit_limit_s",)),
    Lie("F", "diffuser at 0.92 within", within=happens("diffuser_fouls", transmission=0.92), calibrated=True),
    Lie("F", "diffuser at 0.80 from the start", happens("diffuser_fouls", transmission=0.8), calibrated=True),
    Lie("F", "the same, looked at first", dirty_and_looked_at, calibrated=True),
    Lie("F", "sensor moved by 60 mm within", within=happens("sensor_moved", x_mm=60.0, y_mm=0.0), calibrated=True),
    Lie("F", "sensor moved to the corner", within=happens("sensor_moved", x_mm=190.0, y_mm=140.0), calibrated=True),
    Lie("F", "mains from 0.94 to 1.02", happens("mains_factor", value=0.94), happens("mains_factor", value=1.02), True),
    Lie("F", "cold start, lines 0.2 %/K apart", rests, calibrated=True, apart_per_k=0.002),
    Lie("F", "cold start, lines 0.4 %/K apart", rests, calibrated=True, apart_per_k=0.004),
)
"""Those of reviews B (registers), C (a number that knows no lamp) and F (other scenarios)."""

OF_THE_LIGHT = ("less light than the last panel", "the light jumped")
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
    """Tell one lie to a box."""
    with a_box(lie.lamps, sensor=lie.sensor, **lie.scenario) as bench:
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
        return panel(bench, lie.dose_mj_cm2, lie.within)


@contextmanager
def a_box(
    lamps: str = "tubes", *, two_banks: bool = False, sensor: Sensor = "colour", **scenario: Any
) -> Iterator[BenchBox]:
    """A box of its own, uncalibrated, with these lamps in its file."""
    files = {"uv": demo.UV_SENSOR_BOX, "both": demo.BOTH_SENSORS_BOX}
    box: BoxDescription = load_box(files[sensor]) if sensor in files else demo_box(two_banks)
    banks = [bank.model_copy(update={"lamps": lamps}) for bank in box.banks]
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
                weaker += sensor == "colour" and any(
                    "less light than the last panel" in remark for remark in outcome.remarks
                )
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


def _chip(bench: BenchBox, name: str = "below") -> Any:
    return bench.world._chips[name]


def _standing(bench: BenchBox) -> tuple[str, ...]:
    return tuple(f"{fault.kind.fault}: {fault.detail}" for fault in bench.loop.desk.standing())


def _words(outcome: Outcome) -> str:
    if outcome.told_mj_cm2 is not None:
        share = 100 * (outcome.true_mj_cm2 / outcome.told_mj_cm2 - 1)
        verdict = "inside" if outcome.inside else "BELIEVED, outside"
        return f"{verdict} ±{100 * outcome.expanded_mj_cm2 / outcome.told_mj_cm2:.1f} % (true {share:+.1f} %)"
    said = outcome.refused or "; ".join(outcome.faults)
    return f"found, {outcome.true_mj_cm2:.1f} mJ/cm² given: {said[:90]}"
