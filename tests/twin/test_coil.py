"""The coil circuit of K1 as hardware/drawings/mains.svg draws it: S2, S3, F3 and K2 in series, each alone enough.

IEC 60204-1 9.2.2 calls what each of them does a stop of category 0: power is removed at once, without a program.
"""

import pytest
from gpiozero import InputDevice

from sumlight.twin.scenario import Scenario
from tests.twin.rig import Rig, demo_box, scenario

DROPS_WITHIN_S = 0.03
"""Coil without power to contacts open: contactors of this size take 10 to 30 ms (from memory)."""

PARTS = [
    ("lid_opens", "lid_closes", "hardwired_lid_switch"),
    ("stop_pressed", "stop_released", "hardwired_stop"),
    ("cut_out_opens", "cut_out_reset", "hardwired_cut_out"),
]


def mirror(rig: Rig) -> InputDevice:
    """K1's mirror contact at its input; active while K1 has dropped."""
    pin = rig.box.signals.k1_mirror_pin
    assert isinstance(pin, int)
    return InputDevice(pin, pull_up=True, pin_factory=rig.world.pin_factory)


@pytest.mark.parametrize(("opens", "closes", "_"), PARTS)
def test_each_contact_alone_drops_k1_while_the_heart_beats_on(opens: str, closes: str, _: str) -> None:
    """No relay pin moves, no edge is missing; closed again, K1 comes back since it is still fed."""
    rig = Rig(scenario({"at_s": 1.0, "do": opens}, {"at_s": 2.0, "do": closes}))
    told = mirror(rig)
    rig.run(0.9)
    assert not told.value
    rig.run(0.1 + DROPS_WITHIN_S + 0.01)
    assert told.value
    rig.run(0.9)
    assert told.value
    assert len(rig.when("K1 opens")) == 1
    rig.run(0.1)
    assert not told.value


@pytest.mark.parametrize(("opens", "_", "key"), PARTS)
def test_a_contact_that_is_left_out_of_the_circuit_does_nothing(opens: str, _: str, key: str) -> None:
    """The part moves, K1 stays held."""
    rig = Rig(scenario({"at_s": 1.0, "do": opens}, **{key: False}))
    rig.run(3.0)
    assert rig.when("K1 opens") == []


def test_lamps_go_dark_by_the_lid_as_k1_drops() -> None:
    """Pins unchanged: the lid takes K1's coil, and K1 takes the mains."""
    rig = Rig(scenario({"at_s": 1.0, "since": "light", "do": "lid_opens"}))
    rig.light()
    rig.run(2.0)
    assert rig.when("lower loses power") == rig.when("K1 opens")
    (fell_s,), (opened_s,) = rig.when("K1 opens"), rig.when("lid_opens")
    assert 0.0 < fell_s - opened_s <= DROPS_WITHIN_S


def test_a_welded_k1_does_not_drop_for_any_contact() -> None:
    """The mirror, fixed to the main contacts, stays open with them (IEC 60947-4-1 annex F)."""
    rig = Rig(scenario({"at_s": 1.0, "do": "k1_welds"}, *[{"at_s": 1.5, "do": opens} for opens, _, _ in PARTS]))
    told = mirror(rig)
    rig.run(3.0)
    assert rig.when("K1 opens") == []
    assert not told.value


@pytest.mark.parametrize(("bridge", "value"), [("says_dropped", 1), ("says_closed", 0)])
def test_a_bridged_mirror_says_the_same_whatever_k1_does(bridge: str, value: int) -> None:
    """A wire across it, or its own wire off."""
    rig = Rig(scenario({"at_s": 1.0, "do": "stop_pressed"}, k1_mirror_bridged=bridge))
    rig.beat = False
    told = mirror(rig)
    seen = {told.value}
    for beat in (True, False):
        rig.beat = beat
        rig.run(0.8)
        seen.add(told.value)
    assert len(rig.when("K1 closes")) == 1
    assert seen == {value}


@pytest.mark.parametrize(("opens", "closes", "_"), PARTS)
def test_without_an_enable_line_the_contacts_cut_by_themselves(opens: str, closes: str, _: str) -> None:
    """There is no K1 to wait for."""
    rig = Rig(scenario({"at_s": 1.0, "since": "light", "do": opens}), box=demo_box(enable_pin=None))
    rig.light()
    rig.run(2.0)
    assert rig.when("lower loses power") == rig.when(opens)


def test_scenarios_know_the_new_keys() -> None:
    """And refuse what is no state of a mirror."""
    script = Scenario(hardwired_cut_out=False, k1_mirror_bridged="says_dropped", cut_out_button=False)
    assert (script.hardwired_cut_out, script.k1_mirror_bridged, script.cut_out_button) == (False, "says_dropped", False)
    with pytest.raises(ValueError, match="k1_mirror_bridged"):
        Scenario.model_validate({"k1_mirror_bridged": "says_so"})
