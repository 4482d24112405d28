"""A switch to ground on pins of the library."""

import pytest
from gpiozero.pins.mock import MockFactory

from sumlight.box.contact import Contact


def test_a_contact_reads_closed_only_while_it_pulls_the_pin_low() -> None:
    """A broken wire is an open contact: the pull-up makes it high."""
    factory = MockFactory()
    contact = Contact(23, factory)
    assert contact.pin.state
    factory.pin(23).drive_low()
    assert not contact.pin.state
    factory.pin(23).drive_high()
    assert contact.pin.state


def test_a_contact_that_was_let_go_is_not_read() -> None:
    """An error, which the loop takes as a reason for dark, and never the last level."""
    factory = MockFactory()
    contact = Contact(23, factory)
    factory.pin(23).drive_low()
    contact.close()
    contact.close()
    with pytest.raises(AttributeError):
        assert contact.pin.state
