"""The measured tick rate: what is counted, when it is judged, and what a computer that is too slow leads to."""

import time
from pathlib import Path
from typing import Any

import pytest

from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.box.description import load_box
from sumlight.cli import main
from sumlight.cli.trial import tried_hz
from sumlight.clock import SystemClock
from sumlight.control.pace import TickRate
from sumlight.store.datalock import DataLock
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from tests.benchmarks.fault_causes import computer_recovers, computer_slows
from tests.control.bench_box import BenchBox
from tests.control.commission_run import at_step, where_k1_may_be_held
from tests.control.conftest import MakeBench

NEEDED_HZ = needed_ticks_hz()
TOO_SLOW = f"This computer is too slow: 118 ticks a second, {NEEDED_HZ:.0f} needed."


def ticked(rate: TickRate, ticks_hz: float, seconds: float, from_s: float = 0.0, *, held: bool = True) -> float:
    """So many ticks a second for a while; returns the moment it ends."""
    count = round(seconds * ticks_hz)
    for number in range(count + 1):
        rate.ticked(from_s + number / ticks_hz, held=held)
    return from_s + count / ticks_hz


def test_the_longest_gap_is_that_of_the_last_seconds_and_none_at_rest() -> None:
    """A tick that came 0.15 s late shows for the five seconds after it, also to whoever asks once a second."""
    rate = TickRate(None, real_time=True)
    assert rate.longest_gap_s is None
    end_s = ticked(rate, 200.0, 3.0)
    assert rate.longest_gap_s == pytest.approx(0.005)
    end_s = ticked(rate, 200.0, 2.0, end_s + 0.15)
    assert rate.longest_gap_s == pytest.approx(0.15)
    end_s = ticked(rate, 200.0, 5.5, end_s + 0.005)
    assert rate.longest_gap_s == pytest.approx(0.005)
    rate.pause()
    assert rate.longest_gap_s is None


@pytest.mark.parametrize("ticks_hz", [200.0, 160.0, 118.0, 54.0])
def test_the_rate_is_that_of_the_last_seconds(ticks_hz: float) -> None:
    """Whatever was before is forgotten."""
    rate = TickRate(None, real_time=True)
    end_s = ticked(rate, 77.0, 10.0)
    ticked(rate, ticks_hz, 6.0, end_s + 1 / ticks_hz)
    assert rate.measured_hz == pytest.approx(ticks_hz, rel=0.01)


def test_too_slow_is_said_with_the_figure_after_five_seconds_and_not_before() -> None:
    """A single late tick, or a second of them, is the watch's business."""
    rate = TickRate(NEEDED_HZ, real_time=True)
    end_s = ticked(rate, 118.0, 4.5)
    assert rate.trouble() is None
    ticked(rate, 118.0, 1.0, end_s)
    trouble = rate.trouble()
    assert trouble is not None
    assert trouble.said() == TOO_SLOW


def test_fast_enough_is_no_trouble_even_with_one_long_stop() -> None:
    """0.15 s without a tick in five seconds at 200 a second."""
    rate = TickRate(NEEDED_HZ, real_time=True)
    end_s = ticked(rate, 200.0, 3.0)
    ticked(rate, 200.0, 3.0, end_s + 0.15)
    assert rate.trouble() is None


def test_light_is_counted_anew() -> None:
    """A slow time in the dark says nothing of the light that follows."""
    rate = TickRate(NEEDED_HZ, real_time=True)
    end_s = ticked(rate, 100.0, 6.0, held=False)
    ticked(rate, 200.0, 2.0, end_s + 0.005, held=True)
    assert rate.measured_hz == pytest.approx(200.0, rel=0.01)
    assert rate.trouble() is None


def test_a_trial_that_was_too_slow_stays_so_until_a_restart() -> None:
    """Whatever an idle loop manages afterwards."""
    rate = TickRate(NEEDED_HZ, real_time=True, trial_hz=118.0)
    ticked(rate, 200.0, 6.0)
    trouble = rate.trouble()
    assert trouble is not None
    assert "118 ticks a second" in trouble.said()


def test_only_time_that_runs_with_real_time_is_judged() -> None:
    """A twin that runs at another speed shows no rate; at speed 1 it does, as the machine's clock does."""
    assert SystemClock().real_time
    assert TwinClock(1.0).real_time
    assert not TwinClock(10.0).real_time
    assert not TwinClock(0.5).real_time
    assert not TwinClock(None).real_time
    rate = TickRate(NEEDED_HZ, real_time=False)
    ticked(rate, 50.0, 8.0)
    assert rate.measured_hz is None
    assert rate.trouble() is None


def test_a_box_without_a_charge_pump_asks_for_no_rate(make_bench: MakeBench) -> None:
    """Nothing that could stay open."""
    box = load_box(demo.BOX).model_copy(update={"enable_pin": None})
    assert make_bench(box=box).loop.rate.needed_hz is None


