"""The leave to hold K1 alone: what it is for, and everything that must end it."""

from collections.abc import Callable

import pytest

from sumlight.box.lamps import LightRefusedError
from sumlight.control.safety.k1_alone import K1Alone
from sumlight.control.safety.permit import ALL_MET, K1_ALL_MET, K1_REFUSALS, K1Conditions, K1Leave, Permit
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench

LONGEST_S = 20.0
"""Issue 6 of this project: granted for one step, for at most 20 s."""
LATE_S = 0.3
"""There, too: a mirror that has not dropped 0.3 s after the contact acted ends it."""
TICK_S = 0.005


@pytest.fixture
def leave() -> K1Leave:
    """Lent at 10 s and renewed once."""
    leave = K1Leave()
    leave.lend(10.0)
    assert leave.renew(10.0, K1_ALL_MET)
    return leave


def test_a_new_leave_grants_nothing_and_cannot_be_renewed() -> None:
    """It has to be lent."""
    leave = K1Leave()
    assert not leave.granted(0.0)
    assert not leave.renew(0.0, K1_ALL_MET)
    leave.lend(1.0)
    assert not leave.granted(1.0), "before conditions were looked at"


@pytest.mark.parametrize("name", K1Conditions._fields)
def test_each_condition_ends_it_for_good(leave: K1Leave, name: str) -> None:
    """Met again in the next tick, it stays ended."""
    conditions = K1_ALL_MET._replace(**{name: False})
    assert conditions.refusals() == (K1_REFUSALS[name],)
    assert not leave.renew(10.005, conditions)
    assert not leave.lent
    assert not leave.renew(10.010, K1_ALL_MET)
    assert not leave.granted(10.010)


def test_a_condition_that_nobody_looked_at_is_not_met() -> None:
    """Every default refuses."""
    assert len(K1Conditions().refusals()) == len(K1_REFUSALS) == len(K1Conditions._fields)


def test_it_runs_out_when_it_is_not_renewed_and_after_twenty_seconds(leave: K1Leave) -> None:
    """A tenth of a second without a look, or twenty seconds with them."""
    assert leave.granted(10.1)
    assert not leave.granted(10.15)
    assert leave.renew(10.0 + LONGEST_S - 0.01, K1_ALL_MET)
    assert not leave.granted(10.0 + LONGEST_S + 0.001)
    assert not leave.renew(10.0 + LONGEST_S, K1_ALL_MET)


def test_a_withdrawal_by_the_permit_takes_it_too(leave: K1Leave) -> None:
    """Whoever wants dark asks one object only."""
    permit = Permit()
    permit.lend_k1(10.0)
    permit.k1.renew(10.0, K1_ALL_MET)
    permit.withdraw()
    assert not permit.k1.granted(10.0)
    assert not permit.k1.renew(10.005, K1_ALL_MET)


def test_a_withdrawal_in_the_middle_of_a_renewal_wins(leave: K1Leave) -> None:
    """From another thread, between any two steps of it: here between the look and the new term."""

    class Late(float):
        def __add__(self, other: float) -> float:
            leave.withdraw()
            return float(self) + other

    assert not leave.renew(Late(10.02), K1_ALL_MET)
    assert not leave.granted(10.02)


def test_no_lamp_has_leave_while_k1_is_lent() -> None:
    """Neither a leave from before, nor one with every condition met."""
    permit = Permit()
    assert permit.renew(10.0, ALL_MET)
    permit.lend_k1(10.005)
    assert not permit.granted(10.005)
    assert not permit.renew(10.010, ALL_MET)
    assert not permit.granted(10.010)
    permit.withdraw()
    assert permit.renew(10.020, ALL_MET)


# -- on the box ------------------------------------------------------------------------------------------------------


def lend(bench: BenchBox, *may_stand: str) -> K1Alone:
    """Lend K1 on a box that is ready, and wait until it is held."""
    bench.ready()
    alone = bench.loop.k1.lend(may_stand)
    bench.run(0.3)
    assert alone.held_s is not None
    assert alone.ended is None
    assert k1_held(bench)
    return alone


def k1_held(bench: BenchBox) -> bool:
    """Whether the simulated K1 stands closed."""
    return bench.world._gear.pump.k1_closed


def edges(bench: BenchBox, seconds: float) -> int:
    """How often the enable line moves in the next seconds."""
    pin = bench.world._pins[bench.daemon.loop.box.description.enable_pin or -1]
    before = len(pin.history)
    bench.run(seconds)
    return len(pin.history) - before


@pytest.fixture
def wired(make_bench: MakeBench) -> BenchBox:
    """A box with its hard-wired contacts."""
    return make_bench(hardwired_lid_switch=True)


def test_k1_is_held_with_all_banks_off_for_twenty_seconds_at_most(wired: BenchBox) -> None:
    """One edge a tick, no light, then still."""
    alone = lend(wired)
    assert edges(wired, 1.0) == pytest.approx(200, abs=2)
    assert not wired.any_light()
    wired.run(LONGEST_S - 1.3 - 0.1)
    assert alone.ended is None
    wired.run(0.3)
    assert alone.ended == "time"
    assert edges(wired, 1.0) == 0
    assert not k1_held(wired)
    assert wired.faults == []


def test_a_bank_asked_to_light_is_refused(wired: BenchBox) -> None:
    """By the bank itself, at its pin."""
    lend(wired)
    (bank,) = wired.loop.box.banks
    with pytest.raises(LightRefusedError):
        bank.light()
    wired.run(0.2)
    assert not bank.commanded
    assert not wired.any_light()


