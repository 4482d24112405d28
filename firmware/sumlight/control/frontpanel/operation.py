"""The front panel at work: what go and stop do, what waits for a press, what buzzer and light tell.

Go begins, continues, lets wait, or acknowledges; it lights only by the same commands, with the same checks, as every
other client. Stop goes to dark and does nothing else. Nothing here may raise into the loop: a panel that fails is told.
"""

import logging
from collections.abc import Callable
from typing import Any, Protocol

from sumlight.box import description
from sumlight.box.front_panel import FrontPanel, Pressed
from sumlight.control.frontpanel.buttons import Button, FreshPress
from sumlight.control.frontpanel.patterns import NAG_S, buzzer_on, light_on, timer_heard
from sumlight.control.loop import ControlLoop
from sumlight.control.pace import NEAR_S
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.protocol.snapshot import UNDER_LIGHT, Sign
from sumlight.text.message import Message, joined, say

log = logging.getLogger(__name__)

AT_THE_BOX = "go, at the box"
"""Who is recorded for what a press of go did."""
WAITS_S = 30.0
"""How long a command from elsewhere waits for its press at the box."""
SAID_S = 20.0
"""How long it is shown why a press did nothing."""
TELL_S = 0.02
"""How often buzzer and light are told what to do; nobody hears or sees it finer."""


class Timers(Protocol):
    """What rings: how many rings nobody has answered. It is asked in every tick, so nothing is worked out for it."""

    rings: int


