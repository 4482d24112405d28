"""A box whose light sensor is set wrongly stays dark, or goes dark, and says why: no panel with twice the dose."""

import pytest

from tests.control.bench_box import BenchBox


@pytest.mark.parametrize(
    ("register", "wrong"),
    [(0x81, 0x02), (0xCB, 0x01), (0xAA, 0x02)],
    ids=["time +6.6 %", "time +43 %", "gain fourfold"],
)
def test_no_light_with_a_register_that_arrives_wrong(bench: BenchBox, register: int, wrong: int) -> None:
    """The sensor is set up anew and a bit is stuck from then on: no start, and the page is told register and value."""
    chip = bench.world._chips["below"]
    bench.ready()
    chip.miswritten[register] = lambda value: value | wrong
    chip.power_up()
    bench.run(3.0)
    bank = bench.snapshot()["banks"][0]
    assert bank["meter_ok"] is False
    assert f"register 0x{register & ~1 if register == 0xCB else register:02x}, reads" in bank["meter_message"]
    assert "gives no reading" in bench.refused("start", recipe="quick").message


def test_half_of_a_channel_lost_is_found_before_the_panel(bench: BenchBox) -> None:
    """Half of F1 off the switch would double the true dose."""
    bench.ready()
    bench.world._chips["below"].disturb(bench.clock.now_s, 0x01, 0x00)
    bench.run(3.5)
    # Set up anew at once, the map is right again: the box may light, and measures what is true.
    bench.start().until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.005)


def test_a_time_that_changes_under_light_ends_in_dark(bench: BenchBox) -> None:
    """ATIME 29 → 31 in the middle of a panel: within three seconds it is a fault of the meter."""
    bench.light_up(dose_mj_cm2=60)
    bench.run(1.0)
    at_s = bench.clock.now_s
    bench.world._chips["below"].disturb(at_s, 0x81, 31)
    bench.run(6.0)
    assert bench.faults == ["meter_lost"]
    assert bench.switched_off_after(at_s) <= 5.0
