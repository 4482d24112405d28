"""What a button says: a press that counts, one that is over, one that sticks. Pure: time is an argument."""

from collections.abc import Callable
from dataclasses import dataclass

CONFIRM_S = 0.01
"""So long a change must last: a spark near the wire does not."""
SHORTEST_PRESS_S, LONGEST_PRESS_S = 0.05, 3.0
"""A go is pressed and let go; what lasts longer leans against the button or sticks."""
STICKS_AFTER_S = 10.0
STOOD_S = 0.8
"""So long what a go does must have stood before the press: a thumb on its way means what was there before. The page
asks the same."""


class Button:
    """One button. A press that was there when looking began counts for nothing, since nobody saw it begin.

    While it is `resting`, a look that finds it open changes nothing and may be left out.
    """

    def __init__(self) -> None:
        self.resting = False
        self.pressed = False
        self.since_s = 0.0
        self._seen = False
        self._changing_s: float | None = None

    def look(self, closed: bool, now_s: float) -> bool:
        """Take a look; true when it has just been pressed or let go."""
        news = self._look(closed, now_s)
        self.resting = not self.pressed and self._changing_s is None
        return news

    def _look(self, closed: bool, now_s: float) -> bool:
        if not self._seen:
            self._seen, self.pressed, self.since_s = True, closed, now_s
            return False
        if closed == self.pressed:
            self._changing_s = None
            return False
        if self._changing_s is None:
            self._changing_s = now_s
        if now_s - self._changing_s < CONFIRM_S:
            return False
        self.pressed, self.since_s, self._changing_s = closed, self._changing_s, None
        return True

    @property
    def changing(self) -> bool:
        """Whether a change is being confirmed."""
        return self._changing_s is not None

    def sticks(self, now_s: float) -> bool:
        """Whether it has been pressed for longer than anybody presses."""
        return self.pressed and now_s - self.since_s > STICKS_AFTER_S


@dataclass(frozen=True)
class _Press:
    began_s: float
    state: object


class FreshPress:
    """Whether a go is fresh: pressed after its act had stood for a moment, and let go before anything changed.

    It counts when the button is let go, so that one that sticks never counts.
    """

    def __init__(self) -> None:
        self._button = Button()
        self._press: _Press | None = None

    @property
    def button(self) -> Button:
        """The button itself."""
        return self._button

    def look(self, closed: bool, state: Callable[[], tuple[object, float]], now_s: float) -> float | None:
        """Take a look at the button; when a press that counts is over, when that press began.

        `state` tells the state of the box and since when it stands; it is asked when the button has changed only.
        """
        if not self._button.look(closed, now_s):
            return None
        seen, since_s = state()
        if self._button.pressed:
            stood = self._button.since_s - since_s >= STOOD_S
            self._press = _Press(self._button.since_s, seen) if stood else None
            return None
        press, self._press = self._press, None
        if press is None or press.state != seen:
            return None
        lasted_s = self._button.since_s - press.began_s
        return press.began_s if SHORTEST_PRESS_S <= lasted_s <= LONGEST_PRESS_S else None
