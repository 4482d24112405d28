"""gpiozero pins of the simulated box: strict, with a history, and wired to the simulated parts.

They differ from the library's own mock pins where those would hide a danger: direction and level change in
one step, a pin that is an input or closed floats, and a pin made an output without a level drives low, as a real
one does.
"""

from collections import deque
from collections.abc import Callable
from typing import Any, Protocol

from gpiozero import PinFixedPull, PinInvalidFunction, PinInvalidPull, PinPWMUnsupported, PinSetInput
from gpiozero.pins.mock import MockFactory, MockPin

from sumlight.twin.clock import TwinClock

BEATS_KEPT, CHANGES_KEPT = 20_000, 500
"""Changes of level that the enable line and any other pin remember; older ones go: a day must not fill memory."""


class PinnedWorld(Protocol):
    """What a pin asks of the world that it is wired to."""

    clock: TwinClock
    next_s: float
    """When something happens next; until then nothing need be brought up to now."""

    def advance(self) -> None:
        """Let everything happen that was due by now."""

    def changes_kept(self, pin: int) -> int:
        """How many changes of its level a pin remembers."""

    def consumer_of(self, pin: int) -> Callable[[bool | None], None] | None:
        """What to tell about the level of an output pin (None: floating)."""

    def add_pin(self, pin: "TwinPin") -> None:
        """A pin was made: connect it to its contact, if it has one."""


class TwinPin(MockPin):  # type: ignore[misc]
    """A pin whose every access first brings the simulated world up to now.

    `history` holds (mono_s, level) with level None while the pin floats, newest last.
    """

    _state: bool

    def __init__(self, factory: "TwinFactory", info: Any) -> None:
        self._world = factory.world
        self._clock = factory.world.clock
        self.number_bcm: int = int(info.name[4:])
        self.history: deque[tuple[float, bool | None]] = deque(
            [(self._clock.now_s, None)], maxlen=self._world.changes_kept(self.number_bcm)
        )
        super().__init__(factory, info)
        self._on_level = self._world.consumer_of(self.number_bcm)
        self._grounded: bool | None = None
        self._world.add_pin(self)

    def close(self) -> None:
        """Release the pin: it floats, and no callback fires any more."""
        self.when_changed = None
        self._pull = self.info.pull or "floating"
        self._set_function("input")

    def abandon(self) -> None:
        """The process that had the pin is dead: what Python clears away of it later must not touch the line again."""
        self.close()
        self._on_level = None

    def output_with_state(self, state: bool) -> None:
        """Become an output at this level in one step."""
        self._world.advance()
        self._function = "output"
        self._drive(bool(state))

    def input_with_pull(self, pull: str) -> None:
        """Become an input with this pull in one step."""
        self._world.advance()
        self._function = "input"
        self._set_pull(pull)

    def ground(self, grounded: bool, at_s: float) -> None:
        """A contact to ground on this line closed or opened at `at_s`."""
        self._grounded = grounded
        if self._function == "input":
            self._settle(at_s)

    def _set_function(self, value: str) -> None:
        if value not in ("input", "output"):
            raise PinInvalidFunction("function must be input or output")
        self._world.advance()
        self._function = value
        if value == "output":
            self._drive(False)
        else:
            self._settle(self._clock.now_s)

    def _set_pull(self, value: str) -> None:
        if value not in ("floating", "up", "down"):
            raise PinInvalidPull("pull must be floating, up, or down")
        if self._function == "output":
            raise PinFixedPull(f"cannot set pull on output pin {self!r}")
        self._pull = value
        self._settle(self._clock.now_s)

    def _read(self) -> bool:
        if self._clock.now_s >= self._world.next_s:
            self._world.advance()
        return self._state

    def _write(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of input pin {self!r}")
        if value not in (0, 1):
            raise PinPWMUnsupported(f"pin {self!r} is either low or high, not {value}")
        level = bool(value)
        if level != self._state:
            if self._clock.now_s >= self._world.next_s:
                self._world.advance()
            self._drive(level)

    state = property(_read, _write)

    def _drive(self, level: bool) -> None:
        """Put a level on the line and tell whatever hangs on it."""
        if self.history[-1][1] is not level:
            self.history.append((self._clock.now_s, level))
        self._state = level
        if self._on_level is not None:
            self._on_level(level)

    def _settle(self, at_s: float) -> None:
        """As an input: take the level of contact and pull, and let go of whatever hangs on the line."""
        level = not self._grounded and (self._pull == "up" or (self._pull == "floating" and self._state))
        self._note(None if self._grounded is None else level, at_s)
        changed = level != self._state
        self._state = level
        if self._on_level is not None:
            self._on_level(None)
        if changed:
            self._last_change = at_s
            if self._when_changed is not None and self._edges in ("both", "rising" if level else "falling"):
                self._call_when_changed()

    def _note(self, level: bool | None, at_s: float) -> None:
        if self.history[-1][1] is not level:
            self.history.append((at_s, level))


class TwinFactory(MockFactory):  # type: ignore[misc]
    """gpiozero pin factory of one simulated world."""

    def __init__(self, world: PinnedWorld) -> None:
        self.world = world
        super().__init__(revision="a02082", pin_class=TwinPin)

    def ticks(self) -> float:
        """Simulated seconds."""
        return self.world.clock.now_s
