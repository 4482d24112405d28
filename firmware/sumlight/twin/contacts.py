"""Simulated contacts between the box and the Pi's input pins: lid, K1's mirror, emergency stop, over-temperature."""

from collections.abc import Callable
from functools import partial

from sumlight.box.description import BoxDescription
from sumlight.twin.lid import Lid
from sumlight.twin.pins import TwinPin
from sumlight.twin.relays import Switchgear

TAP_S = 0.2
"""How long a finger stays on a button."""


class Contacts:
    """Keeps each input pin at the level that its contact to ground, and the wire to it, give it."""

    def __init__(
        self,
        box: BoxDescription,
        lid: Lid,
        gear: Switchgear,
        later: Callable[[float, Callable[[float], None]], None],
    ) -> None:
        self._later = later
        self._lid = lid
        self._gear = gear
        self.too_hot = False
        self._broken: set[str] = set()
        self._supplied = True
        signals = {
            "k1_mirror": box.signals.k1_mirror_pin,
            "emergency_stop": box.signals.emergency_stop_pin,
            "over_temperature": box.signals.over_temperature_pin,
        }
        wires: dict[str, int] = {name: pin for name, pin in signals.items() if isinstance(pin, int)}
        panel = box.front_panel
        buttons = {} if panel is None else {"go": panel.go_pin, "stop": panel.stop_pin}
        wires |= {name: pin for name, pin in buttons.items() if pin is not None}
        self._pressed: set[str] = set()
        self._stuck: set[str] = set()
        self._names = {pin: name for name, pin in wires.items()}
        self._names |= {box.lid.shut_pin: "shut", box.lid.open_pin: "open"}
        self._pins: dict[str, TwinPin] = {}
        self._told: dict[str, bool] = {}

    def connect(self, pin: TwinPin, at_s: float) -> None:
        """A pin was set up: it gets the level of its contact, if one hangs on it."""
        name = self._names.get(pin.number_bcm)
        if name is not None:
            self._pins[name] = pin
            self._told[name] = self._grounded(name)
            pin.ground(self._told[name], at_s)

    def field_supply(self, on: bool, at_s: float) -> None:
        """The supply that every contact switches is lost, or is back."""
        self._supplied = on
        self.follow(at_s)

    def wire(self, name: str, broken: bool, at_s: float) -> None:
        """The wire of a contact comes off, or is put back."""
        (self._broken.add if broken else self._broken.discard)(name)
        self.follow(at_s)

    def tap(self, button: str, at_s: float) -> None:
        """A button of the front panel is pressed, and let go a moment later."""
        self._pressed.add(button)
        self.follow(at_s)
        self._later(at_s + TAP_S, partial(self._let_go, button))

    def stick(self, button: str, stuck: bool, at_s: float) -> None:
        """A button stays pressed, or comes back."""
        (self._stuck.add if stuck else self._stuck.discard)(button)
        self.follow(at_s)

    def _let_go(self, button: str, at_s: float) -> None:
        self._pressed.discard(button)
        self.follow(at_s)

    def follow(self, at_s: float) -> None:
        """Let every contact that has moved since move its pin."""
        for name, pin in self._pins.items():
            grounded = self._grounded(name)
            if self._told[name] is not grounded:
                self._told[name] = grounded
                pin.ground(grounded, at_s)

    def bounce(self, at_s: float, changes: list[tuple[float, str, bool]]) -> None:
        """Let the contacts of the lid change now and in the next milliseconds."""
        for delay_s, name, closed in changes:
            token = self._lid.contacts[name].token
            self._later(at_s + delay_s, partial(self._touch, name, closed, token))

    def _touch(self, name: str, closed: bool, token: int, at_s: float) -> None:
        contact = self._lid.contacts[name]
        if contact.token == token:
            contact.closed = closed
            self.follow(at_s)

    def _grounded(self, name: str) -> bool:
        return self._supplied and name not in self._broken and self._closed(name)

    def _closed(self, name: str) -> bool:
        match name:
            case "k1_mirror":
                return self._gear.mirror_closed
            case "emergency_stop":
                return not self._gear.wired.acted("S2")
            case "over_temperature":
                return not self.too_hot
            case "go":
                return name in self._pressed | self._stuck
            case "stop":
                return name not in self._pressed | self._stuck
        return self._lid.contacts[name].closed
