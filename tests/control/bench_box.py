"""The demo box under the real daemon, stepped by hand: the bench of control's tests."""

from collections.abc import Callable
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

from sumlight.box.description import BoxDescription, load_box
from sumlight.cli.simulated import SimulatedBox
from sumlight.control.daemon import LOGBOOK, RECIPES
from sumlight.control.exposure.side import SideRun
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.store.logbook.logbook import Logbook
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from sumlight.twin.events import EVENTS
from sumlight.twin.pins import TwinPin
from sumlight.twin.scenario import Scenario

TRANSMISSION = 0.8

RECIPE = """\
# Invented for tests.
resist: Invented film
thickness_um: 38
sides: {sides}
dose_mj_cm2: {dose_mj_cm2}
transmission: {{a: 0.8, b: 0.8}}
time_guard_s: {time_guard_s}
hold_s: 60
interruptions: {{forgiven: {forgiven}, longest_gap_s: {longest_gap_s}}}
"""


def recipe_text(
    sides: str = "one",
    dose_mj_cm2: float = 20,
    time_guard_s: float = 100,
    forgiven: int = 2,
    longest_gap_s: float = 60,
) -> str:
    """An invented recipe; 20 mJ/cm² take about six seconds."""
    return RECIPE.format(
        sides=sides,
        dose_mj_cm2=dose_mj_cm2,
        time_guard_s=time_guard_s,
        forgiven=forgiven,
        longest_gap_s=longest_gap_s,
    )


def demo_box(two_banks: bool = False, **changes: Any) -> BoxDescription:
    """The demo box with some fields changed."""
    return _demo(two_banks).model_copy(update=changes)


@cache
def _demo(two_banks: bool) -> BoxDescription:
    return load_box(demo.TWO_BANK_BOX if two_banks else demo.BOX)


