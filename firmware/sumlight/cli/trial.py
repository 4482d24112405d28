"""A trial of this computer without a pin: how many ticks a second control manages under light.

The real control works on a simulated stand-in of the box, lit, with its logbook on disk and a picture of the box made
as often as for somebody who watches. Pins and bus cost nothing there; working out lamps and sensor costs
about as much.
"""

import contextlib
import logging
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from sumlight.box.description import BoxDescription
from sumlight.cli.simulated import SimulatedBox
from sumlight.control.daemon import PUSH_S
from sumlight.control.exposure.plan import make_plan
from sumlight.control.pace import TickRate
from sumlight.language import _
from sumlight.store.recipes import recipe_from_text
from sumlight.twin.clock import RunningClock
from sumlight.twin.scenario import Scenario

TRIAL_S = 3.0
TRIES = 3
"""A computer that is still starting other things gets another chance."""

LIGHT_LIMIT_S = 120.0

RECIPE = """\
# Invented for the trial; nothing is exposed.
resist: none
thickness_um: 38
sides: one
dose_mj_cm2: 2000
transmission: {a: 0.8}
time_guard_s: 1800
hold_s: 1
interruptions: {forgiven: 0, longest_gap_s: 60}
"""


class TrialError(RuntimeError):
    """The trial could not be carried out."""


def tried_hz(
    description: BoxDescription,
    enough_hz: float,
    *,
    go_on: Callable[[], bool] = lambda: True,
    work: Callable[[], None] = lambda: None,
) -> float | None:
    """Ticks a second in a trial of 3 s; the best of up to three while it is not enough. None if told to stop.

    `work` is done in every tick besides. Raises TrialError if the stand-in cannot be lit.
    """
    best_hz = 0.0
    with _quiet(), tempfile.TemporaryDirectory(prefix="sumlight-trial-") as folder, contextlib.ExitStack() as ends:
        clock = RunningClock()
        box = SimulatedBox(
            description, Scenario(), Path(folder), speed=None, attended=False, threaded=True, clock=clock
        )
        ends.callback(box.daemon.close)
        _light(box)
        box.daemon.garbage.begin()
        ends.callback(box.daemon.garbage.end)
        clock.run()
        for _ in range(TRIES):
            rate = box.daemon.loop.rate = TickRate(None, real_time=True)
            began_s = pushed_s = time.monotonic()
            while time.monotonic() - began_s < TRIAL_S:
                if not go_on():
                    return None
                work()
                box.step()
                if time.monotonic() - pushed_s >= PUSH_S:
                    pushed_s = time.monotonic()
                    box.daemon.commander.snapshot(pushed=True)
            best_hz = max(best_hz, rate.measured_hz or 0.0)
            if best_hz >= enough_hz:
                break
    return best_hz


def _light(box: SimulatedBox) -> None:
    daemon = box.daemon
    loop, limit_s = daemon.loop, box.clock.mono_s() + LIGHT_LIMIT_S
    stored = recipe_from_text(RECIPE, "trial")
    plan = make_plan(
        stored.recipe,
        name="trial",
        text=RECIPE,
        sha256=stored.sha256,
        panel="trial",
        note="",
        box=loop.box.description,
        leads_s={},
    )
    # Nothing lies in it: the box's own pump need not run for a minute of ticks first.
    plan = replace(plan, kind="steady")
    while loop.exposure.state != "light":
        may = loop.exposure.may()
        if "start" in may and all(watch.fresh(box.clock.mono_s()) for watch in loop.banks.values()):
            daemon.commander.start(plan)
        if box.clock.mono_s() > limit_s:
            raise TrialError(_("the stand-in for this box cannot be lit: {state}", state=loop.exposure.state))
        box.step()


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """The stand-in's own faults are nobody's concern."""
    level = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(level)
