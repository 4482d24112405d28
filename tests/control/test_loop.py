"""The loop's own promises: what it does in every tick and how often, what it lets be, and which faults stand.

Judged by the pins' own record, the faults that stand, and the logbook.
"""

import itertools
import logging
import time
from collections.abc import Callable
from typing import Any

import pytest

from sumlight.box.charge_pump import TICK_S
from sumlight.box.colour_meter import ColourMeter
from sumlight.box.description import AuxiliaryOutputs
from sumlight.box.lamps import LightRefusedError
from sumlight.control.pace import LINGER_S
from sumlight.control.safety.watchdog import STALL_S
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import as_written
from tests.benchmarks.fault_causes import computer_slows
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.safety.test_dark import writes

RELAY, ENABLE = 17, 25


def counted(bench: BenchBox, pin: int, seconds: float) -> int:
    """How often a pin is written while so much time passes."""
    seen: list[float] = []
    with writes(bench.pin(pin), lambda real, value: (seen.append(value), real(value))):  # type: ignore[arg-type]
        bench.run(seconds)
    return len(seen)


# What it does how often


@pytest.mark.parametrize("pin", [RELAY, ENABLE])
def test_off_is_written_ten_times_a_second_in_the_dark_and_not_in_every_tick(bench: BenchBox, pin: int) -> None:
    """Often enough for a write that got lost; each one costs the tick its time."""
    bench.ready()
    assert 100 <= counted(bench, pin, 10.0) <= 125
    bench.run(LINGER_S)
    assert 100 <= counted(bench, pin, 10.0) <= 125


def test_the_door_to_dark_is_not_gone_through_while_nothing_is_on(bench: BenchBox) -> None:
    """It would be a line in the log each time."""
    bench.ready()
    times = bench.loop.door.times
    bench.run(2.0)
    assert bench.loop.door.times == times


def test_the_enable_line_moves_once_a_slot_and_never_in_between(make_bench: MakeBench) -> None:
    """Also while sides are cut between two slots: the pump's charge comes from whole edges."""
    bench = make_bench(box=demo_box(two_banks=True)).start_new(sides="together", dose_mj_cm2=10)
    bench.until_state("done")
    edges = [at_s for at_s, level in bench.pin(ENABLE).history if level is not None]
    held = [after - before for before, after in itertools.pairwise(edges[1:]) if after - before < 0.5]
    assert len(held) > 500
    assert max(held) < 2.1 * TICK_S
    assert min(held[:-1]) > 0.9 * TICK_S  # the last one may be the line's rest


def test_whoever_judges_light_hears_of_a_switch_in_its_own_tick(bench: BenchBox) -> None:
    """At the strike and at the cut: a tick later, each of them would lie 5 ms off in record and dose."""
    (watch,) = bench.loop.banks.values()
    seen: set[tuple[bool, bool]] = set()
    bench.start()
    bench.after_step = lambda: seen.add((watch.bank.commanded, watch.told_lit))
    bench.until_state("done")
    assert seen == {(False, False), (True, True)}