class PanelOperation:
    """The front panel of one box. `carry_out` does what a press stands for; `start` makes the request that begins.

    The buzzer tells timers that ring, too. `trouble` names what is wrong with it. Nobody waits for it.
    """

    def __init__(
        self,
        loop: ControlLoop,
        panel: FrontPanel,
        described: description.FrontPanel,
        carry_out: Callable[[Request], object],
        go_on: Callable[[], Request],
        begin: Callable[[str], Request],
        timers: Timers,
    ) -> None:
        self._loop, self._panel, self._carry_out, self._go_on, self._begin = loop, panel, carry_out, go_on, begin
        self._timers, self._rings, self._rings_s = timers, 0, 0.0
        self._recipe = described.go_recipe
        self.press_to_light = described.press_to_light
        self._go, self._stop = FreshPress(), Button()
        self._kept: Request | None = None
        self._kept_s = 0.0
        self._sign: Sign = "rest"
        self._sign_s = 0.0
        self._silent = False
        self._said: Message | None = None
        self._said_s = 0.0
        self._failed: Message | None = None
        self._sounds = self._shines = False
        self._tell_at_s = 0.0
        self._still = False

    # -- what waits for a press ----------------------------------------------------------------------------------

    def keep(self, request: Request) -> None:
        """Let a command that would light wait for a press of go at the box."""
        self._kept, self._kept_s = request, self._loop.clock.mono_s()
        self._said = None

    def forget(self) -> None:
        """What waited is called off."""
        self._kept = None

    def waits_s(self) -> float | None:
        """How long what waits will go on waiting; None where nothing does."""
        return None if self._kept is None else max(0.0, self._kept_s + WAITS_S - self._loop.clock.mono_s())

    # -- every tick ----------------------------------------------------------------------------------------------

    def look(self) -> None:
        """Look at the buttons, and tell buzzer and light. Never raises: what fails is named, and the loop goes on."""
        now_s = self._loop.clock.mono_s()
        try:
            if self._still and now_s < self._tell_at_s and not self._panel.touched():
                return
            pressed = self._panel.read()
            if pressed.stop or (pressed.stop is not None and not self._stop.resting):
                self._look_at_stop(pressed.stop, now_s)
            if pressed.go or (pressed.go is not None and (self._kept is not None or not self._go.button.resting)):
                self._look_at_go(pressed, now_s)
            if now_s >= self._tell_at_s:
                self._tell_at_s = now_s + TELL_S - NEAR_S
                self._tell(now_s)
            self._still = self._kept is None and self._stop.resting and self._go.button.resting
        except Exception as error:  # comfort only: named, never a reason for anything else
            if self._failed is None:
                log.exception("the front panel failed")
            self._failed = say("front_panel_failed", why=f"{type(error).__name__}: {error}")

    def _look_at_stop(self, pressed: bool, now_s: float) -> None:
        news = self._stop.look(pressed, now_s)
        if self._stop.changing or (self._stop.pressed and not self._stop.sticks(now_s)):
            self._loop.hurry(now_s)
        if news and self._stop.pressed:
            self._silent, self._kept = True, None
        if self._stop.pressed and not self._stop.sticks(now_s) and (news or self._lit()):
            self._loop.go_dark("the stop button at the box")
            self._loop.exposure.dark(now_s)

    def _lit(self) -> bool:
        return self._loop.exposure.base_state in UNDER_LIGHT

    def _look_at_go(self, pressed: Pressed, now_s: float) -> None:
        began_s = self._go.look(bool(pressed.go), self._loop.state_since, now_s)
        button = self._go.button
        if button.changing or (button.pressed and not button.sticks(now_s)):
            self._loop.hurry(now_s)
        if self._kept is not None and now_s - self._kept_s > WAITS_S:
            self._kept = None
            self._say(say("nobody_pressed_go", seconds=WAITS_S), now_s)
        if began_s is None:
            return
        timer_heard, self._silent = self._timer_calls(now_s), True
        if timer_heard and self._kept is None and "start" in self._loop.exposure.may():
            self._say(say("press_silenced_timer"), now_s)  # whoever answers a timer does not mean light
            return
        try:
            self._act(began_s)
        except BadRequestError as error:
            self._say(joined(error.message, error.remedy), now_s)
        else:
            self._said = None

    def _act(self, began_s: float) -> None:
        """What a fresh go does: one thing. Raises BadRequestError for what is refused."""
        may = self._loop.exposure.may()
        kept, self._kept = self._kept, None
        if kept is not None and began_s >= self._kept_s:
            self._carry_out(kept)
        elif self._loop.desk:
            if self._loop.acknowledge(AT_THE_BOX)["standing"]:
                raise BadRequestError("refused", say("fault_is_standing"), remedy=say("read_its_remedy"))
        elif "start" in may and self._recipe is not None:
            self._carry_out(self._begin(self._recipe))
        elif "start" in may:
            raise BadRequestError("refused", say("go_begins_nothing"), remedy=say("name_go_recipe"))
        else:
            self._carry_out(self._go_on())

    # -- what is told --------------------------------------------------------------------------------------------

    def _tell(self, now_s: float) -> None:
        sign = self._sign_of()
        if sign != self._sign:
            self._sign, self._sign_s, self._silent = sign, now_s, False
        if self._timers.rings != self._rings:
            self._silent = self._silent and self._timers.rings < self._rings
            self._rings, self._rings_s = self._timers.rings, now_s
        since_s = now_s - self._sign_s
        rings = self._timer_calls(now_s) and timer_heard(now_s - self._rings_s)
        self._sounds = rings or (not self._silent and buzzer_on(sign, since_s))
        self._shines = light_on(sign, since_s)
        self._panel.show(buzzer=self._sounds, light=self._shines)

    def _timer_calls(self, now_s: float) -> bool:
        """Whether the buzzer calls for a timer, tone or pause."""
        return self._rings > 0 and not self._silent and self._sign != "fault" and now_s - self._rings_s < NAG_S

    def _sign_of(self) -> Sign:
        exposure = self._loop.exposure
        if self._loop.desk.names:
            return "fault"
        if self._kept is not None or exposure.base_state in ("turn", "paused"):
            return "needs_you"
        if self._lit():
            return "lit"
        if exposure.base_state == "done" and exposure.outcome == "completed" and exposure.left_inside:
            return "done"
        return "ready" if self._recipe is not None and "start" in exposure.may() else "rest"

    def _say(self, message: Message, now_s: float) -> None:
        self._said, self._said_s = message, now_s
        log.info("at the box: %s", message)

    def troubles(self) -> list[Message]:
        """What is wrong with the panel."""
        now_s = self._loop.clock.mono_s()
        found = []
        if self._go.button.sticks(now_s):
            found.append(say("go_button_sticks"))
        if self._stop.sticks(now_s):
            found.append(say("stop_button_sticks"))
        why = self._panel.trouble()
        if why is not None:
            found.append(say("panel_output_hangs") if not why else say("panel_output_fails", why=why))
        return [*found, *([self._failed] if self._failed is not None else [])]

    def picture(self) -> dict[str, Any]:
        """What a person at the box hears and sees there."""
        now_s = self._loop.clock.mono_s()
        said = self._said if self._said is not None and now_s - self._said_s <= SAID_S else None
        return {
            "has": list(self._panel.has),
            "sign": self._sign,
            "buzzer": self._sounds,
            "light": self._shines,
            "waits_s": self.waits_s(),
            "said": said,
        }
