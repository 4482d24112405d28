"""Reads the contacts of a real box once, with control stopped: tells a missing field supply from a loose lid.

Every contact closes its pin to ground while all is well, through an input board fed with 24 V. Without these 24 V all
of them read open at once, and what control could only call a fault of the lid has one cause.
"""

from collections.abc import Mapping

from gpiozero.pins import Factory

from sumlight.box.contact import Contact
from sumlight.box.description import BoxDescription
from sumlight.text.message import Message, say

LID = ("lid.shut_pin", "lid.open_pin")
K1, STOP, HEAT = "signals.k1_mirror_pin", "signals.emergency_stop_pin", "signals.over_temperature_pin"


def contacts_closed(box: BoxDescription, factory: Factory) -> dict[str, bool]:
    """Whether each declared contact is closed now, by its key in box.yaml. Raises what the pin library raises."""
    pins = {".".join(map(str, field)): pin for field, pin in box.pins() if field[0] in ("lid", "signals")}
    found = {}
    for key, pin in pins.items():
        contact = Contact(pin, factory)
        try:
            found[key] = not contact.pin.state
        finally:
            contact.close()
    return found


def troubles(closed: Mapping[str, bool]) -> list[Message]:
    """What is wrong with these contacts, and what to do; empty for a box that is ready."""
    if not any(closed.values()):
        count = len(closed)
        return [say("no_input_supply", count=count) if count > len(LID) else say("no_supply_or_wires")]
    found = []
    shut, opened = (closed[key] for key in LID)
    if shut == opened:
        found.append(say("lid_contacts_closed", keys=LID) if shut else say("lid_contacts_open", keys=LID))
    for key, told in (
        (K1, say("k1_mirror_open", key=K1)),
        (STOP, say("emergency_stop_open", key=STOP)),
        (HEAT, say("thermostat_open", key=HEAT)),
    ):
        if not closed.get(key, True):
            found.append(told)
    return found
