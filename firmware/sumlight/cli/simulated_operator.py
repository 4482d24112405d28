"""The twin's attendant at commissioning: does with the simulated box's parts what each step asks a person to do."""

from collections.abc import Callable
from typing import Any

from sumlight.cli.simulated import SimulatedBox
from sumlight.language import _, text_of
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.twin.attendant import DO, UNDO, Hand, tube_hands
from sumlight.twin.events import EVENTS

REACH_S = 0.5
PATIENCE_S = 600.0
TRY_AGAIN_S = 1.0


class SimulatedOperator:
    """Somebody with hands at a simulated box. `saw_dark` is the answer after the kill; None: what really happened."""

    def __init__(
        self,
        box: SimulatedBox,
        *,
        who: str = "the twin's attendant",
        leak_mw_cm2: float = 0.004,
        saw_dark: bool | None = None,
    ) -> None:
        self._box = box
        self._who = who
        self._leak_mw_cm2 = leak_mw_cm2
        self._saw_dark = saw_dark
        self._at: tuple[str, str] | None = None
        self._told_no = ""

    def run(self, tell: Callable[[str], None] = lambda _: None) -> dict[str, Any]:
        """Commission the box; returns the last picture."""
        self._wait(1.0)
        self._ask("commission_begin", who=self._who)
        until_s = self._box.clock.mono_s() + PATIENCE_S
        while (run := self._picture()["run"])["outcome"] is None:
            if self._box.clock.mono_s() > until_s:
                why = self._told_no or run["do"]
                raise ValueError(_("commissioning cannot go on at '{step}': {why}", step=run["title"], why=why))
            if (run["step"], run["phase"]) != self._at:
                self._at, until_s = (run["step"], run["phase"]), self._box.clock.mono_s() + PATIENCE_S
                if run["phase"] in ("ask", "prepare", "act"):
                    tell(f"{run['number']}/{run['of']} {text_of(run['title'])}: {text_of(run['do'])}")
                self._act(run)
            elif run["waits_for_next"]:
                self._next(run)
            else:
                self._box.step()
        self._box.step()
        return self._picture()

    def _act(self, run: dict[str, Any]) -> None:
        self._wait(REACH_S)
        if run["phase"] == "act" and run["step"] == "process_killed":
            self._kill()
        elif run["phase"] == "act":
            self._hands(DO.get(run["step"], []))
        elif run["phase"] == "prepare" and "tubes" in run:
            self._hands(tube_hands(**run["tubes"]))
        elif run["phase"] == "undo":
            self._hands(UNDO.get(run["step"], []))
        self._wait(0.2 if run["phase"] == "act" and run["step"] != "light_leak" else REACH_S)

    def _kill(self) -> None:
        banks = self._box.world_banks()
        self._box.kill_control(dark_s=1.0)
        if self._saw_dark is None:
            self._saw_dark = not any(self._box.world.is_lit(bank) for bank in banks)

    def _next(self, run: dict[str, Any]) -> None:
        values: dict[str, Any] = {"at": run["at"]}
        if run["asks"] == "leak_mw_cm2":
            values |= {"leak_mw_cm2": self._leak_mw_cm2}
        elif run["asks"] == "answer":
            values |= {"answer": "yes" if self._saw_dark else "no"}
        elif run["asks"] == "button":
            lacks = run["step"] == "cut_out_alone" and not self._box.scenario.cut_out_button
            values |= {"answer": "no" if lacks else "yes"}
        elif run["asks"] == "place":
            values |= {"at_the_box": True}
        try:
            self._ask("commission_next", **values)
        except BadRequestError as error:
            if error.code != "refused":
                raise
            self._told_no = error.in_full
            self._wait(TRY_AGAIN_S)  # a person waits a little and tries again

    def _hands(self, hands: list[Hand]) -> None:
        for do, fields in hands:
            self._box.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do, **fields}))

    def _ask(self, command: str, **values: Any) -> dict[str, Any]:
        return self._box.daemon.commander.handle(Request(1, command, values))

    def _picture(self) -> dict[str, Any]:
        return self._box.daemon.commander.commissioning.picture()

    def _wait(self, seconds: float) -> None:
        until_s = self._box.clock.mono_s() + seconds
        while self._box.clock.mono_s() < until_s:
            self._box.step()
