"""The twin wired to the real control: the same daemon, with simulated pins, bus, time and people."""

import contextlib
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sumlight.box.description import BoxDescription, load_box
from sumlight.checkedfile import FileProblemsError
from sumlight.control.daemon import LOGBOOK, RECIPES, Daemon
from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.state_machine import Event, Exposure
from sumlight.control.refused import RefusedError
from sumlight.protocol.messages import Request
from sumlight.protocol.press import FIRST_LEG, seen
from sumlight.store.datalock import DataLock
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStoreError, UnknownRecipeError
from sumlight.text.message import say
from sumlight.twin import demo
from sumlight.twin.attendant import DO, UNDO, Hand, SimulatedAttendant, hands, tube_hands
from sumlight.twin.clock import TwinClock
from sumlight.twin.scenario import Scenario, load_scenario
from sumlight.twin.truth import Truth
from sumlight.twin.world import World


class SimulatedBox:
    """A daemon on a simulated box. `speed` None runs as fast as the machine goes.

    `attended` lets the scenario's attendant turn panels and press go. `wiring` is how the box is really wired where
    that differs from the description that control works by; `kill` ends the process that runs all this, if one may,
    when commissioning asks for it; `clock` is the box's, where its wall time is not this machine's. Raises
    FileProblemsError for unusable files, DataInUseError if another process works with `data`.
    """

    def __init__(
        self,
        description: BoxDescription,
        scenario: Scenario,
        data: Path,
        *,
        speed: float | None,
        attended: bool,
        threaded: bool,
        wiring: BoxDescription | None = None,
        kill: Callable[[], None] | None = None,
        clock: TwinClock | None = None,
    ) -> None:
        self.scenario = scenario
        self.clock = clock or TwinClock(speed)
        self.world = World(self.clock, wiring or description, scenario)
        self.truth = Truth(self.world)
        self._move = hands(self.world)
        self._kill = kill
        self._plan: Plan | None = None
        self._description, self._data, self._threaded = description, data, threaded
        self.lock = DataLock(data)
        provide_demo_recipes(data / RECIPES)
        _provide_lamp_use(data / LOGBOOK, description, scenario, durable=threaded)
        self.daemon = self._control()
        self._attendant = SimulatedAttendant(self.world, scenario.attendant_go_after_s if attended else None)

    def _control(self) -> Daemon:
        daemon = Daemon(
            self._description,
            self.clock,
            self.world.pin_factory,
            self.world.bus,
            self._data,
            simulated=True,
            threaded=self._threaded,
            durable=self._threaded,
            hands=self._hand,
            truth=self.truth.dose_mj_cm2,
            supply=_TwinGauge(self.world),
            lock=self.lock,
        )
        daemon.loop.observers.append(self._note_truth)
        return daemon

    def world_banks(self) -> list[str]:
        """Names of the lamp banks of the simulated box."""
        return [bank.name for bank in self._description.banks]

    def kill_control(self, dark_s: float = 1.0) -> None:
        """Control is gone without a word, as by SIGKILL; `dark_s` later it is started again over the same data."""
        self.daemon.forget()
        self.world.control_dies()
        self.clock.wait_until(self.clock.mono_s() + dark_s)
        self.daemon = self._control()

    def _hand(self, what: str, bank: str | None, meter: str | None) -> str:
        """Somebody's hand at the box; `as_asked` does what the step of commissioning asks a person to do now."""
        if what != "as_asked":
            return self._move(what, bank, meter)
        run = self.daemon.commander.commissioning.picture()["run"]
        asked = run is not None and run["outcome"] is None
        if asked and (run["step"], run["phase"]) == ("process_killed", "act"):
            if self._kill is None:
                raise ValueError(say("no_process_to_kill"))
            self._kill()
            return what
        moves = _asked_for(run) if run is not None and asked else []
        if not moves:
            raise ValueError(say("no_hands_asked_for"))
        for do, fields in moves:
            self._move(do, fields.get("bank", bank), meter, fields)
        return what

    def press(self, command: str, **values: Any) -> dict[str, Any]:
        """Press `start`, `series` or `go` as somebody does who sees the box as it stands now."""
        return press(self.daemon, command, **values)

    def step(self) -> None:
        """One tick of control, and what people do meanwhile."""
        self.daemon.step()
        exposure = self.daemon.loop.exposure
        for button in self.world.pressed():
            self._press(button, self.clock.mono_s())
        if exposure.state in ("paused", "turn"):
            now_s = self.clock.mono_s()
            asked = exposure.pause_cause != "dark_command" and "go" in exposure.may()
            if self._attendant.look(exposure.state, may_go=asked, now_s=now_s):
                self._press("go", now_s)

    def _press(self, button: str, now_s: float) -> None:
        try:
            getattr(self.daemon.loop.exposure, button)(now_s)
        except RefusedError as error:
            self.world.log.append((now_s, f"{button} was refused: {error}"))

    def _note_truth(self, exposure: Exposure, event: Event) -> None:
        if event.what == "lit":
            if exposure.plan is not self._plan:
                self._plan = exposure.plan
                self.truth.forget()
            side = next(side for side in exposure.sides if side.plan.side == event.side)
            self.truth.lit(event.side, event.bank, side.plan.transmission)
        elif event.what == "side":
            side = next(side for side in exposure.sides if side.plan.side == event.side)
            if side.state in ("done", "abandoned"):
                self.truth.done(event.side)