def test_an_exposure_that_wants_light_gets_none(wired: BenchBox) -> None:
    """Though the state machine reaches its light, no lamp follows while K1 is lent."""
    wired.ready()
    wired.start()
    wired.loop.k1.lend(())
    wired.run(5.0)
    assert not wired.any_light()
    assert not wired.loop.box.banks[0].commanded


@pytest.mark.parametrize(
    ("what", "who_ends_it"),
    [
        ("light", lambda bench: bench.happen("daylight_enters", level_mw_cm2=2.0)),
        ("fault", lambda bench: bench.happen("meter_disappears")),
        ("fault", lambda bench: setattr(bench.loop.watch, "tripped_after_s", 0.3)),
        ("withdrawn", lambda bench: bench.ask("dark")),
        ("withdrawn", lambda bench: bench.loop.permit.withdraw()),
        ("fault", lambda bench: bench.loop.fail_safe("a test")),
    ],
)
def test_light_a_fault_or_a_wish_for_dark_ends_it(
    wired: BenchBox, what: str, who_ends_it: Callable[[BenchBox], object]
) -> None:
    """Within a few ticks of being seen, and for good."""
    alone = lend(wired)
    who_ends_it(wired)
    wired.until(lambda: alone.ended is not None, 0.4)
    assert alone.ended in (what, "withdrawn")
    assert edges(wired, 1.0) <= 1
    assert not k1_held(wired)


def test_a_dark_command_stills_the_line_before_it_answers(wired: BenchBox) -> None:
    """Not at the next tick."""
    lend(wired)
    wired.ask("dark")
    assert not wired.loop.permit.k1.lent
    assert edges(wired, 1.0) == 0


def test_light_of_the_room_ends_it_with_the_lid_open_too(make_bench: MakeBench) -> None:
    """Nobody can tell whose light it is."""
    bench = make_bench(hardwired_lid_switch=False)
    alone = lend(bench)
    bench.happen("lid_opens")
    bench.happen("daylight_enters", level_mw_cm2=2.0)
    bench.run(0.2)
    assert alone.ended == "light"


@pytest.mark.parametrize("do", ["lid_opens", "stop_pressed"])
def test_a_contact_that_does_not_drop_k1_ends_it_after_three_tenths(make_bench: MakeBench, do: str) -> None:
    """Left out of the coil circuit: the edges ran on until then, and no longer."""
    bench = make_bench(hardwired_lid_switch=False, hardwired_stop=False)
    alone = lend(bench, "emergency_stop")
    bench.happen(do)
    bench.run(LATE_S - 0.02)
    assert alone.ended is None
    assert k1_held(bench)
    assert edges(bench, 0.05) >= 1
    assert alone.ended == "late"
    assert edges(bench, 1.0) == 0


@pytest.mark.parametrize("do", ["lid_opens", "stop_pressed", "cut_out_opens"])
def test_a_contact_that_drops_k1_ends_it_as_the_mirror_tells(wired: BenchBox, do: str) -> None:
    """Some 20 ms later (K1's own time), while edges still ran."""
    alone = lend(wired, "emergency_stop")
    at_s = wired.clock.now_s
    wired.happen(do)
    assert edges(wired, 0.015) >= 2
    wired.run(0.1)
    assert alone.ended == "dropped"
    assert alone.dropped_s is not None
    assert 0.015 <= alone.dropped_s - at_s <= 0.04
    assert (alone.acted_s is None) is (do == "cut_out_opens")
    assert edges(wired, 1.0) == 0


def test_a_contact_that_opens_before_k1_is_held_proves_nothing(wired: BenchBox) -> None:
    """The person was too quick."""
    wired.ready()
    alone = wired.loop.k1.lend(())
    wired.happen("lid_opens")
    wired.run(0.1)
    assert alone.ended == "too_early"


@pytest.mark.parametrize(("bridge", "ended"), [("says_dropped", "not_closed"), ("says_closed", "not_at_rest")])
def test_a_mirror_that_always_says_the_same_proves_nothing(make_bench: MakeBench, bridge: str, ended: str) -> None:
    """It must show K1 dropped, then held, before anything counts."""
    bench = make_bench(hardwired_lid_switch=True, k1_mirror_bridged=bridge).ready()
    alone = bench.loop.k1.lend(("k1_welded",))
    bench.run(1.0)
    assert (alone.ended, alone.held_s) == (ended, None)


def test_a_stalled_loop_is_the_watchdogs_business_here_too(wired: BenchBox) -> None:
    """K1 counts as something that is on."""
    lend(wired)
    assert wired.loop.watch._lamps_commanded()
    wired.loop.watch.alive(100.0)
    assert wired.loop.watch.check(100.3)
    assert edges(wired, 1.0) <= 1
    assert not wired.loop.permit.k1.lent


def test_a_process_that_stood_still_takes_it_away(wired: BenchBox) -> None:
    """Time jumps between two ticks: no word from the watch needed."""
    alone = lend(wired)
    wired.clock.wait_until(wired.clock.mono_s() + 0.3)
    wired.step()
    assert alone.ended is not None
    assert wired.faults == ["loop_late"]


def test_closing_takes_it_away(wired: BenchBox) -> None:
    """As everything else."""
    lend(wired)
    wired.loop.close()
    assert not wired.loop.permit.k1.lent
