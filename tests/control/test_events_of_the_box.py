"""Events of the twin's scenarios at lid, lamps and relays while lamps are on: they go dark, or stay dark.

The lid's own switch is left out of the lamps' supply here, so what darkens is the software alone. Events that end
a trouble must not bring light back: that takes a person's word.
"""

from collections.abc import Callable

import pytest

from sumlight.box.colour_meter import ColourMeter
from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.safety.permit import Permit
from sumlight.light.sample import Sample
from tests.control.bench_box import BenchBox
from tests.control.events import REACTION_S, STEP_SEEN_S, happens, stays_dark


def test_lid_opens_darkens_within_two_ticks_and_keeps_the_dose(bench: BenchBox) -> None:
    """Dark, paused by the lid, no fault; the measured dose still agrees with the true one."""
    bench.light_up()
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert (bench.state, bench.exposure.pause_cause, bench.faults) == ("paused", "lid", [])
    stays_dark(bench)
    assert bench.side().dose_mj_cm2 == pytest.approx(bench.true_dose(), abs=bench.side().sum.doubt_mj_cm2 + 0.1)


def test_lid_opens_darkens_by_the_permit_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the exposure did not listen to the lid, the permit would not be renewed."""
    bench.light_up()
    monkeypatch.setattr(Exposure, "lid_is", lambda *_: None)
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.exposure.wanted() == ("lower",)


def test_lid_opens_darkens_by_the_exposure_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the permit were granted whatever the lid does, the exposure would not ask for light."""
    bench.light_up()
    monkeypatch.setattr(Permit, "renew", lambda *_: True)
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S