def test_light_ends_on_a_computer_that_became_too_slow_and_is_refused_until_it_recovers(bench: BenchBox) -> None:
    """Dark, latched, the figure in the detail; acknowledged only when the rate is there again."""
    bench.light_up(dose_mj_cm2=2000)
    computer_slows(bench)
    bench.run(3.1)
    assert bench.faults == ["too_slow"]
    assert not bench.any_relay_lights()
    assert "118 ticks a second" in bench.loop.desk.standing()[0].detail
    bench.run(1.0)
    bench.ask("acknowledge", who="test")
    assert bench.faults == ["too_slow"]
    computer_recovers(bench)
    bench.ask("acknowledge", who="test")
    assert bench.faults == []


def test_no_panel_is_started_on_a_computer_that_is_too_slow(bench: BenchBox) -> None:
    """Refused with the figure before anything lights."""
    bench.ready()
    computer_slows(bench)
    bench.run(3.5)
    refused = bench.refused("start", recipe="quick", panel="P1")
    assert refused.message == TOO_SLOW
    assert refused.remedy


@pytest.mark.parametrize(
    ("command", "values"),
    [
        ("start", {"recipe": "quick", "panel": "P1"}),
        ("series", {"kind": "steady", "recipe": "quick", "seconds": 30}),
        ("series", {"kind": "tablet", "recipe": "quick", "doses_mj_cm2": [10, 20]}),
        ("commission_next", {}),
    ],
    ids=["start", "steady series", "tablet series", "commissioning"],
)
def test_no_press_lights_on_a_computer_that_is_too_slow(bench: BenchBox, command: str, values: dict[str, Any]) -> None:
    """Whatever the press is for."""
    bench.ready()
    if command == "commission_next":
        at_step(bench, "bank_relay")
    computer_slows(bench)
    bench.run(3.5)
    assert bench.refused(command, **values).message == TOO_SLOW
    bench.run(1.0)
    assert not bench.any_relay_lights()


@pytest.mark.parametrize("sides", ["one", "turned"])
def test_nor_does_a_panel_go_on_there(bench: BenchBox, sides: str) -> None:
    """Continue after a pause, and side B: refused with the figure, the dose kept; it goes on once the rate is back."""
    bench.start_new(sides=sides, dose_mj_cm2=12)
    bench.until(lambda: bench.world.is_lit(bench.lit_bank))
    if sides == "one":
        bench.ask("dark")
    else:
        bench.until_state("turn")
        bench.turn_panel()
    state, strikes = bench.state, bench.snapshot()["banks"][0]["strikes"]
    computer_slows(bench)
    bench.run(3.5)
    refused = bench.refused("go")
    assert refused.message == TOO_SLOW
    assert refused.remedy
    bench.run(1.0)
    assert (bench.state, bench.snapshot()["banks"][0]["strikes"]) == (state, strikes)
    computer_recovers(bench)
    bench.ask("go")
    bench.until(lambda: bench.world.is_lit(bench.lit_bank))


def test_k1_is_not_lent_there_either(make_bench: MakeBench) -> None:
    """A step of commissioning that holds K1 alone would see it flutter."""
    bench = make_bench(hardwired_lid_switch=True).ready()
    where_k1_may_be_held(bench)
    computer_slows(bench)
    bench.run(3.5)
    assert bench.refused("commission_next", at_the_box=True).message == TOO_SLOW
    bench.run(1.0)
    assert not bench.loop.permit.k1.lent


def test_the_picture_of_the_box_carries_the_rate(bench: BenchBox) -> None:
    """As the page and `sumlight` show it."""
    assert bench.snapshot()["ticks"] == {"measured_hz": None, "needed_hz": NEEDED_HZ, "longest_gap_s": None}
    computer_slows(bench)
    bench.run(2.0)
    assert bench.snapshot()["ticks"]["measured_hz"] == pytest.approx(118, rel=0.01)


def test_a_trial_sees_work_that_takes_longer_than_the_period() -> None:
    """6 ms besides in every tick: at most every second slot is ticked at, whatever else the machine does."""
    rate_hz = tried_hz(load_box(demo.BOX), 50.0, work=lambda: time.sleep(0.006))
    assert rate_hz is not None
    assert rate_hz <= 101.0


def test_a_trial_ends_when_told_to_stop() -> None:
    """A service that is stopped while it starts."""
    assert tried_hz(load_box(demo.BOX), NEEDED_HZ, go_on=lambda: False) is None


def test_measuring_is_refused_while_control_works_on_the_box(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each would slow the other; the words say what to do."""
    with DataLock(tmp_path):
        assert main(["setup", "check", "--box", str(demo.BOX), "--measure", "--data", str(tmp_path)]) == 1
    said = capsys.readouterr().err
    assert "not measured" in said
    assert "stop it first" in said


def test_measuring_says_the_figure_and_whether_it_is_enough(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Status 0 only if it is."""
    for rate_hz, status in ((199.6, 0), (118.2, 1)):
        monkeypatch.setattr("sumlight.cli.check.tried_hz", lambda *_, found=rate_hz: found)
        assert main(["setup", "check", "--box", str(demo.BOX), "--measure", "--data", str(tmp_path)]) == status
        told = "".join(capsys.readouterr())
        assert f"{rate_hz:.0f} ticks a second, {NEEDED_HZ:.0f} needed" in told