def _asked_for(run: dict[str, Any]) -> list[Hand]:
    """What a step of commissioning asks of a person's hands now; nothing while it asks for none."""
    if "tubes" in run and run["phase"] == "prepare":
        return tube_hands(**run["tubes"])
    return {"act": DO, "undo": UNDO}.get(run["phase"], {}).get(run["step"], [])


def press(daemon: Daemon, command: str, **values: Any) -> dict[str, Any]:
    """Press `start`, `series` or `go` in sight of the box as it stands; `values` may say that something else was seen.

    Raises BadRequestError for what is refused.
    """
    saw = seen(daemon.commander.snapshot())
    if command != "go":
        with contextlib.suppress(RecipeStoreError, UnknownRecipeError, FileProblemsError):  # control's to say
            stored = daemon.shelf.load(str(values.get("recipe")))
            saw |= {"recipe_sha256": stored.sha256, "side": stored.recipe.first_lit()}
        saw |= {"side": FIRST_LEG} if command == "series" else {}
    return daemon.commander.handle(Request(1, command, {"panel": "", **saw, **values}))


class _TwinGauge:
    """The supply gauge of the simulated Pi."""

    def __init__(self, world: World) -> None:
        self._world = world

    def low(self) -> bool:
        """Whether the simulated supply sags."""
        return self._world.supply_low


def read_files(box: Path | None, scenario: Path | None) -> tuple[BoxDescription, Scenario]:
    """The box and the scenario to simulate; demo box and a quiet scenario by default. Raises FileProblemsError."""
    return load_box(box or demo.BOX), load_scenario(scenario) if scenario else Scenario()


def _provide_lamp_use(path: Path, description: BoxDescription, scenario: Scenario, *, durable: bool) -> None:
    """A new logbook of the twin begins with the lamps' past that the scenario tells."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    with Logbook(path, durable=durable) as logbook:
        for bank in description.banks:
            logbook.lamps.add_lamp_use(bank.name, 3600 * scenario.lamp_hours, scenario.strikes)


def provide_demo_recipes(folder: Path) -> None:
    """Lay out the invented demo recipes where there are none yet."""
    if folder.exists():
        return
    folder.mkdir(parents=True)
    for path in sorted(demo.RECIPES.glob("*.yaml")):
        shutil.copyfile(path, folder / path.name)
