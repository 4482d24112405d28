"""What guards an exposure on the simulated box: bridging, time, darkness, a person's word; errors too."""

import math

import pytest
from gpiozero import PinSetInput

from sumlight.box.colour_meter import ColourMeter
from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.records.recorder import Recorder
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench


def test_a_meter_away_for_a_moment_is_bridged_with_doubt(bench: BenchBox) -> None:
    """0.3 s without an answer: light goes on, the gap is in the doubt, the dose is right."""
    bench.light_up(dose_mj_cm2=40)
    assert bench.side().sum.doubt_mj_cm2 == 0.0
    bench.bus_error(0.3)
    bench.run(0.2)
    assert bench.state == "light"
    assert 0.01 < bench.side().sum.doubt_mj_cm2 < 0.3
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(40, rel=0.005)
    assert bench.snapshot()["exposure"]["sides"][0]["expanded_uncertainty_mj_cm2"] > 2 * 0.06 * 40


def test_a_meter_away_for_longer_ends_in_dark_and_a_fault(bench: BenchBox) -> None:
    """0.6 s are beyond limits.bridge_limit_s; the dose is kept and can be continued once the meter is back."""
    bench.light_up(dose_mj_cm2=40)
    at_s = bench.clock.now_s
    bench.bus_error(0.6)
    assert bench.faults == ["meter_lost"]
    assert bench.switched_off_after(at_s) <= 0.51
    bench.run(2.0)
    bench.ask("acknowledge")
    bench.ask("go")
    bench.until_state("done")
    assert abs(bench.true_dose() - 40) <= bench.side().sum.doubt_mj_cm2 + 0.1
    assert bench.side().sum.doubt_mj_cm2 > 0.5


def test_a_reading_lost_in_the_tail_teaches_no_lead(bench: BenchBox) -> None:
    """What lamps give after the command is learned from whole tails only."""
    bench.start().until(lambda: bench.side().state == "cut")
    lead_s = bench.side().cut_off.lead_s
    bench.bus_error(0.12)
    bench.until_state("done")
    assert bench.side().sum.doubt_mj_cm2 > 0
    assert bench.side().cut_off.lead_s == lead_s
    bench.start().until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.003)


def test_bridging_uses_the_limit_of_the_box(make_bench: MakeBench) -> None:
    """A box that allows only 0.2 s goes dark then."""
    limits = demo_box().limits.model_copy(update={"bridge_limit_s": 0.2})
    bench = make_bench(box=demo_box(limits=limits)).light_up()
    at_s = bench.clock.now_s
    bench.bus_error(0.5)
    assert bench.switched_off_after(at_s) <= 0.21


def test_a_lost_meter_is_never_a_number(bench: BenchBox) -> None:
    """The picture says that it is lost and since when, not zero and not the last value."""
    bench.ready().happen("meter_disappears")
    bench.run(1.0)
    bank = bench.snapshot()["banks"][0]
    assert bank["irradiance_mw_cm2"] is None
    assert bank["meter_ok"] is False
    assert "0x39 does not answer" in bank["meter_message"]
    assert bank["reading_age_s"] == pytest.approx(1.0, abs=0.1)
    assert "gives no reading" in bench.refused("start", recipe="quick").message


def test_a_hung_meter_never_counts_as_reading(bench: BenchBox) -> None:
    """Being set up anew every second is not being read."""
    bench.ready().happen("meter_hangs")
    bench.run(1.0)
    for _ in range(600):
        bench.step()
        assert bench.snapshot()["banks"][0]["meter_ok"] is False
    assert bench.refused("start", recipe="quick").code == "refused"


def test_the_time_guard_of_the_recipe_ends_the_light(bench: BenchBox) -> None:
    """A dose that does not come in time means old lamps or a dirty sensor."""
    bench.start_new(dose_mj_cm2=500, time_guard_s=10)
    bench.until_state("faulted")
    assert bench.faults == ["time_guard"]
    assert bench.side().lit_s == pytest.approx(10.0, abs=0.02)
    assert "limit 10 s" in bench.loop.desk.standing()[0].detail


def test_the_time_guard_of_the_box_bounds_that_of_the_recipe(make_bench: MakeBench) -> None:
    """Whatever the recipe says."""
    limits = demo_box().limits.model_copy(update={"lit_limit_s": 5.0})
    bench = make_bench(box=demo_box(limits=limits))
    bench.start_new(dose_mj_cm2=500, time_guard_s=100).until_state("faulted")
    assert bench.faults == ["time_guard"]
    assert bench.side().lit_s == pytest.approx(5.0, abs=0.02)


