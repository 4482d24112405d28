"""A sensor that fails on the real bus while lamps are on."""

from tests.guest.inside.bench import ANSWER_MS, Bench, until
from tests.guest.inside.fixtures import Notes


def test_a_sensor_that_disappears_darkens(bench: Bench, notes: Notes) -> None:
    """Transfers end with ENXIO: dark within the box's bridging limit, `meter_lost`, and light again by a person's
    word once it is back."""
    bench.shining()
    began_s = bench.under_record()
    bench.sensor.become("absent")
    dark_s = bench.dark_after(began_s)
    notes.say(f"sensor unplugged to relay line at rest: {dark_s:.2f} s (bridge_limit_s 0.5)")
    assert dark_s < 1.0
    until(lambda: "meter_lost" in bench.faults(), "the fault")
    dose = bench.state()["exposure"]["sides"][0]["dose_mj_cm2"]
    assert dose > 0
    bench.shining()
    assert bench.state()["exposure"]["sides"][0]["dose_mj_cm2"] >= dose


def test_a_hung_bus_cannot_hold_the_lamps_on(bench: Bench, notes: Notes) -> None:
    """The loop is caught in a transfer that nobody answers for 2 s; the watch thread darkens long before."""
    bench.shining()
    ANSWER_MS.write_text("2000")
    try:
        began_s = bench.under_record()
        bench.sensor.become("hung")
        dark_s = bench.dark_after(began_s, limit_s=3)
        beat_s = bench.last_beat_after(began_s)
        notes.say(f"hung bus to relay line at rest: {dark_s:.2f} s, to last move of the enable line: {beat_s:.2f} s")
        assert dark_s < 0.8
        assert beat_s < 0.8
    finally:
        bench.sensor.become("present")
        ANSWER_MS.write_text("400")
    until(bench.faults, "a fault")
    assert set(bench.faults()) <= {"loop_late", "meter_lost"}
    assert not bench.lights()
