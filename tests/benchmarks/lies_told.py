"""The lies of the reviews: what is wrong, and how the twin is made to be so."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from sumlight.twin import lamps as twin_lamps
from tests.control.bench_box import BenchBox

DOSE_MJ_CM2 = 61.0
UPPER_VIOLET = 0x96
UV_GAIN_AND_TIME = 0x06
SWITCHED_AT, ATIME, ASTEP_LOW, ASTEP_HIGH = 0x01, 0x81, 0xCA, 0xCB

LEDS_NM = (365, 385, 395, 405)
SAME_UV_A = {(365, 385): 1.04, (365, 395): 1.22, (365, 405): 2.24, (385, 365): 0.965, (405, 365): 0.447}
"""LEDs for others, and how much of their nominal light gives the sensor as much UV-A as those did."""

Act = Callable[[BenchBox], None]
Sensor = Literal["colour", "uv", "both"]
BESIDE = "below-colour"
"""The colour sensor beside a UV sensor, as the demo's box with both calls it."""


@dataclass(frozen=True)
class Lie:
    """One way to be wrong. `before` acts between a good panel and the next, `within` in the middle of that one.

    `calibrated` sets the box right by a reference with 2 % (k = 2) first; `sensor` is an AS7341, an AS7331 or a head of
    both; `built_in` is what box.yaml says of LEDs. `fresh` leaves the good panel out. With `apart_per_k` the lamps are
    warmed up first, and their lines follow the cold by so much more than their phosphor. With `words` the fault or the
    refusal that is expected must hold one of them.
    """

    review: str
    name: str
    before: Act | None = None
    within: Act | None = None
    calibrated: bool = False
    fresh: bool = False
    lamps: str = "tubes"
    built_in: bool = False
    sensor: Sensor = "colour"
    apart_per_k: float = 0.0
    dose_mj_cm2: float = DOSE_MJ_CM2
    scenario: dict[str, Any] = field(default_factory=dict)
    words: tuple[str, ...] = ()


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


def other_leds(nm: int, left: float | None) -> Act:
    """Somebody fits other LEDs and says nothing; `left` of their nominal light are lit, all where it is None."""

    def act(bench: BenchBox) -> None:
        bench.happen("lamps_swapped", lamp_type=f"led_{nm}", hours=0.0)
        if left is not None:
            bench.world.lamp("lower").tubes_out(bench.clock.now_s, left)

    return act


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


def dirty_and_left(bench: BenchBox) -> None:
    """The same, and nobody applies what the second look found."""
    bench.self_check()
    bench.happen("diffuser_fouls", transmission=0.9)
    bench.self_check()


def _chip(bench: BenchBox, name: str = "below") -> Any:
    return bench.world._chips[name]


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
    *(
        Lie(
            "C",
            f"LEDs of {then} nm for {first}{' of the same UV-A' if level else ''}{' built in' if built_in else ''}, "
            "by a UV sensor",
            other_leds(then, level),
            sensor="uv",
            calibrated=True,
            lamps="led",
            built_in=built_in,
            scenario={"lamp_type": f"led_{first}"},
        )
        for first, then, level, built_in in (
            *((first, then, None, False) for first in LEDS_NM for then in LEDS_NM if first != then),
            *((first, then, same, False) for (first, then), same in SAME_UV_A.items()),
            (365, 405, None, True),
            (405, 365, None, True),
        )
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
    Lie("F", "the same by a UV sensor", happens("diffuser_fouls", transmission=0.8), sensor="uv", calibrated=True),
    Lie("F", "the same by both", happens("diffuser_fouls", transmission=0.8), sensor="both", calibrated=True),
    Lie("F", "diffuser at 0.80, looked at first", dirty_and_looked_at, calibrated=True),
    Lie("F", "diffuser at 0.90, found and left", dirty_and_left, calibrated=True),
    Lie("F", "sensor moved by 60 mm within", within=happens("sensor_moved", x_mm=60.0, y_mm=0.0), calibrated=True),
    Lie("F", "sensor moved to the corner", within=happens("sensor_moved", x_mm=190.0, y_mm=140.0), calibrated=True),
    Lie("F", "mains from 0.94 to 1.02", happens("mains_factor", value=0.94), happens("mains_factor", value=1.02), True),
    Lie("F", "cold start, lines 0.2 %/K apart", rests, calibrated=True, apart_per_k=0.002),
    Lie("F", "cold start, lines 0.4 %/K apart", rests, calibrated=True, apart_per_k=0.004),
)
"""Those of reviews B (registers), C (a number that knows no lamp) and F (other scenarios)."""
