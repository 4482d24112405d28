"""Simulated pins behave like lgpio's lines, not like the library's mock pins."""

import pytest
from gpiozero import InputDevice, OutputDevice, PinInvalidFunction, PinPWMUnsupported, PinSetInput

from tests.twin.rig import Rig, demo_box, scenario


def test_an_active_low_output_never_blips_at_construction() -> None:
    """The line goes from floating straight to its rest level."""
    rig = Rig()
    assert [level for _, level in rig.relay.pin.history] == [None, True]


def test_a_pin_made_output_without_a_level_drives_low() -> None:
    """As lgpio does, which closes an active-low relay: the danger must show in the twin."""
    rig = Rig()
    rig.relay.close()
    rig.world.pin_factory.pin(17).function = "output"
    rig.run(0.05)
    assert rig.when("relay of lower closes")


def test_a_closed_device_leaves_its_line_floating_and_the_relay_open() -> None:
    """The board's own pull takes a floating line to rest."""
    rig = Rig()
    rig.light()
    pin = rig.relay.pin
    rig.relay.close()
    rig.run(0.1)
    assert pin.history[-1][1] is None
    assert not rig.world.is_lit("lower")


def test_what_is_left_of_a_dead_process_cannot_touch_the_lines_of_the_next() -> None:
    """Python closes forgotten devices some time later; in truth they went with their process."""
    rig = Rig()
    rig.light()
    dead = [rig.relay, rig.shut, rig.open, rig.enable]
    rig.world.control_dies()
    rig.beat = False
    rig.run(0.5)
    assert not rig.world.is_lit("lower")
    factory = rig.world.pin_factory
    rig.relay = OutputDevice(rig.box.banks[0].relay_pin, active_high=False, pin_factory=factory)
    rig.enable = OutputDevice(rig.box.enable_pin, pin_factory=factory)
    rig.beat = True
    rig.light()
    for device in dead:
        assert device is not None
        device.close()
    rig.run(0.5)
    assert rig.world.is_lit("lower")


def test_the_history_holds_every_change_with_its_time() -> None:
    """Compared as a whole, so that no extra switching hides."""
    rig = Rig()
    rig.run(1.0)
    rig.relay.on()
    rig.run(0.5)
    rig.relay.off()
    rig.relay.off()
    found = [(round(at_s - rig.start_s, 6), level) for at_s, level in rig.relay.pin.history]
    assert found == [(0.0, None), (0.0, True), (1.0, False), (1.5, True)]


def test_lid_contacts_read_as_shut_through_their_pull_ups() -> None:
    """Low on the shut line and high on the open line."""
    rig = Rig()
    assert (rig.shut.pin.state, rig.open.pin.state) == (False, True)


def test_a_lid_line_without_pull_up_cannot_read_high() -> None:
    """With a pull-down a contact to ground never shows."""
    rig = Rig()
    rig.open.close()
    pulled_down = InputDevice(rig.box.lid.open_pin, pull_up=False, pin_factory=rig.world.pin_factory)
    assert not pulled_down.pin.state


def test_a_callback_comes_at_the_change_in_simulated_time() -> None:
    """Edges prompt whoever listens, stamped by the world's clock."""
    rig = Rig(scenario({"at_s": 1.0, "do": "lid_opens"}))
    seen: list[tuple[float, bool]] = []

    def note(ticks: float, state: bool) -> None:
        seen.append((ticks, state))

    rig.shut.pin.when_changed = note
    rig.run(2.0)
    assert seen[0] == (rig.start_s + 1.0, True)
    assert seen[-1][1] is True
    assert len(seen) % 2 == 1


def test_writing_to_an_input_is_refused() -> None:
    """A strict fake does not forgive what the hardware library would not."""
    rig = Rig()
    with pytest.raises(PinSetInput):
        rig.shut.pin.state = True


def test_a_level_between_low_and_high_is_refused() -> None:
    """These lines have no pulse width modulation."""
    rig = Rig()
    with pytest.raises(PinPWMUnsupported):
        rig.relay.pin.state = 0.5


def test_an_unknown_function_is_refused() -> None:
    """Only input and output exist."""
    with pytest.raises(PinInvalidFunction):
        Rig().relay.pin.function = "alt0"


def test_a_pin_outside_the_box_is_just_a_pin() -> None:
    """It keeps its level and moves nothing."""
    rig = Rig(box=demo_box(enable_pin=None))
    spare = OutputDevice(5, pin_factory=rig.world.pin_factory)
    spare.on()
    assert spare.value == 1
    assert not rig.world.log


def test_a_day_of_panels_fills_no_memory() -> None:
    """Lid and relays move a few times a panel and are remembered for a while; the enable line has its own measure."""
    rig = Rig()
    for _ in range(2_000):
        rig.relay.on()
        rig.relay.off()
    assert 100 < len(rig.relay.pin.history) <= 500
    for number in range(20_100):
        rig.world.note(number, "a word")
    assert len(rig.world.log) <= 5_000
    assert rig.world.log[-1] == (20_099, "a word")