def test_the_enable_line_rests_in_the_tick_that_ends_the_tail(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not a tenth of a second later."""
    enable = bench.loop.box.enable
    assert enable is not None
    rests: list[float] = []
    real = enable.rest
    monkeypatch.setattr(enable, "rest", lambda: (rests.append(bench.clock.mono_s()), real()))
    bench.start().until(lambda: bench.side().state == "cut")
    bench.until(lambda: not bench.loop.permit.may_hold(bench.clock.mono_s()))
    assert bench.clock.mono_s() - rests[-1] <= 1.5 * TICK_S
    assert bench.pin(ENABLE).history[-1][1] is False


def test_the_chain_hears_in_the_tick_of_the_lid_that_k1_is_held_no_more(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From then on K1 has its time to drop."""
    heard: list[tuple[str, bool]] = []
    real = bench.loop.chain.look

    def look(now_s: float, reading: Any, **told: Any) -> Any:
        heard.append((told["lid"], told["k1_held"]))
        return real(now_s, reading, **told)

    monkeypatch.setattr(bench.loop.chain, "look", look)
    bench.light_up().happen("lid_opens")
    bench.run(0.05)
    assert ("shut", True) in heard
    assert all(not held for lid, held in heard if lid != "shut")


def test_a_meter_that_is_gone_is_looked_for_once_a_second(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Setting it up takes tens of milliseconds of bus time."""
    bench.ready().happen("meter_disappears")
    tried: list[float] = []
    real = ColourMeter.connect

    def connect(meter: ColourMeter, now_s: float) -> bool:
        tried.append(now_s)
        return real(meter, now_s)

    monkeypatch.setattr(ColourMeter, "connect", connect)
    bench.run(5.2)
    assert [round(after - before, 1) for before, after in itertools.pairwise(tried)] == [1.0] * 4


def test_a_meter_that_reads_is_not_set_up_anew(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its conversions would begin again and again."""
    bench.ready()
    tried: list[float] = []
    monkeypatch.setattr(ColourMeter, "connect", lambda _meter, now_s: tried.append(now_s))
    bench.run(3.0)
    assert tried == []


def test_the_supply_is_asked_once_a_second(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a Pi that opens a file."""
    asked: list[float] = []
    monkeypatch.setattr(bench.loop.supply, "low", lambda: asked.append(bench.clock.mono_s()) or False)
    bench.run(5.5)
    assert [round(after - before, 1) for before, after in itertools.pairwise(asked)] == [1.0] * (len(asked) - 1)
    assert len(asked) in (5, 6)


class Counted:
    """Stands in for the rate: whether K1 was held in each slot that was ticked at."""

    measured_hz = needed_hz = longest_gap_s = None

    def __init__(self) -> None:
        self.held: list[bool] = []

    def ticked(self, _real_s: float, *, held: bool) -> None:
        """One slot."""
        self.held.append(held)

    def trouble(self) -> None:
        """Fast enough."""


def test_the_rate_counts_slots_and_not_the_ticks_in_between(bench: BenchBox) -> None:
    """A computer must not look faster by the moments at which sides are cut; K1 is told as it is."""
    bench.ready()
    rate = bench.loop.rate = Counted()  # type: ignore[assignment]
    began_s, ticks = bench.clock.mono_s(), bench.loop.ticks
    for _ in range(40):
        bench.step()
        bench.loop.tick()  # twice at the same moment
    slots = round((bench.clock.mono_s() - began_s) / TICK_S)
    assert len(rate.held) == pytest.approx(slots, abs=1)
    assert not any(rate.held)
    assert bench.loop.ticks - ticks == 80
    bench.start().until(bench.any_relay_lights)
    bench.run(1.0)
    assert all(rate.held[-150:])


def test_ticks_are_counted_from_the_start_of_control(bench: BenchBox) -> None:
    """The command line looks at every so many of them."""
    for _ in range(7):
        bench.step()
    assert bench.loop.ticks == 7


# What is let be


def test_a_box_without_a_pump_goes_from_start_to_the_dark_check_at_once(bench: BenchBox) -> None:
    """There is no vacuum to wait for."""
    assert bench.loop.box.description.comforts is None or not bench.loop.box.description.comforts.lead_s
    bench.start()
    bench.step()
    assert bench.state == "dark_check"


def test_nobody_watches_real_time_over_a_box_that_is_stepped_by_hand(bench: BenchBox) -> None:
    """Its steps may be far apart; the watch begins with the daemon."""
    bench.light_up()
    bench.loop.watch.alive(time.monotonic() - 60.0)
    bench.step()
    assert bench.faults == []
    assert bench.any_relay_lights()


def test_every_tick_is_a_sign_of_life_for_the_watch(bench: BenchBox) -> None:
    """A stall is counted from the last one, and then it is dark."""
    bench.light_up()
    now_s = time.monotonic()
    assert not bench.loop.watch.check(now_s + 0.5 * STALL_S)
    assert bench.loop.watch.check(now_s + 2.0 * STALL_S)
    assert not bench.any_relay_lights()


def test_a_standstill_in_the_dark_is_no_fault(bench: BenchBox) -> None:
    """A laptop that slept; under light it is told with its length."""
    bench.ready()
    bench.clock.wait_until(bench.clock.mono_s() + 3.0)
    bench.step()
    assert bench.faults == []
    bench.light_up()
    bench.clock.wait_until(bench.clock.mono_s() + 0.35)
    bench.step()
    assert bench.faults == ["loop_late"]
    assert bench.loop.desk.standing()[0].detail in ("no tick for 0.35 s", "no tick for 0.36 s")


def test_too_slow_a_computer_is_no_fault_while_it_holds_no_lamp(bench: BenchBox) -> None:
    """It is refused at the start, and needs no acknowledgement."""
    bench.ready()
    computer_slows(bench)
    bench.run(4.0)
    assert bench.faults == []


def test_a_bank_that_refuses_to_light_is_logged_and_the_loop_goes_on(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Its leave ran out in between: it stays dark, and tries again in the next tick."""
    bench.start().until_state("dark_check")

    def refuse() -> None:
        raise LightRefusedError("made for this test")

    with monkeypatch.context() as patch:
        patch.setattr(bench.loop.box.banks[0], "light", refuse)
        bench.run(2.0)
        assert not bench.any_relay_lights()
        assert "internal" not in bench.loop.desk
    assert "made for this test" in caplog.messages
    bench.run(0.05)
    assert bench.any_relay_lights()


def test_fan_pump_and_beacon_are_at_rest_until_there_is_a_reason(make_bench: MakeBench) -> None:
    """Before the first reading nothing is known, and nothing burns."""
    comforts = AuxiliaryOutputs(fan_pin=13, fan_run_on_s=5.0, pump_pin=6, pump_lead_s=2.0, beacon_pin=19)
    bench = make_bench(box=demo_box(comforts=comforts))
    bench.ready().run(2.0)
    for pin in (13, 6, 19):
        assert [level for _, level in bench.pin(pin).history] == [None, False]


def test_the_reason_for_dark_is_the_condition_that_failed(bench: BenchBox) -> None:
    """Not that nothing asks for light any more, which only follows from it."""
    bench.light_up().happen("lid_opens")
    bench.run(0.05)
    assert bench.loop.door.reason == "the lid is not shut"


# Faults


def test_a_fault_in_the_tail_takes_k1_at_once(bench: BenchBox) -> None:
    """No bank is on any more, but a welded relay would still be fed."""
    bench.start().until(lambda: bench.side().state == "cut" and bench.pin(ENABLE).history[-1][1] is True)
    assert not bench.any_relay_lights()
    bench.loop.tell(FaultName.EMERGENCY_STOP, as_written("made for this test"))
    assert bench.pin(ENABLE).history[-1][1] is False
    assert not bench.loop.permit.may_hold(bench.clock.mono_s())


def test_a_remark_takes_no_light(bench: BenchBox, caplog: pytest.LogCaptureFixture) -> None:
    """It is logged and recorded, once."""
    bench.light_up()
    times = bench.loop.door.times
    for _ in range(3):
        bench.loop.tell(FaultName.SUPPLY_LOW, as_written("made for this test"))
    assert bench.loop.door.times == times
    assert bench.any_relay_lights()
    assert caplog.messages.count("fault supply_low: made for this test") == 1
    bench.ask("dark")
    bench.run(1.0)
    bench.ask("abandon")
    bench.run(0.5)
    with bench.logbook() as book:
        exposure = book.exposure(book.recent()[0]["exposure_id"])
    assert exposure is not None
    assert [(fault["name"], fault["detail"]) for fault in exposure["faults"]] == [("supply_low", "made for this test")]


CAUSES: dict[str, tuple[Callable[[BenchBox], Any], Callable[[BenchBox], Any]]] = {
    "lid_mismatch": (lambda b: b.happen("wire_breaks", wire="shut"), lambda b: b.happen("wire_mended", wire="shut")),
    "emergency_stop": (lambda b: b.happen("stop_pressed"), lambda b: b.happen("stop_released")),
    "light_while_dark": (
        lambda b: b.happen("daylight_enters", level_mw_cm2=2.0),
        lambda b: b.happen("daylight_ends"),
    ),
    "supply_low": (lambda b: b.happen("supply_sags"), lambda b: b.happen("supply_recovers")),
}


@pytest.mark.parametrize("name", CAUSES)
def test_a_fault_is_cleared_by_a_persons_word_once_its_cause_is_gone_and_never_before(
    bench: BenchBox, name: str
) -> None:
    """Who gave the word is on record."""
    bring, mend = CAUSES[name]
    bench.ready()
    bring(bench)
    bench.run(3.0)
    told = [fault.kind.fault for fault in bench.loop.desk.standing()]
    assert told == [name]
    assert bench.snapshot()["faults"][0]["cause_gone"] is False
    assert bench.ask("acknowledge", who="Ada") == {"cleared": [], "standing": [name]}
    mend(bench)
    bench.run(2.0)
    assert [fault.kind.fault for fault in bench.loop.desk.standing()] == [name]
    assert bench.snapshot()["faults"][0]["cause_gone"] is True
    assert bench.ask("acknowledge", who="Ada") == {"cleared": [name], "standing": []}
    assert bench.daemon.writer.drain(0)
    with bench.logbook() as book:
        rows = book.page("SELECT name, cleared_by FROM faults")
    assert rows == [{"name": name, "cleared_by": "Ada"}]


def test_a_meter_that_is_silent_by_now_keeps_its_fault_whatever_the_last_tick_saw(bench: BenchBox) -> None:
    """The word is judged by what is known when it is given."""
    bench.light_up().bus_error(0.7)
    assert bench.faults == ["meter_lost"]
    bench.run(1.5)
    bench.clock.wait_until(bench.clock.mono_s() + 0.4)
    assert bench.ask("acknowledge")["standing"] == ["meter_lost"]
    bench.run(0.2)
    assert bench.ask("acknowledge")["standing"] == []
    assert bench.state == "paused"  # at the word, not a tick later


def test_an_error_of_the_program_is_logged_once_however_often_it_comes(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """With the place where it happened."""
    bench.ready()

    def broken(_now_s: float) -> None:
        raise ZeroDivisionError("made for this test")

    with monkeypatch.context() as patch:
        patch.setattr(bench.exposure, "tick", broken)
        bench.run(0.5)
    found = [record for record in caplog.records if record.levelno >= logging.ERROR and record.exc_info]
    assert [record.getMessage() for record in found] == ["a tick failed"]
    assert bench.state == "faulted"


def test_of_two_pins_that_fail_the_first_ones_error_is_told(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Control ends with it."""
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="together")

    def broken(word: str) -> Callable[[], None]:
        def dark() -> None:
            raise OSError(word)

        return dark

    with monkeypatch.context() as patch:
        for bank in bench.loop.box.banks:
            patch.setattr(bank, "dark", broken(f"pin of {bank.name}"))
        with pytest.raises(OSError, match="pin of lower"):
            bench.loop.fail_safe("made for this test")
    assert bench.faults == ["internal"]


def test_closing_goes_through_the_door_and_ends_the_watch(bench: BenchBox) -> None:
    """Every leave is taken away first; no thread goes on looking at pins that are let go."""
    bench.light_up()
    bench.loop.watch.start()
    assert bench.loop.close() == []
    assert bench.loop.door.reason == "control ends"
    assert not bench.loop.permit.granted(bench.clock.mono_s())
    assert not bench.loop.watch.watching
    assert [bench.pin(pin).history[-1][1] for pin in (RELAY, ENABLE)] == [None, None]
    assert [level for _, level in bench.pin(RELAY).history][-2] is True
