"""A light that cannot be is never counted to the end of a dose: foreign lamps, a sensor that lies, no calibration."""

from collections.abc import Callable

import pytest

from sumlight.box.description import BoxDescription
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.tablet_person import tablet_run

TARGET_MJ_CM2 = 60.0
VIOLET_HIGH = 0x96
"""Register of the upper byte of ADC0, which holds 415 nm."""


def box_with(lamps: str, **more: object) -> BoxDescription:
    """The demo box with these lamps in its box.yaml."""
    box = demo_box()
    bank = box.banks[0].model_copy(update={"lamps": lamps, **more})
    return box.model_copy(update={"banks": [bank]})


def light(bench: BenchBox, dose_mj_cm2: float = TARGET_MJ_CM2) -> float:
    """Expose one panel to its end or a fault; returns what it truly got."""
    bench.start_new(dose_mj_cm2=dose_mj_cm2)
    bench.until(lambda: bench.state in ("done", "faulted"))
    return bench.true_dose()


@pytest.mark.parametrize("dose_mj_cm2", [60.0, 5.0])
@pytest.mark.parametrize("lamp_type", ["led_385", "led_395", "led_405"])
def test_leds_where_the_file_says_tubes_never_complete_a_panel(
    make_bench: MakeBench, lamp_type: str, dose_mj_cm2: float
) -> None:
    """An uncalibrated box would say 60 mJ/cm² of a panel that got 4; the fault comes in a fifth of a second."""
    bench = make_bench(lamp_type=lamp_type)
    true = light(bench, dose_mj_cm2)
    assert bench.state == "faulted"
    assert bench.faults == ["light_unlikely"]
    assert bench.exposure.outcome is None
    assert true < 0.05 * TARGET_MJ_CM2
    assert "box.yaml (lamps)" in bench.loop.desk.standing()[0].detail


def test_leds_that_violet_cannot_see_are_not_called_dark(make_bench: MakeBench) -> None:
    """At 365 nm the lamps burn and the sensor counts next to nothing: said so, and dark before much light is given."""
    bench = make_bench(lamp_type="led_365")
    assert light(bench) < 5.0
    assert bench.faults == ["light_unlikely"]
    assert "365 nm" in bench.loop.desk.standing()[0].detail


def test_a_panel_after_unlikely_light_is_not_carried_on(make_bench: MakeBench) -> None:
    """Press after press would add up to a dose that nobody measured: it can only be abandoned."""
    bench = make_bench(lamp_type="led_395")
    light(bench)
    bench.run(1.0)
    bench.ask("acknowledge", who="somebody")
    bench.run(0.1)
    assert bench.state == "paused"
    assert bench.refused("go").code == "refused"
    assert not bench.any_light()
    bench.ask("abandon")
    assert bench.exposure.outcome == "abandoned"


def test_declared_leds_light_no_panel_before_they_are_calibrated(make_bench: MakeBench) -> None:
    """A tablet is exposed by the number in box.yaml, whatever it is worth; after it panels are lit."""
    bench = make_bench(box=box_with("led"), lamp_type="led_395")
    bench.ready()
    error = bench.refused("start", recipe="quick", panel="P1")
    assert error.code == "refused"
    assert "LEDs" in str(error)
    assert bench.snapshot()["calibration"]["lower"]["expanded_relative"] > 2
    bench.save("teach", bench.daemon.shelf.load("quick").text)
    bench.ask("series", recipe="teach", panel="T", kind="teach", seconds=4.0, legs=1)
    bench.until_state("done")
    bench.until(lambda: bench.snapshot()["logbook"]["lag_s"] == 0)
    bench.ask("teach", exposure_id=bench.snapshot()["exposure"]["exposure_id"])
    bench.start().until_state("done")
    assert bench.faults == []


def test_tubes_where_the_file_says_leds_are_named(make_bench: MakeBench) -> None:
    """By the blue line of mercury, which no LED has."""
    bench = make_bench(box=box_with("led"))
    bench.ready().ask("series", recipe="quick", panel="T", kind="steady", seconds=5.0, legs=1)
    bench.until(lambda: bench.state in ("done", "faulted"))
    assert bench.faults == ["light_unlikely"]


@pytest.mark.parametrize(
    ("lamp_type", "lamp_hours"),
    [("other_fluorescent", 0.0), ("other_fluorescent", 800.0), ("fluorescent", 1800.0)],
)
def test_an_uncalibrated_number_states_what_it_may_be_wrong_by(
    make_bench: MakeBench, lamp_type: str, lamp_hours: float
) -> None:
    """Phosphor of another make gives half the UV-A beside the same violet, and 1800 h take a quarter."""
    bench = make_bench(box=box_with("tubes"), ageing="apart", lamp_type=lamp_type, lamp_hours=lamp_hours)
    true = light(bench)
    assert bench.state == "done"
    side = bench.snapshot()["exposure"]["sides"][0]
    assert abs(true - side["dose_mj_cm2"]) < side["expanded_absolute_mj_cm2"]


