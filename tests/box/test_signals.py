"""Safety signals at the pins: fail-safe in every wire, and comfort outputs that rest when nobody wants them."""

import pytest
from gpiozero import GPIOPinInUse, InputDevice
from gpiozero.pins.mock import MockFactory

from sumlight.box.description import BoxDescription, Signals
from sumlight.box.signals import SIGNALS, AuxiliaryOutput, SignalReading
from sumlight.box.signals import Signals as Contacts
from sumlight.checkedfile import FileProblemsError, parse
from sumlight.twin import demo

ALL = Signals(k1_mirror_pin=12, emergency_stop_pin=16, over_temperature_pin=20)
PINS = dict(zip(SIGNALS, (12, 16, 20), strict=True))
FIELDS = dict(zip(SIGNALS, ("k1_dropped", "stop_released", "cool"), strict=True))


@pytest.fixture
def factory() -> MockFactory:
    """Pins of their own for each test."""
    return MockFactory()


def ground(factory: MockFactory, *names: str) -> None:
    """Close these contacts to ground."""
    for name in names:
        factory.pin(PINS[name]).drive_low()


def test_all_contacts_closed_read_as_all_is_well(factory: MockFactory) -> None:
    """K1 dropped, stop released, cool."""
    contacts = Contacts(ALL, factory)
    ground(factory, *SIGNALS)
    assert contacts.read() == SignalReading(k1_dropped=True, stop_released=True, cool=True)
    contacts.close()


def test_levels_are_read_and_edges_are_not_asked_for(factory: MockFactory) -> None:
    """As for the lid: the pin library's thread for edges can hold a line at the end."""
    contacts = Contacts(ALL, factory)
    assert [factory.pin(number).when_changed for number in PINS.values()] == [None] * 3
    contacts.close()


@pytest.mark.parametrize("name", SIGNALS)
def test_a_broken_wire_reads_as_trouble(factory: MockFactory, name: str) -> None:
    """The pull-up takes an open line high, and only that one."""
    contacts = Contacts(ALL, factory)
    ground(factory, *(other for other in SIGNALS if other != name))
    reading = contacts.read()
    assert {field: getattr(reading, field) for field in FIELDS.values()} == {
        field: other != name for other, field in FIELDS.items()
    }
    contacts.close()


@pytest.mark.parametrize("name", SIGNALS)
def test_a_signal_left_out_reads_as_nothing_and_says_so(factory: MockFactory, name: str) -> None:
    """None, never well; its pin is not touched."""
    contacts = Contacts(ALL.model_copy(update={f"{name}_pin": "left_out"}), factory)
    assert contacts.left_out == [name]
    assert getattr(contacts.read(), FIELDS[name]) is None
    assert len(factory.pins) == 2
    contacts.close()


def test_a_pin_that_is_taken_releases_the_others(factory: MockFactory) -> None:
    """Half-built, all is let go."""
    taken = Contacts(ALL.model_copy(update={"k1_mirror_pin": "left_out", "emergency_stop_pin": "left_out"}), factory)
    with pytest.raises(Exception, match="GPIO20"):
        Contacts(ALL, factory)
    taken.close()
    Contacts(ALL, factory).close()


@pytest.mark.parametrize("key", ["signals", *(f"signals.{name}_pin" for name in SIGNALS)])
def test_a_box_must_state_each_signal(key: str) -> None:
    """Neither the block nor a line of it has a default."""
    lines = demo.BOX.read_text(encoding="utf-8").splitlines(keepends=True)
    if key == "signals":
        kept = [
            line for line in lines if not line.startswith("signals:") and not any(f"{s}_pin" in line for s in SIGNALS)
        ]
    else:
        kept = [line for line in lines if key.split(".")[1] not in line]
    with pytest.raises(FileProblemsError, match=rf"{key}: is missing and has no default"):
        parse("".join(kept), BoxDescription, "box.yaml")


def test_a_bank_on_the_heartbeat_pin_is_refused_by_the_file_check() -> None:
    """The lamps would flicker with the heartbeat."""
    text = demo.BOX.read_text(encoding="utf-8").replace("relay_pin: 17", "relay_pin: 25")
    with pytest.raises(FileProblemsError, match="25"):
        parse(text, BoxDescription, "box.yaml")


@pytest.mark.parametrize("name", SIGNALS)
def test_a_signal_on_a_pin_in_use_is_refused_by_the_file_check(name: str) -> None:
    """A lamp's relay would be its contact."""
    text = demo.BOX.read_text(encoding="utf-8").replace(f"{name}_pin: {PINS[name]}", f"{name}_pin: 17")
    with pytest.raises(FileProblemsError, match="17"):
        parse(text, BoxDescription, "box.yaml")


def test_a_comfort_is_off_at_first_follows_and_runs_on(factory: MockFactory) -> None:
    """A fan for two seconds after the lamps; off when closed."""
    fan = AuxiliaryOutput(21, 2.0, factory)
    pin = factory.pin(21)
    levels = []
    for now_s, wanted in ((0.0, False), (1.0, True), (2.0, False), (2.9, False), (3.1, False), (4.0, True)):
        fan.follow(wanted, now_s)
        levels.append(bool(pin.state))
    assert levels == [False, True, True, True, False, True]
    states = pin.states
    fan.close()
    assert states[-1].state in (False, 0)


def test_a_signal_that_cannot_be_had_leaves_none_of_the_others_taken(factory: MockFactory) -> None:
    """The third pin belongs to somebody else: the first two are free again."""
    other = InputDevice(20, pin_factory=factory)
    with pytest.raises(GPIOPinInUse) as caught:
        Contacts(ALL, factory)
    for number in (12, 16):
        InputDevice(number, pin_factory=factory).close()
    assert caught.tb is not None  # it keeps the half-made object: nothing was let go by its being forgotten
    other.close()
