"""The thermometer at the tubes: asked between lights only, kept with what is told of the lamps, named when it lies.

What a tube gives by its air stands here by the trade's own figure: 12 % less at 10 K from the best (common practice for
T8 tubes, no source).
"""

from typing import Any

import pytest

from sumlight.box import description
from sumlight.box.description import BoxDescription
from sumlight.box.thermometer import Thermometer
from sumlight.control.records.air import AirWatch
from sumlight.light.ageing import LampPoint, in_best_air
from sumlight.twin.thermometer import ThermometerChip
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench

PLACE = description.Thermometer(i2c_bus=1, i2c_address=0x18)


def with_thermometer(**place: Any) -> BoxDescription:
    """The demo box with one."""
    return demo_box(thermometer=PLACE.model_copy(update=place))


def chip_of(bench: BenchBox) -> ThermometerChip:
    """The simulated one."""
    chip = bench.world.thermometer
    assert chip is not None
    return chip


def air_of(bench: BenchBox) -> dict[str, Any]:
    """What clients are told."""
    found: dict[str, Any] = bench.snapshot()["air"]
    return found


def told_of_the_lamps(bench: BenchBox) -> tuple[dict[str, Any], LampPoint]:
    """The only reading of a light just over, and the day's point that is made of it."""
    bench.run(2.0)
    bench.daemon.writer.drain(0)
    with bench.logbook() as book:
        (reading,) = book.lamps.lamp_readings("lower")
        (point,) = book.lamps.lamp_history("lower").points
    return reading, point


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """A box with one, in a cool room."""
    return make_bench(box=with_thermometer(), room_c=18.0)


@pytest.mark.parametrize("room_c", [-5.0, 0.0, 18.0, 31.5])
def test_it_tells_the_air_at_the_tubes(make_bench: MakeBench, room_c: float) -> None:
    """To a sixteenth of a kelvin, below freezing too."""
    made = make_bench(box=with_thermometer(), room_c=room_c)
    made.run(1.5)
    assert air_of(made)["air_c"] == pytest.approx(room_c, abs=1 / 16)


def test_a_box_without_one_tells_nothing(make_bench: MakeBench) -> None:
    """As all boxes until now."""
    made = make_bench()
    made.run(0.5)
    assert made.snapshot()["air"] is None


def test_it_is_asked_where_box_yaml_says(make_bench: MakeBench) -> None:
    """Wired at 0x1a: found there, and nowhere else."""
    made = make_bench(box=with_thermometer(i2c_address=0x1A), wiring=with_thermometer(i2c_address=0x1A))
    made.run(1.5)
    assert air_of(made)["air_c"] is not None
    made.close()
    made = make_bench(box=with_thermometer(), wiring=with_thermometer(i2c_address=0x1A))
    made.run(1.5)
    assert air_of(made)["air_c"] is None
    assert "0x18 does not answer" in str(air_of(made)["trouble"])


def test_it_is_never_asked_while_lamps_may_be_on(bench: BenchBox) -> None:
    """Its share of the bus is left to the light sensor; between lights it is asked every ten seconds."""
    bench.run(35.0)
    assert 5 <= chip_of(bench).reads <= 7
    bench.start_new(dose_mj_cm2=150)
    bench.until(lambda: bench.loop.k1_held)
    held: list[int] = []
    bench.after_step = lambda: held.append(chip_of(bench).reads) if bench.loop.k1_held else None
    bench.until_state("done")
    assert len(held) > 20.0 / 0.005
    assert set(held) == {held[0]}
    bench.run(11.0)
    assert chip_of(bench).reads > held[0]


def test_what_it_said_before_the_light_is_kept_with_it(bench: BenchBox) -> None:
    """And a cold room is no ageing: the day's light is what the tubes would give in their best air."""
    bench.run(1.5)
    bench.start_new(dose_mj_cm2=20)
    bench.until_state("done")
    reading, point = told_of_the_lamps(bench)
    assert reading["air_c"] == pytest.approx(18.0, abs=0.1)
    assert point.mw_cm2 > 1.03 * reading["settled_mw_cm2"]
    assert in_best_air(0.88, 15.0) == pytest.approx(1.0, abs=0.01)


def test_leds_are_not_judged_by_the_law_of_tubes(make_bench: MakeBench) -> None:
    """Cold does them good."""
    box = with_thermometer()
    box = box.model_copy(update={"banks": [box.banks[0].model_copy(update={"lamps": "led"})]})
    made = make_bench(box=box, room_c=15.0, lamp_type="led_405")
    made.run(1.5)
    made.ready().ask("series", kind="teach", recipe="quick", panel="", seconds=5.0)
    made.until_state("done")
    reading, point = told_of_the_lamps(made)
    assert reading["air_c"] == pytest.approx(15.0, abs=0.1)
    assert point.mw_cm2 == pytest.approx(reading["settled_mw_cm2"])