def test_lid_opens_darkens_before_the_light_meter_is_asked(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """A slow bus must not delay it."""
    bench.light_up()
    real = ColourMeter.poll
    seen: list[tuple[str, bool]] = []

    def poll(self: ColourMeter, now_s: float, **more: bool) -> Sample | None:
        seen.append((bench.loop.lid, bench.any_relay_lights()))
        return real(self, now_s, **more)

    monkeypatch.setattr(ColourMeter, "poll", poll)
    monkeypatch.setattr(ColourMeter, "next_look_s", 0.0)  # due in every tick, so in that of the lid as well
    bench.run(0.02)
    bench.happen("lid_opens")
    bench.run(0.05)
    assert ("shut", True) in seen
    later = [on for lid, on in seen if lid != "shut"]
    assert len(later) > 5
    assert not any(later)


def test_lid_opens_during_the_tail_of_a_cut_side_ends_it_without_light(bench: BenchBox) -> None:
    """The side had its dose; nothing is lit again."""
    bench.start().until(lambda: bench.side().state == "cut")
    bench.happen("lid_opens")
    bench.run(0.1)
    assert (bench.state, bench.exposure.outcome) == ("done", "completed")
    stays_dark(bench)


def test_lid_closes_does_not_bring_light_back(bench: BenchBox) -> None:
    """A shut lid is a condition for light, never a command."""
    bench.light_up()
    bench.open_lid()
    bench.run(1.0)
    bench.happen("lid_closes")
    stays_dark(bench, 20.0)
    assert bench.state == "paused"
    assert "go" in bench.exposure.may()


@pytest.mark.parametrize("contact", ["shut", "open"])
def test_contact_sticks_and_the_lid_opens_darkens_within_two_ticks(bench: BenchBox, contact: str) -> None:
    """The other contact tells; two that disagree for long are a fault."""
    bench.light_up()
    bench.happen("contact_sticks", contact=contact)
    bench.run(0.5)
    assert bench.state == "light"
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S + 0.004  # the second contact follows the first
    assert bench.faults == []
    stays_dark(bench, 0.5)
    assert bench.faults == ["lid_mismatch"]


def test_contact_sticks_open_while_the_lid_is_shut_again_gives_no_go(bench: BenchBox) -> None:
    """The shut contact hangs: with the lid shut neither says anything."""
    bench.light_up()
    bench.open_lid()
    bench.happen("contact_sticks", contact="shut")
    bench.happen("lid_closes")
    stays_dark(bench, 1.0)
    assert bench.refused("go").code == "refused"
    assert bench.faults == ["lid_mismatch"]


def test_contact_frees_does_not_bring_light_back(bench: BenchBox) -> None:
    """The fault stays until somebody acknowledges it, and then still waits for a go."""
    bench.light_up()
    bench.happen("contact_sticks", contact="open")
    bench.happen("lid_opens")
    bench.run(1.0)
    bench.happen("lid_closes")
    bench.happen("contact_frees", contact="open")
    stays_dark(bench)
    assert bench.state == "faulted"
    bench.ask("acknowledge")
    stays_dark(bench)
    assert bench.state == "paused"


def test_tube_fails_darkens_with_a_fault(bench: BenchBox) -> None:
    """One of six: a sudden step down by a sixth."""
    bench.light_up()
    at_s = happens(bench, "tube_fails")
    bench.run(0.5)
    assert bench.faults == ["tube_out"]
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S
    stays_dark(bench)


def test_tube_fails_darkens_by_the_permit_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the exposure did not listen to faults, none may stand while light is permitted."""
    bench.light_up()
    monkeypatch.setattr(Exposure, "faulted_is", lambda *_: None)
    at_s = happens(bench, "tube_fails")
    bench.run(0.5)
    assert bench.exposure.wanted() == ("lower",)
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S


def test_tube_fails_darkens_by_the_exposure_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the permit were granted whatever stands."""
    bench.light_up()
    monkeypatch.setattr(Permit, "renew", lambda *_: True)
    at_s = happens(bench, "tube_fails")
    bench.run(0.5)
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S


def test_tube_fails_for_all_tubes_darkens_with_a_fault(bench: BenchBox) -> None:
    """All light is gone: dead lamps, or something before the sensor."""
    bench.light_up()
    at_s = happens(bench, "tube_fails", tubes=6)
    bench.run(0.5)
    assert bench.faults == ["light_lost"]
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S


def test_tube_fails_before_the_start_ends_the_wait_for_light(bench: BenchBox) -> None:
    """Nothing lights: dark again after limits.strike_limit_s."""
    bench.ready().happen("tube_fails", tubes=6)
    bench.start().until(bench.any_relay_lights)
    began_s = bench.clock.now_s
    bench.until(lambda: not bench.any_relay_lights())
    assert bench.clock.now_s - began_s == pytest.approx(6.0, abs=0.1)
    assert bench.faults == ["no_light"]
    assert bench.side().dose_mj_cm2 < 0.05


def test_relay_welds_and_k1_takes_the_light_away(bench: BenchBox) -> None:
    """At the cut the relay does not open: the light that goes on is seen, K1 is let go, and a fault stands."""
    bench.happen("relay_welds")
    bench.start().until(lambda: bench.side().state == "cut")
    assert not bench.any_relay_lights()
    bench.run(0.3)
    assert bench.any_light()
    bench.run(0.7)
    assert not bench.any_light()
    assert bench.faults == ["light_while_dark"]
    assert bench.world.log[-1][1] == "lower loses power"


def test_relay_welds_and_opening_the_lid_lets_go_of_k1(bench: BenchBox) -> None:
    """Relay stuck, lid switch bridged: the enable line rests at once, K1 drops when its pump has run dry."""
    bench.happen("relay_welds")
    bench.light_up()
    at_s = happens(bench, "lid_opens")
    bench.until(lambda: not bench.any_light(), 1.0)
    # By the drawing's arithmetic K2 is open 123 ms after the last edge at the latest (hardware/heartbeat.py), 27 ms at
    # the earliest; then come K1's own 20 ms and the glow of the tubes.
    assert 0.027 < bench.clock.now_s - at_s < 0.123 + 0.020 + 0.02


def test_relay_frees_does_not_bring_light_back(bench: BenchBox) -> None:
    """After a weld the fault stands whatever the relay then does."""
    bench.happen("relay_welds")
    bench.start().until(lambda: bench.faults == ["light_while_dark"])
    bench.run(1.0)
    bench.happen("relay_frees")
    stays_dark(bench)
    assert bench.faults == ["light_while_dark"]


CAUSES: dict[str, Callable[[BenchBox], object]] = {
    "lid": lambda bench: bench.open_lid(),
    "meter": lambda bench: bench.happen("meter_disappears"),
    "tube": lambda bench: bench.happen("tube_fails"),
    "dark": lambda bench: bench.ask("dark"),
}


@pytest.mark.parametrize("cause", CAUSES)
def test_k1_is_let_go_whatever_ends_the_light(bench: BenchBox, cause: str) -> None:
    """The enable line comes to rest low and K1 drops, so that even a welded relay gives no light."""
    bench.light_up()
    CAUSES[cause](bench)
    bench.until(lambda: not bench.any_relay_lights(), 2.0)
    bench.run(0.3)
    assert bench.pin(25).history[-1][1] is False
    assert bench.world.log[-1][1] == "K1 opens"
