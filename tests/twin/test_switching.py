"""Relays, contactor K1 and the lid: what it takes to give the lamps power, and what takes it away."""

from statistics import fmean, pstdev

import pytest

from sumlight.box.description import load_box
from sumlight.twin import demo
from tests.twin.rig import Rig, demo_box, scenario


def test_the_relay_follows_its_pin_after_its_delays() -> None:
    """10 ms to close and 8 ms to open, exactly when there is no jitter."""
    rig = Rig()
    rig.relay.on()
    rig.run(0.1)
    rig.relay.off()
    rig.run(0.1)
    assert rig.when("relay of lower closes") == [pytest.approx(rig.start_s + 0.010)]
    assert rig.when("relay of lower opens") == [pytest.approx(rig.start_s + 0.108)]


def test_release_times_scatter_as_the_scenario_says() -> None:
    """Mean and spread of 300 releases."""
    rig = Rig(scenario(release_jitter_s=0.0005))
    delays = []
    for _ in range(300):
        rig.relay.on()
        rig.run(0.03)
        began_s = rig.clock.now_s
        rig.relay.off()
        rig.run(0.03)
        delays.append(rig.when("relay of lower opens")[-1] - began_s)
    assert fmean(delays) == pytest.approx(0.008, abs=0.0002)
    assert pstdev(delays) == pytest.approx(0.0005, rel=0.2)


def test_a_pulse_shorter_than_the_pull_in_does_not_close_the_relay() -> None:
    """The armature needs its time."""
    rig = Rig()
    rig.relay.on()
    rig.run(0.005)
    rig.relay.off()
    rig.run(0.5)
    assert rig.when("relay of lower closes") == []


def test_a_coil_that_wavers_counts_from_its_last_change() -> None:
    """Off, on and off again within the release time: the contact opens 8 ms after the last of them."""
    rig = Rig()
    rig.relay.on()
    rig.run(0.1)
    rig.relay.off()
    rig.run(0.002)
    rig.relay.on()
    rig.run(0.002)
    rig.relay.off()
    rig.run(0.1)
    assert rig.when("relay of lower opens") == [pytest.approx(rig.start_s + 0.112)]


def test_an_active_high_relay_rests_on_a_low_level() -> None:
    """The other polarity works as well."""
    bank = demo_box().banks[0].model_copy(update={"lights_when": "high"})
    rig = Rig(box=demo_box(banks=[bank]))
    rig.run(0.1)
    assert rig.when("relay of lower closes") != []  # the rig drives it as active low, so its rest is high
    rig.relay.on()
    rig.run(0.1)
    assert len(rig.when("relay of lower opens")) == 1


def test_a_welded_relay_keeps_the_lamps_on() -> None:
    """Until it frees or K1 drops."""
    rig = Rig(scenario({"at_s": 1.0, "since": "light", "do": "relay_welds"}))
    rig.light()
    rig.run(2.0)
    rig.relay.off()
    rig.run(1.0)
    assert rig.world.is_lit("lower")
    rig.beat = False
    rig.run(0.3)
    assert not rig.world.is_lit("lower")


def test_a_freed_relay_opens_at_once_when_nothing_asks_for_light() -> None:
    """The contact goes where its coil has been all along."""
    rig = Rig(
        scenario(
            {"at_s": 1.0, "since": "light", "do": "relay_welds"},
            {"at_s": 3.0, "since": "light", "do": "relay_frees"},
        )
    )
    rig.light()
    rig.run(1.5)
    rig.relay.off()
    rig.run(1.0)
    assert rig.world.is_lit("lower")
    rig.run(1.0)
    assert not rig.world.is_lit("lower")


def test_k1_drops_after_the_hold_up_of_a_heartbeat_that_stopped() -> None:
    """Whatever level the line was left at: by the circuit with parts as drawn K2 opens 0.09 to 0.13 s later, K1 0.02 s
    after that."""
    for level in (False, True):
        rig = Rig()
        rig.light()
        assert rig.enable is not None
        while rig.enable.pin.state is not level:
            rig.run(0.005)
        last_edge_s = rig.enable.pin.history[-1][0]
        rig.beat = False
        rig.run(0.5)
        assert 0.11 < rig.when("K1 opens")[0] - last_edge_s < 0.15
        assert not rig.world.is_lit("lower")


