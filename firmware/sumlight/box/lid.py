"""The lid's two complementary contacts, read as levels: edges are known to get lost, levels are not."""

from typing import Literal

from gpiozero.pins import Factory

from sumlight.box import description
from sumlight.box.contact import Contact

LidState = Literal["shut", "open", "disagree"]

SETTLE_S = 0.1
"""How long both contacts must say shut before it is believed; opening is believed at once."""


class LidJudge:
    """Judges the two contacts over time: the pure half of the lid.

    `disagreement_limit_s`: longer than this without agreement is a fault.
    """

    def __init__(self, disagreement_limit_s: float) -> None:
        self._limit_s = disagreement_limit_s
        self._shut_since_s: float | None = None
        self._disagree_since_s: float | None = None
        self.state: LidState = "disagree"
        self.mismatch = False
        self.both_open = False
        """Whether neither contact gave its level at the last reading: as if both wires were off."""

    def update(self, now_s: float, *, says_shut: bool, says_open: bool) -> LidState:
        """Take in one reading of both contacts; returns and keeps the state, and keeps `mismatch` up to date."""
        self.both_open = not says_shut and not says_open
        if says_shut != says_open:
            self._disagree_since_s = None
            self.mismatch = False
        else:
            if self._disagree_since_s is None:
                self._disagree_since_s = now_s
            self.mismatch = now_s - self._disagree_since_s > self._limit_s
        if says_shut and not says_open:
            if self._shut_since_s is None:
                self._shut_since_s = now_s
            if now_s - self._shut_since_s >= SETTLE_S:
                self.state = "shut"
        else:
            self._shut_since_s = None
            self.state = "open" if says_open and not says_shut else "disagree"
        return self.state


class Lid:
    """Reads the lid's contacts. Fail-safe: a broken wire, a short or a stuck contact never reads as shut for long.

    Wiring: each contact to ground; the Pi's pull-up makes an open contact read high. `shut_pin` is closed only while
    the lid is shut, `open_pin` only while it is open, so that one of the two always carries current.

    The library is not asked for edges: nothing needs them, and its thread that waits for them can hold a line when it
    is to be released.
    """

    def __init__(self, lid: description.Lid, pin_factory: Factory) -> None:
        self.judge = LidJudge(lid.disagreement_limit_s)
        self._shut = Contact(lid.shut_pin, pin_factory)
        self._open = Contact(lid.open_pin, pin_factory)

    def read(self, now_s: float) -> LidState:
        """Both contacts now, judged."""
        return self.judge.update(now_s, says_shut=not self._shut.pin.state, says_open=not self._open.pin.state)

    def close(self) -> None:
        """Release both pins."""
        self._shut.close()
        self._open.close()