def test_a_time_guard_that_has_run_out_does_not_relight(bench: BenchBox) -> None:
    """Acknowledged and continued, it ends at once again: no more than a moment of light each time."""
    bench.start_new(dose_mj_cm2=500, time_guard_s=5).until_state("faulted")
    lit_s = bench.side().lit_s
    bench.ask("acknowledge")
    bench.ask("go")
    bench.until_state("faulted")
    assert bench.side().lit_s - lit_s < 0.02
    bench.ask("abandon")
    bench.ask("acknowledge")
    assert "start" in bench.change_panel().exposure.may()


def test_daylight_in_the_box_refuses_to_light_until_it_is_gone(bench: BenchBox) -> None:
    """Fault, acknowledged only once it is dark, then go."""
    bench.ready().happen("daylight_enters", level_mw_cm2=2.0)
    bench.run(0.5)
    bench.ask("start", recipe="quick")
    bench.until_state("faulted", 3.0)
    assert bench.faults == ["light_while_dark"]
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["light_while_dark"]}
    bench.happen("daylight_ends")
    bench.run(0.5)
    assert bench.ask("acknowledge") == {"cleared": ["light_while_dark"], "standing": []}
    bench.ask("go")
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.003)


def test_go_with_the_lid_open_is_refused(bench: BenchBox) -> None:
    """Only after it was shut, and settled."""
    bench.light_up()
    bench.open_lid()
    assert "Shut it" in str(bench.refused("go").remedy)
    bench.happen("lid_closes")
    bench.run(0.05)
    assert bench.refused("go").code == "refused"
    bench.run(0.1)
    bench.ask("go")
    bench.run(2.0)
    assert bench.state == "light"


def test_side_b_needs_the_lid_to_have_been_opened(bench: BenchBox) -> None:
    """A go without turning the panel is refused."""
    bench.start_new(sides="turned", dose_mj_cm2=10)
    bench.until_state("turn")
    assert bench.refused("go").code == "refused"
    bench.turn_panel()
    bench.ask("go")
    bench.until_state("done")


def test_a_second_start_is_refused_and_disturbs_nothing(bench: BenchBox) -> None:
    """The first panel ends on its dose."""
    bench.start()
    for _ in range(12):
        error = bench.refused("start", recipe="quick")
        assert (error.code, error.remedy) == ("refused", "Finish it first, or give it up.")
        bench.run(0.5)
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.003)
    with bench.logbook() as book:
        assert len(book.recent()) == 1


def test_more_interruptions_than_the_recipe_forgives_mark_the_panel(bench: BenchBox) -> None:
    """It is completed all the same, and recorded as doubtful."""
    bench.light_up(dose_mj_cm2=40, forgiven=1, settled_s=0.5)
    for _ in range(2):
        bench.turn_panel()
        bench.ask("go")
        bench.until(bench.any_light)
        bench.run(0.5)
    bench.until_state("done")
    exposure = bench.snapshot()["exposure"]
    assert (exposure["outcome"], exposure["doubtful"]) == ("completed", True)
    assert "interrupted 2 times" in exposure["doubtful_why"]
    with bench.logbook() as book:
        row = book.recent()[0]
    assert row["doubtful"]
    assert row["sides"][0]["pauses"] == 2


def test_a_gap_longer_than_the_recipe_forgives_marks_the_panel(bench: BenchBox) -> None:
    """Six seconds with five forgiven."""
    bench.light_up(dose_mj_cm2=40, longest_gap_s=5, settled_s=0.5)
    bench.open_lid()
    bench.run(6.0)
    bench.shut_lid()
    bench.ask("go")
    bench.until_state("done")
    assert "lay dark" in bench.snapshot()["exposure"]["doubtful_why"]


def test_lamps_that_do_not_light_are_noticed_without_a_reading(make_bench: MakeBench) -> None:
    """The meter fell silent as well: the wait for light ends all the same, where it is shorter than bridging."""
    limits = demo_box().limits.model_copy(update={"strike_limit_s": 0.9, "bridge_limit_s": 2.0})
    bench = make_bench(box=demo_box(limits=limits))
    bench.ready().happen("tube_fails", tubes=6)
    bench.start().until(bench.any_relay_lights)
    at_s = bench.clock.now_s
    bench.happen("meter_hangs")
    bench.until_state("faulted")
    assert bench.faults == ["no_light"]
    assert bench.switched_off_after(at_s) == pytest.approx(0.9, abs=0.02)