def test_a_strike_that_was_cut_short_begins_anew() -> None:
    """Power off and on again while striking: the first strike's moment passes without light."""
    rig = Rig(box=demo_box(enable_pin=None))
    rig.relay.on()
    rig.run(0.5)
    rig.relay.off()
    rig.run(0.05)
    rig.relay.on()
    rig.run(3.0)
    powered_s = rig.when("relay of lower closes")[1]
    assert len(rig.when("lower lights")) == 1
    assert 0.6 <= rig.when("lower lights")[0] - powered_s <= 1.3


def test_one_change_of_the_enable_line_does_not_close_k1() -> None:
    """A level is no heartbeat."""
    rig = Rig()
    rig.beat = False
    assert rig.enable is not None
    rig.enable.on()
    rig.relay.on()
    rig.run(3.0)
    assert rig.when("K1 closes") == []
    assert not rig.world.is_lit("lower")


def test_k1_closes_again_when_the_heartbeat_returns() -> None:
    """Nothing is latched in the wire itself."""
    rig = Rig()
    rig.run(0.5)
    rig.beat = False
    rig.run(0.5)
    rig.beat = True
    rig.run(0.5)
    assert len(rig.when("K1 closes")) == 2


def test_a_box_without_enable_line_needs_no_heartbeat() -> None:
    """K1 counts as closed."""
    rig = Rig(box=demo_box(enable_pin=None))
    rig.light()
    rig.run(5.0)
    assert rig.world.is_lit("lower")


def test_without_the_lid_switch_in_the_coil_circuit_only_software_darkens() -> None:
    """The scenario can leave the wire out, to prove the code."""
    rig = Rig(scenario({"at_s": 1.0, "since": "light", "do": "lid_opens"}, hardwired_lid_switch=False))
    rig.light()
    rig.run(2.0)
    assert not rig.world.lid_shut
    assert rig.world.is_lit("lower")


def test_both_contacts_follow_the_lid_with_bounce() -> None:
    """Each chatters for about 3 ms, then stays; the lever needs a moment from one to the other."""
    rig = Rig(scenario({"at_s": 1.0, "do": "lid_opens"}))
    rig.run(1.1)
    for pin, final in ((rig.shut.pin, True), (rig.open.pin, False)):
        moved = [(at_s, level) for at_s, level in pin.history if at_s >= rig.start_s + 1.0]
        assert len(moved) >= 3
        assert moved[-1][1] is final
        assert moved[-1][0] - rig.start_s - 1.0 <= 0.0071
    assert (rig.shut.value, rig.open.value) == (0, 1)


def test_a_lid_shut_again_within_its_bounce_ends_shut() -> None:
    """Changes still to come from the first movement do not survive the second."""
    rig = Rig(scenario({"at_s": 1.0, "do": "lid_opens"}, {"at_s": 1.001, "do": "lid_closes"}))
    rig.run(1.1)
    assert (rig.shut.value, rig.open.value) == (1, 0)


@pytest.mark.parametrize(("contact", "values"), [("shut", (1, 1)), ("open", (0, 0))])
def test_a_stuck_contact_disagrees_with_the_lid_until_it_frees(contact: str, values: tuple[int, int]) -> None:
    """It stays as it was, then follows."""
    rig = Rig(
        scenario(
            {"at_s": 0.5, "do": "contact_sticks", "contact": contact},
            {"at_s": 1.0, "do": "lid_opens"},
            {"at_s": 2.0, "do": "contact_frees", "contact": contact},
        )
    )
    rig.run(1.5)
    assert (rig.shut.value, rig.open.value) == values
    rig.run(1.0)
    assert (rig.shut.value, rig.open.value) == (0, 1)


def test_presses_are_handed_over_once() -> None:
    """In order, and then forgotten."""
    rig = Rig(scenario({"at_s": 1, "do": "press", "button": "dark"}, {"at_s": 2, "do": "press", "button": "go"}))
    rig.run(3.0)
    assert rig.world.pressed() == ["dark", "go"]
    assert rig.world.pressed() == []


def test_banks_of_a_two_bank_box_are_switched_apart() -> None:
    """Each relay lights its own bank, each meter sits on its own bus."""
    rig = Rig(box=load_box(demo.TWO_BANK_BOX))
    rig.light()
    rig.run(2.0)
    assert rig.world.is_lit("lower")
    assert not rig.world.is_lit("upper")
    assert rig.world.actinic_mj_cm2("upper") == 0.0
    assert rig.world.bus(3).scan() == [0x39]