@pytest.mark.parametrize(("off_k", "says"), [(80.0, "98 °C"), (-80.0, "-62 °C"), (50.0, "68 °C"), (30.0, "48 °C")])
def test_a_sudden_step_is_a_thermometer_that_lies(bench: BenchBox, off_k: float, says: str) -> None:
    """No temperature is told or kept meanwhile; when it comes back to what can be, it is believed again."""
    bench.run(11.0)
    chip_of(bench).off_k = off_k
    bench.run(11.0)
    told = air_of(bench)
    assert told["air_c"] is None
    assert str(told["trouble"]).startswith(f"the thermometer lies: it says {says}")
    assert bench.loop.recorder.air.air_c(bench.clock.now_s) is None
    assert bench.faults == []
    chip_of(bench).off_k = 0.0
    bench.run(11.0)
    assert air_of(bench)["air_c"] == pytest.approx(18.0, abs=0.1)


def test_a_first_reading_that_cannot_be_is_not_believed(bench: BenchBox) -> None:
    """There is none before it to compare with."""
    chip_of(bench).off_k = 80.0
    bench.run(1.0)
    assert air_of(bench)["air_c"] is None
    assert "the thermometer lies: it says 98 °C" in str(air_of(bench)["trouble"])


@pytest.mark.parametrize("first_c", [0.0, 12.0, 44.0])
def test_a_first_reading_that_is_wrong_does_not_make_the_true_ones_lies(bench: BenchBox, first_c: float) -> None:
    """0 °C is what the chip says before its first conversion; 12 °C could follow 18 °C, and is not told either."""
    chip_of(bench).off_k = first_c - 18.0
    bench.run(0.2)
    assert chip_of(bench).reads == 1
    told = air_of(bench)
    assert told["air_c"] is None
    assert str(told["trouble"]) == f"the thermometer says {first_c:.0f} °C and is believed once three readings agree"
    assert bench.loop.recorder.air.air_c(bench.clock.now_s) is None
    chip_of(bench).off_k = 0.0
    bench.run(2.0)
    assert air_of(bench) == {"air_c": pytest.approx(18.0, abs=0.1), "trouble": None}
    bench.run(31.0)
    assert air_of(bench)["trouble"] is None


def test_a_thermometer_that_never_agrees_with_itself_tells_nothing(bench: BenchBox) -> None:
    """Two in a row are not enough."""
    thermometer = bench.loop.box.thermometer
    assert isinstance(thermometer, Thermometer)
    for number in range(12):
        chip_of(bench).off_k = 3.0 * (number // 2 % 2)
        thermometer.read(bench.clock.now_s)
        assert thermometer.air_c is None


def test_a_lie_does_not_become_true_by_being_repeated(bench: BenchBox) -> None:
    """An hour later it is still one; a room that really changes is followed."""
    bench.run(11.0)
    thermometer = bench.loop.box.thermometer
    assert isinstance(thermometer, Thermometer)
    now_s = bench.clock.now_s
    chip_of(bench).off_k = 40.0
    for minute in range(120):
        thermometer.read(now_s + 60.0 * minute)
        assert thermometer.air_c is None
    chip_of(bench).off_k = 0.0
    for minute in range(120, 180):
        chip_of(bench).off_k += 0.25
        thermometer.read(now_s + 60.0 * minute)
        assert thermometer.air_c is not None


def test_one_that_is_unplugged_stops_nothing(bench: BenchBox) -> None:
    """It is named, the panel is exposed, and it is found again."""
    bench.run(1.0)
    chip_of(bench).present = False
    bench.run(11.0)
    assert "does not answer" in str(air_of(bench)["trouble"])
    bench.start_new(dose_mj_cm2=10)
    bench.until_state("done")
    assert bench.faults == []
    chip_of(bench).present = True
    bench.run(15.0)
    assert air_of(bench)["trouble"] is None


def test_old_air_says_nothing_of_a_light() -> None:
    """A quarter of an hour is the most."""

    class Kept:
        air_c, read_s, trouble = 21.0, 1000.0, None

    watch = AirWatch(Kept())  # type: ignore[arg-type]
    assert watch.air_c(1000.0 + 899.0) == 21.0
    assert watch.air_c(1000.0 + 901.0) is None


def test_a_self_check_takes_the_cold_out_of_what_the_lamps_gave(make_bench: MakeBench) -> None:
    """At 15 °C tubes give 12 % less: by so much the light is raised before it is compared."""
    made = make_bench(box=with_thermometer(), room_c=15.0)
    made.run(1.5)
    made.start_new(dose_mj_cm2=20)
    made.until_state("done")
    made.change_panel()
    made.self_check()
    made.daemon.writer.drain(0)
    with made.logbook() as book:
        (check,) = book.calibrations.kept().self_checks
    seen = made.loop.banks["lower"].settled_basic_counts
    assert seen is not None
    assert check.lamp_basic_counts == pytest.approx(seen / 0.88, rel=0.01)