def test_an_exposure_whose_record_is_gone_gets_no_permit(bench: BenchBox) -> None:
    """Light without a record would be lost with the next power cut."""
    bench.light_up()
    bench.exposure.record_ready = False
    bench.step()
    assert not bench.any_relay_lights()
    assert bench.loop.permit.conditions.refusals() == ("the exposure is not on disk yet",)


def test_a_process_that_stood_still_as_a_whole_goes_dark_at_its_next_tick(bench: BenchBox) -> None:
    """The watch stood still, too: the loop itself finds that time has passed."""
    bench.light_up()
    bench.clock.wait_until(bench.clock.now_s + 0.3)
    bench.step()
    assert not bench.any_relay_lights()
    assert bench.faults == ["loop_late"]
    assert abs(bench.side().dose_mj_cm2 - bench.true_dose()) <= bench.side().sum.doubt_mj_cm2 + 0.1


@pytest.mark.parametrize("where", [(ColourMeter, "poll"), (Exposure, "tick"), (Recorder, "journal")])
def test_an_error_of_the_program_in_a_tick_ends_dark_with_a_fault(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch, where: tuple[type, str]
) -> None:
    """In the very tick; the loop goes on, and the panel can be continued once the error is gone."""
    bench.light_up(dose_mj_cm2=40)

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("made for this test")

    with monkeypatch.context() as patch:
        patch.setattr(*where, broken)
        at_s = bench.clock.now_s
        bench.step()
        assert bench.switched_off_after(at_s) <= 0.005
        assert bench.pin(25).history[-1][1] is False
        bench.run(0.1)
        assert bench.faults == ["internal"]
        assert bench.loop.desk.standing()[0].detail == "ZeroDivisionError: made for this test"
    bench.run(0.3)
    bench.ask("acknowledge")
    bench.ask("go")
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(40, rel=0.01)


def test_a_relay_pin_that_cannot_be_written_ends_control_with_every_lamp_dark(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other bank and K1 are switched off in the same tick; then control ends, and the stuck pin is released."""
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="together")
    pin = bench.pin(17)
    real = type(pin)._write

    def stuck(self: object, value: float) -> None:
        if self is pin:
            raise PinSetInput("made for this test")
        real(self, value)  # type: ignore[arg-type]

    seen: list[tuple[bool | None, bool | None]] = []

    def step() -> None:
        try:
            bench.step()
        except PinSetInput:
            seen.append((bench.pin(27).history[-1][1], bench.pin(25).history[-1][1]))
            raise

    monkeypatch.setattr(type(pin), "state", property(type(pin)._read, stuck))
    bench.happen("lid_opens")
    until_s = bench.clock.now_s + 1.0  # a control that swallowed the pin's error would run on for ever
    with pytest.raises(PinSetInput):
        bench.daemon.run(lambda: bench.clock.now_s < until_s, step)
    assert seen == [(True, False)]
    assert [bench.relay_level(name) for name in ("lower", "upper")] == [None, None]
    bench.clock.wait_until(bench.clock.now_s + 0.3)
    assert not bench.any_light()


def test_the_next_deadline_shortens_the_wait_of_the_loop(bench: BenchBox) -> None:
    """A side is cut at its moment, not at the next full tick."""
    bench.start().until(lambda: bench.side().state == "lit" and not math.isinf(bench.exposure.next_deadline_s()))
    bench.until(lambda: bench.exposure.next_deadline_s() - bench.clock.now_s < 0.004)
    deadline_s = bench.exposure.next_deadline_s()
    bench.until(lambda: bench.side().state == "cut")
    relay_s = bench.pin(17).history[-1][0]
    assert relay_s == pytest.approx(deadline_s, abs=0.001)


def test_a_meter_is_not_set_up_anew_under_light(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """That takes its time and changes gain and integration; until the lamps are off the loop only asks."""
    bench.light_up()
    commanded: list[bool] = []
    bank, meter = bench.loop.box.banks[0], bench.loop.banks["lower"].meter
    real = meter.connect

    def connect(now_s: float) -> None:
        commanded.append(bank.commanded)
        real(now_s)

    monkeypatch.setattr(meter, "connect", connect)
    bench.bus_error(1.5)
    assert commanded
    assert not any(commanded)


def test_lamp_use_is_on_disk_while_the_lamps_still_burn(bench: BenchBox) -> None:
    """Twelve seconds of light: a kill now costs at most five of them (as the recorder promises)."""
    with bench.logbook() as book:
        before_s = book.bank_state("lower").lit_s
    bench.light_up(settled_s=12.0)
    assert bench.daemon.writer.drain(0)
    with bench.logbook() as book:
        assert book.bank_state("lower").lit_s - before_s >= 12.0 - 5.0