class BenchBox(SimulatedBox):
    """One run of control on a simulated box, fresh or over the data folder of an earlier run.

    Unless told otherwise the lid's switch is left out of K1's coil circuit: what darkens here is the software.
    """

    def __init__(
        self,
        data: Path,
        *events: dict[str, Any],
        box: BoxDescription | None = None,
        threaded: bool = False,
        wiring: BoxDescription | None = None,
        clock: TwinClock | None = None,
        **scenario: Any,
    ) -> None:
        given = {"hardwired_lid_switch": False, "attendant_go_after_s": None, **scenario, "events": list(events)}
        (data / RECIPES).mkdir(parents=True, exist_ok=True)
        self.data = data
        super().__init__(
            box if box is not None else demo_box(),
            Scenario.model_validate(given),
            data,
            speed=None,
            attended=given["attendant_go_after_s"] is not None,
            threaded=threaded,
            wiring=wiring,
            clock=clock,
        )
        self.loop = self.daemon.loop
        self.exposure = self.loop.exposure
        self.after_step: Callable[[], None] | None = None
        self.killed = False
        self.save("quick", recipe_text())

    # Time

    def step(self) -> None:
        """One tick, then whatever the test wants to see of it."""
        super().step()
        if self.after_step is not None:
            self.after_step()

    def run(self, seconds: float) -> None:
        """Let time pass."""
        end_s = self.clock.now_s + seconds
        while self.clock.now_s < end_s - 1e-9:
            self.step()

    def until(self, condition: Callable[[], bool], limit_s: float = 120.0, *, every_s: float = 0.0) -> float:
        """Let time pass until `condition` holds; returns the seconds it took, fails after `limit_s`.

        It is looked at after each tick, or `every_s`: a whole snapshot takes as long as several ticks.
        """
        began_s = self.clock.now_s
        while not condition():
            if self.clock.now_s - began_s > limit_s:
                raise AssertionError(f"still {self.state} after {limit_s} s; faults: {self.faults}")
            self.step()
            self.run(every_s)
        return self.clock.now_s - began_s

    def until_state(self, state: str, limit_s: float = 120.0) -> float:
        """Let time pass until control is in `state`."""
        return self.until(lambda: self.state == state, limit_s)

    def set_wall_clock(self, forward_s: float) -> None:
        """Somebody, or the network, sets date and time; the monotonic clock knows nothing of it."""
        self.clock._began_utc += timedelta(seconds=forward_s)

    # Commands

    def save(self, name: str, text: str) -> None:
        """Put a recipe on the shelf."""
        self.daemon.shelf.save(name, text)

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command as a client would; what lights, as one who sees the box as it stands now."""
        if command in ("start", "series", "go"):
            return self.press(command, **values)
        if command == "commission_next":
            run = self.snapshot()["commissioning"]["run"] or {"at": ""}
            values = {"at": run["at"], **values}
        return self.daemon.commander.handle(Request(1, command, values))

    def refused(self, command: str, **values: Any) -> BadRequestError:
        """Send a command that must be refused; returns the error."""
        try:
            self.ask(command, **values)
        except BadRequestError as error:
            return error
        raise AssertionError(f"{command} was carried out")

    def snapshot(self) -> dict[str, Any]:
        """The picture that clients get."""
        return self.daemon.commander.snapshot()

    def ready(self) -> "BenchBox":
        """Take out the last panel, then wait until another could be started."""
        self.change_panel()
        self.until(lambda: "start" in self.exposure.may() and self.sees_light(), 20.0)
        return self

    def change_panel(self) -> "BenchBox":
        """Open the lid, take out what lies inside, shut the lid; nothing where nothing needs to be taken out."""
        if self.exposure.left_inside is not None and not self.exposure.running:
            self.until(lambda: self.loop.lid != "disagree", 20.0)
            self.open_lid()
            self.run(1.0)
            self.shut_lid()
        return self

    def start(self, recipe: str = "quick", panel: str = "P1") -> "BenchBox":
        """Start a panel as soon as the box is ready for it."""
        self.ready()
        self.ask("start", recipe=recipe, panel=panel)
        return self

    def start_new(self, **recipe: Any) -> "BenchBox":
        """Start a panel with a recipe made for this test."""
        self.save("special", recipe_text(**recipe))
        return self.start("special")

    def light_up(self, settled_s: float = 4.0, **recipe: Any) -> "BenchBox":
        """Start a long exposure and wait until it has been lit for some seconds."""
        self.start_new(**{"dose_mj_cm2": 200, **recipe})
        self.until(lambda: self.world.is_lit(self.lit_bank))
        self.run(settled_s)
        assert self.state == "light"
        return self

    def self_check(self) -> dict[str, Any]:
        """Let the lower bank's sensor look at its own LED; returns what was found."""
        self.ready().ask("self_check", bank="lower")
        self.until(lambda: self.snapshot()["banks"][0]["self_check"]["phase"] != "running", 10.0, every_s=0.1)
        found: dict[str, Any] = self.snapshot()["banks"][0]["self_check"]["result"]
        return found

    # The world

    def happen(self, do: str, **extra: Any) -> None:
        """Let an event of the scenario's list happen now."""
        self.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do, **extra}))

    def shut_lid(self) -> None:
        """Shut the lid and wait until control believes it."""
        self.happen("lid_closes")
        self.until(lambda: self.loop.lid == "shut", 2.0)

    def open_lid(self) -> None:
        """Open the lid and wait until control sees it."""
        self.happen("lid_opens")
        self.until(lambda: self.loop.lid == "open", 2.0)

    def turn_panel(self) -> None:
        """Open the lid, turn the panel, shut the lid."""
        self.open_lid()
        self.run(2.0)
        self.shut_lid()

    def bus_error(self, seconds: float, meter: str = "below") -> None:
        """The meter does not answer for a while, but keeps its power and its settings."""
        chip = self.world._chips[meter]
        chip.present = False
        self.run(seconds)
        chip.present = True

    def new_lamps(self) -> None:
        """Fit new tubes in every bank."""
        for bank in self.loop.box.description.banks:
            self.world.lamp(bank.name).tubes = 6

    # What is seen

    @property
    def state(self) -> str:
        """Where the work stands."""
        return self.exposure.state

    @property
    def faults(self) -> list[str]:
        """Names of the standing faults that keep the lamps dark, oldest first."""
        return [fault.kind.fault for fault in self.loop.desk.standing() if fault.kind.stops]

    @property
    def lit_bank(self) -> str:
        """The bank of the first side."""
        return self.exposure.sides[0].plan.bank

    def sees_light(self) -> bool:
        """Whether every meter gives readings."""
        return all(
            watch.glass_mw_cm2 is not None and watch.fresh(self.clock.now_s) for watch in self.loop.banks.values()
        )

    def side(self, name: str = "A") -> SideRun:
        """One side of the exposure."""
        return next(side for side in self.exposure.sides if side.plan.side == name)

    def pin(self, number: int) -> TwinPin:
        """A pin as the world sees it."""
        return self.world.pin_factory.pin(number)  # type: ignore[no-any-return]

    def relay_level(self, bank: str) -> bool | None:
        """The level of a bank's relay pin; None while it floats."""
        return self.pin(self._bank(bank).relay_pin).history[-1][1]

    def relay_lights(self, bank: str) -> bool:
        """Whether a bank's relay pin is at the level that lights."""
        level = self.relay_level(bank)
        return level is not None and level == (self._bank(bank).lights_when == "high")

    def any_relay_lights(self) -> bool:
        """Whether any relay pin is at the level that lights."""
        return any(self.relay_lights(bank.name) for bank in self.loop.box.description.banks)

    def any_light(self) -> bool:
        """Whether light really comes out of any bank."""
        return any(self.world.is_lit(bank.name) for bank in self.loop.box.description.banks)

    def switched_off_after(self, since_s: float, bank: str = "lower") -> float:
        """Seconds from `since_s` to the last change of a bank's relay pin, which must have gone to rest."""
        at_s, level = self.pin(self._bank(bank).relay_pin).history[-1]
        assert level != (self._bank(bank).lights_when == "high"), f"bank {bank} is still told to light"
        return at_s - since_s

    def true_dose(self, side: str = "A") -> float:
        """What the panel's side really got in this world, in mJ/cm² at the resist."""
        return self.truth.dose_mj_cm2()[side]

    def logbook(self) -> Logbook:
        """A reader of the logbook; use it in a with block."""
        return Logbook.open_reader(self.data / LOGBOOK)

    def _bank(self, name: str) -> Any:
        return next(bank for bank in self.loop.box.description.banks if bank.name == name)

    # The end

    def kill(self) -> None:
        """Gone without a word, as by SIGKILL: nothing is written or tidied up any more; pins float."""
        self.killed = True
        book = self.daemon.writer._logbook
        assert book is not None
        book.close()
        self.lock.release()
        for pin in self.world.pin_factory.pins.values():
            pin.close()
        if self.daemon.service is not None:
            self.daemon.service.close()

    def close(self) -> None:
        """End this run of control in good order; one that was killed is over already."""
        if not self.killed:
            self.daemon.close()