def test_hours_in_the_file_make_its_number_more_doubtful(make_bench: MakeBench) -> None:
    """And count nothing once new lamps were recorded."""

    def stated(bench: BenchBox) -> float:
        return float(bench.snapshot()["calibration"]["lower"]["expanded_relative"])

    young = make_bench(box=box_with("tubes"))
    fresh = stated(young)
    young.kill()
    old = make_bench(box=box_with("tubes", lamp_hours=3000.0))
    assert stated(old) > 1.2 * fresh
    old.ready().ask("new_lamps", bank="lower", lamp_type="new tubes (invented)")
    assert stated(old) == pytest.approx(fresh, rel=0.01)


Corrupt = Callable[[int], int]

LIES: dict[str, dict[int, Corrupt]] = {
    "bit 12 of 415 nm stuck at 0": {VIOLET_HIGH: lambda byte: byte & ~0x10},
    "bit 11 of 415 nm stuck at 0": {VIOLET_HIGH: lambda byte: byte & ~0x08},
    "bit 10 of 415 nm stuck at 0": {VIOLET_HIGH: lambda byte: byte & ~0x04},
    "bit 13 of 415 nm stuck at 1": {VIOLET_HIGH: lambda byte: byte | 0x20},
    "bits 12 and 11 swapped": {VIOLET_HIGH: lambda b: (b & 0xE7) | (b & 0x10) >> 1 | (b & 0x08) << 1},
}


@pytest.mark.parametrize("lie", LIES)
def test_a_bit_that_lies_is_seen_against_the_panel_before(make_bench: MakeBench, lie: str) -> None:
    """Without any calibration; a bit that is 0 anyway misleads nobody until the light has risen to where it counts."""
    bench = make_bench()
    assert light(bench) == pytest.approx(TARGET_MJ_CM2, rel=0.02)
    bench.ready()
    bench.world._chips["below"].misread = dict(LIES[lie])
    true = light(bench)
    assert bench.exposure.outcome is None, f"{true:.1f} mJ/cm² went for {TARGET_MJ_CM2:g}"
    assert bench.state == "faulted"
    assert bench.side().dose_mj_cm2 == pytest.approx(true, rel=0.35, abs=3.0), "it ends before it has misled by much"


def test_a_dirty_window_is_not_forgotten_by_a_restart(make_bench: MakeBench) -> None:
    """The panel after it still tells of it, though its light is that of the last panel."""
    bench = make_bench()
    light(bench, 20.0)
    bench.happen("diffuser_fouls", transmission=0.8)
    bench.change_panel()
    light(bench, 20.0)
    stood = bench.loop.book.expected("lower", 0.0).standing
    assert stood is not None
    assert stood.weaker == pytest.approx(0.8, abs=0.06)
    bench.close()
    again = make_bench()
    assert again.loop.book.expected("lower", 0.0).standing == stood
    again.happen("diffuser_fouls", transmission=0.8)
    light(again, 20.0)
    assert any("less light than panels had before" in str(told) for told in again.snapshot()["warnings"])


def test_what_this_box_gave_before_is_known_after_a_restart(make_bench: MakeBench) -> None:
    """From the record of the last panel."""
    bench = make_bench()
    light(bench)
    seen = bench.loop.book.expected("lower", 0.0).before
    assert seen is not None
    bench.ready().kill()
    again = make_bench()
    assert again.loop.book.expected("lower", 0.0).before == seen


def test_channels_that_changed_places_are_seen(make_bench: MakeBench) -> None:
    """415 nm and 445 nm: both plausible under tubes, but not what this box gave before."""
    bench = make_bench()
    light(bench)
    bench.ready()
    chip = bench.world._chips["below"]
    publish = chip._publish
    chip._publish = lambda collected: publish([collected[1], collected[0], *collected[2:]])  # type: ignore[method-assign]
    light(bench)
    assert bench.exposure.outcome is None
    assert bench.faults == ["light_unlikely"]


def test_a_cold_start_new_hours_and_a_warm_room_are_the_same_light(make_bench: MakeBench) -> None:
    """Level and colour move, but not as a sensor that lies."""
    bench = make_bench(ageing="apart", lamp_hours=50.0)
    for room_c, hours in ((25.0, 0.0), (12.0, 20.0), (33.0, 60.0)):
        bench.happen("room_c", value=room_c)
        bench.world.burn_in("lower", hours)
        light(bench, 40.0)
        assert bench.faults == []
        assert bench.exposure.outcome == "completed"
        bench.ready()


@pytest.mark.long
def test_a_calibrated_box_compares_with_its_last_panel_too(make_bench: MakeBench) -> None:
    """A bit worth 6 % of violet: less than lamps of other makes differ by, so the calibration's colour says nothing."""
    bench = make_bench(ageing="apart", lamp_hours=300.0)
    assert tablet_run(bench, panel=3)["applied"]
    light(bench)
    bench.ready()
    bench.world._chips["below"].misread = {VIOLET_HIGH: lambda byte: byte & ~0x02}
    light(bench)
    assert bench.exposure.outcome is None
