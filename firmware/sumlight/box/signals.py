"""Safety signals beside the lid, and the outputs that only serve comfort. Levels are polled, like the lid's."""

from typing import NamedTuple

from gpiozero import OutputDevice
from gpiozero.pins import Factory

from sumlight.box import description
from sumlight.box.contact import Contact

SIGNALS = ("k1_mirror", "emergency_stop", "over_temperature")


class SignalReading(NamedTuple):
    """What the contacts say; None for a signal that this box does without.

    `k1_dropped`: contactor K1 has dropped. `stop_released`: the emergency stop is not pressed. `cool`: the box is
    cool enough.
    """

    k1_dropped: bool | None
    stop_released: bool | None
    cool: bool | None


class Signals:
    """Reads K1's mirror, emergency stop and over-temperature contact. Fail-safe: a broken wire reads as trouble.

    Wiring: each contact to ground and closed while all is well, the Pi's pull-up against it.
    """

    def __init__(self, signals: description.Signals, pin_factory: Factory) -> None:
        self._contacts: dict[str, Contact | None] = dict.fromkeys(SIGNALS)
        self._latest = SignalReading(None, None, None)
        try:
            for name in SIGNALS:
                pin = getattr(signals, f"{name}_pin")
                if isinstance(pin, int):
                    self._contacts[name] = Contact(pin, pin_factory)
        except BaseException:
            self.close()
            raise
        self._each = tuple(self._contacts.values())

    @property
    def left_out(self) -> list[str]:
        """The signals that this box does without."""
        return [name for name, contact in self._contacts.items() if contact is None]

    def read(self) -> SignalReading:
        """All contacts now."""
        mirror, stop, heat = self._each
        found = (
            None if mirror is None else not mirror.pin.state,
            None if stop is None else not stop.pin.state,
            None if heat is None else not heat.pin.state,
        )
        if found != self._latest:
            self._latest = SignalReading(*found)
        return self._latest

    def close(self) -> None:
        """Release the pins."""
        for contact in self._contacts.values():
            if contact is not None:
                contact.close()


class AuxiliaryOutput:
    """One output that nothing depends on for safety, such as a fan. Fail-safe: off at first and when closed.

    Wiring: high switches on. `run_on_s` keeps it on that much longer.
    """

    def __init__(self, pin: int, run_on_s: float, pin_factory: Factory) -> None:
        self._output = OutputDevice(pin, initial_value=False, pin_factory=pin_factory)
        self._run_on_s = run_on_s
        self._on = False
        self._off_at_s = 0.0

    def follow(self, wanted: bool, now_s: float) -> None:
        """On while wanted, and for the run-on time after that."""
        if wanted:
            self._off_at_s = now_s + self._run_on_s
        on = wanted or now_s < self._off_at_s
        if on != self._on:
            self._on = on
            self._output.value = on

    def close(self) -> None:
        """Off, then release the pin."""
        self._output.off()
        self._output.close()
