"""What exposures do to the panels of jobs: put down within the tick, where nothing is worked out."""

from collections.abc import Callable
from dataclasses import dataclass

from sumlight.control.exposure.state_machine import Event, Exposure


@dataclass(frozen=True)
class Heard:
    """What an exposure did to the panel of that label: `what` is lit, done (a side; `whole`: all of them) or rest.

    tablet: a step tablet was lit, and `label` is its resist. `recipe` is the panel's.
    """

    label: str
    what: str
    side: str = ""
    whole: bool = False
    rest_s: float = 0.0
    recipe: str = ""


class Listener:
    """Listens among `observers` of the loop and keeps what it heard until somebody takes it."""

    def __init__(self, observers: list[Callable[[Exposure, Event], None]]) -> None:
        self._heard: list[Heard] = []
        observers.append(self._hear)

    def take(self) -> list[Heard]:
        """What happened since the last look, once."""
        heard, self._heard = self._heard, []
        return heard

    def _hear(self, exposure: Exposure, event: Event) -> None:
        plan = exposure.plan
        if plan is not None and plan.kind == "tablet" and event.what == "ended" and event.word == "completed":
            self._heard.append(Heard(plan.resist, "tablet"))
        if plan is None or plan.kind != "panel":
            return
        if event.what == "lit":
            self._heard.append(Heard(plan.panel, "lit", event.side))
        elif event.what == "side" and any(s.plan.side == event.side and s.state == "done" for s in exposure.sides):
            whole = all(side.state == "done" for side in exposure.sides)
            self._heard.append(Heard(plan.panel, "done", event.side, whole))
        elif event.what == "ended" and event.word == "completed":
            self._heard.append(Heard(plan.panel, "rest", rest_s=plan.hold_s, recipe=plan.recipe_name))
