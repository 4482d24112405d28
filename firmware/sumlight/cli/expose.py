"""`sumlight panel expose`: one exposure from the terminal, on a running box or on the twin."""

import argparse
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

from sumlight.checkedfile import read_text
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.rigs import press_go, recipe_of
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.cli.ticks import RateTeller
from sumlight.control.daemon import SOCKET
from sumlight.language import N_, _, named, text_of
from sumlight.protocol.client import ControlClient
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.press import seen
from sumlight.store.recipes import recipe_from_text
from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import Message, say_named
from sumlight.twin import demo
from sumlight.twin.events import EVENTS

READY_LIMIT_S = 30.0
PATIENCE_S = 60.0
"""How long the twin waits, with nobody to press go, before the panel is given up."""

LOOK_TICKS = 20

COMPONENTS = {
    "calibration": N_("calibration"),
    "spectral match": N_("spectral match"),
    "other lamps": N_("other lamps"),
    "warmth of the lamps": N_("warmth of the lamps"),
    "jumps": N_("jumps"),
    "window": N_("window"),
    "gain steps": N_("gain steps"),
    "sensor temperature": N_("sensor temperature"),
    "gaps": N_("gaps"),
    "cut-off": N_("cut-off"),
    "field": N_("field"),
}
"""Components of a dose's uncertainty."""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("name", nargs="?", metavar="RECIPE", help=_("name of a recipe (with --twin a file will do)"))
    command.add_argument("--recipe", type=Path, metavar="FILE", help=_("with --twin: the recipe's file"))
    command.add_argument("--panel", default="", help=_("name of the panel for the record"))
    command.add_argument("--twin", action="store_true", help=_("on a simulated box of its own"))
    shared.add_data(command, twin=True)
    shared.add_twin(command, speed=None)
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> Answer:
    """0 only if every side was completed."""
    result = _on_twin(options) if options.twin else _on_box(options)
    return Answer(result, list(_lines(result)), 0 if result["outcome"] == "completed" else 1)


class Story:
    """Follows snapshots of one exposure and sums them up."""

    def __init__(self, *, show: bool) -> None:
        self._console = Console(stderr=True)
        self._progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.fields[words]}"),
            console=self._console,
            disable=not show,
        )
        self._tasks: dict[str, Any] = {}
        self._faults: dict[str, list[str]] = {}
        self._said = ""
        self._show = show
        self._rate = RateTeller()
        self.last: dict[str, Any] = {}

    def __enter__(self) -> "Story":
        self._progress.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._progress.stop()

    def look(self, snapshot: dict[str, Any]) -> None:
        """Take in one snapshot."""
        self.last = snapshot
        exposure = snapshot["exposure"]
        if exposure is None:
            return
        for fault in snapshot["faults"]:
            self._note_fault(fault["name"], exposure["sides"])
        for side in exposure["sides"]:
            self._draw(side)
        if self._show and snapshot["sentence"] != self._said:
            self._said = snapshot["sentence"]
            self._progress.console.print(text_of(self._said))
        if self._show and (slow := self._rate.words(snapshot)):
            self._progress.console.print(slow)

    def _note_fault(self, name: str, sides: list[dict[str, Any]]) -> None:
        """A fault belongs to the sides under way, or to the one that was to come."""
        open_sides = [side for side in sides if side["state"] != "done"] or sides[-1:]
        begun = [side for side in open_sides if side["duration_s"] > 0] or open_sides[:1]
        for side in begun:
            names = self._faults.setdefault(side["side"], [])
            if name not in names:
                names.append(name)

    def _draw(self, side: dict[str, Any]) -> None:
        task = self._tasks.get(side["side"])
        if task is None:
            task = self._progress.add_task(_("side {name}", name=side["side"]), total=None, words="")
            self._tasks[side["side"]] = task
        target, by_time = side["target_mj_cm2"], side["target_mj_cm2"] is None
        words = _("{dose:.1f} {unit}, {aim}", dose=side["dose_mj_cm2"], unit=_unit(side), aim=_aim(side))
        if side["left_s"] is not None:
            words += _(", about {left_s:.0f} s left", left_s=side["left_s"])
        total, done = (side["lit_for_s"], side["lit_s"]) if by_time else (target, side["dose_mj_cm2"])
        self._progress.update(task, total=total, completed=done, words=words)

    def result(self, outcome: str) -> dict[str, Any]:
        """The exposure in one object, as `--json` prints it."""
        exposure = self.last.get("exposure")
        sides = [] if exposure is None else exposure["sides"]
        truth = self.last.get("true_dose_mj_cm2", {})
        kept = ["side", "target_mj_cm2", "lit_for_s", "lit_s", "dose_mj_cm2", "expanded_uncertainty_mj_cm2"]
        kept += ["duration_s", "pauses"]
        kept += ["expanded_repeat_mj_cm2", "expanded_absolute_mj_cm2", "largest_component", "dof_eff", "k", "relative"]
        return {
            "outcome": outcome,
            "recipe": None if exposure is None else exposure["recipe"],
            "draft": any(side["lit_for_s"] is not None for side in sides),
            "simulated": self.last.get("simulated"),
            "doubtful": None if exposure is None else exposure["doubtful_why"],
            "faults": [fault["name"] for fault in self.last.get("faults", [])],
            "sides": [
                {key: side[key] for key in kept}
                | {"true_dose_mj_cm2": truth.get(side["side"]), "faults": self._faults.get(side["side"], [])}
                for side in sides
            ],
        }


def _on_twin(options: argparse.Namespace) -> dict[str, Any]:
    description, scenario = read_files(options.box, options.scenario)
    file = options.recipe or _twin_recipe(options.name)
    stored = recipe_from_text(read_text(file), file.stem)
    with ExitStack() as stack:
        data = options.data or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-")))
        box = SimulatedBox(description, scenario, data, speed=options.speed, attended=True, threaded=False)
        stack.callback(box.daemon.close)
        box.daemon.shelf.save(stored.name, stored.text)
        story = stack.enter_context(Story(show=not options.json))
        _wait_until_ready(box)
        try:
            box.press("start", recipe=stored.name, panel=options.panel)
        except BadRequestError as error:
            raise ValueError(error.in_full) from error
        return story.result(_follow(box, story))


def _follow(box: SimulatedBox, story: Story) -> str:
    """Step the twin to an end; returns the outcome."""
    waiting_since_s: float | None = None
    exposure = box.daemon.loop.exposure
    while True:
        box.step()
        state, now_s = exposure.state, box.clock.mono_s()
        if box.daemon.loop.ticks % LOOK_TICKS == 0 or state in ("done", "faulted"):
            story.look(box.daemon.commander.snapshot())
        if state == "done":
            return exposure.outcome or "abandoned"
        if state == "faulted":
            return "faulted"
        if state not in ("paused", "turn"):
            waiting_since_s = None
        elif waiting_since_s is None:
            waiting_since_s = now_s
        elif now_s - waiting_since_s > PATIENCE_S:
            stopped = exposure.pause_cause == "dark_command"
            exposure.abandon(now_s)
            box.step()
            story.look(box.daemon.commander.snapshot())
            return "stopped" if stopped else "abandoned"


def _wait_until_ready(box: SimulatedBox) -> None:
    """Let the sensor come up and the lid settle, as they do while somebody walks to the bench."""
    until_s = box.clock.mono_s() + READY_LIMIT_S
    loop = box.daemon.loop
    if loop.exposure.left_inside is not None:  # with --data: somebody takes the last panel out
        _move_lid(box, "lid_opens", "open")
        _move_lid(box, "lid_closes", "shut")
    while box.clock.mono_s() < until_s:
        box.step()
        blind = any(not watch.fresh(box.clock.mono_s()) for watch in loop.banks.values())
        if "start" in loop.exposure.may() and not blind:
            return


def _move_lid(box: SimulatedBox, do: str, until: str) -> None:
    box.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do}))
    until_s = box.clock.mono_s() + READY_LIMIT_S
    while box.daemon.loop.lid != until and box.clock.mono_s() < until_s:
        box.step()


def _twin_recipe(name: str | None) -> Path:
    if name is None:
        return demo.RECIPES / "blue-38.yaml"
    return Path(name) if name.endswith((".yaml", ".yml")) else demo.RECIPES / f"{name}.yaml"


def _on_box(options: argparse.Namespace) -> dict[str, Any]:
    if options.name is None or options.recipe is not None:
        told = _("name a recipe of the running box: sumlight panel expose RECIPE (a file works with --twin only)")
        raise ValueError(told)
    data = options.data or shared.default_data(twin=False)
    with ControlClient(data / SOCKET) as client, Story(show=not options.json) as story:
        try:
            stored = recipe_of(data, options.name)
            saw = seen(client.ask("state"), stored.sha256, stored.recipe.first_lit())
            client.ask("start", recipe=stored.name, panel=options.panel, **saw)
        except BadRequestError as error:
            raise ValueError(error.in_full) from error
        try:
            return story.result(_listen(client.snapshots(), client, story))
        except KeyboardInterrupt:
            client.ask("dark")
            print(_("Lamps are off; the panel waits to be continued or given up."), file=sys.stderr)
            return story.result("stopped")


def _listen(snapshots: Iterator[dict[str, Any]], client: ControlClient, story: Story) -> str:
    known = 0
    for snapshot in snapshots:
        if snapshot["seq"] < known:  # came before the last answer
            continue
        story.look(snapshot)
        match snapshot["state"]:
            case "done":
                return str(snapshot["exposure"]["outcome"])
            case "faulted":
                return "faulted"
            case "paused" | "turn" if "go" in snapshot["may"] and sys.stdin.isatty():
                input(_("Press Enter to go on. "))
                known = press_go(client, snapshot)
            case "idle":
                return "abandoned"
    return "abandoned"


def _lines(result: dict[str, Any]) -> Iterator[str]:
    for side in result["sides"]:
        yield _line(side)
    if result["draft"]:
        yield _("a draft: lit by time, until you say on the page whether it was good")
    outcome = named("outcome", result["outcome"])
    yield _("{outcome}; doubtful: {why}", outcome=outcome, why=result["doubtful"]) if result["doubtful"] else outcome


def _line(side: dict[str, Any]) -> str:
    line = _(
        "side {side}: {told}, between doses of this box ± {repeat:.2f}, {aim}, {lit_s:.1f} s, {pauses} interruption(s)",
        side=side["side"],
        told=_told(side),
        repeat=side["expanded_repeat_mj_cm2"],
        aim=_aim(side),
        lit_s=side["duration_s"],
        pauses=side["pauses"],
    )
    if side["true_dose_mj_cm2"] is not None:
        line += _("; the simulated panel actually got {dose_mj_cm2:.2f}", dose_mj_cm2=side["true_dose_mj_cm2"])
    if side["faults"]:
        titles = ", ".join(text_of(say_named(f"fault_{name}_title")) for name in side["faults"])
        line += _("; faults: {titles}", titles=titles)
    return line


def _told(side: dict[str, Any]) -> str:
    """The dose, and how far off it may be where something outside this box has checked it."""
    if side["relative"]:
        return _("{dose:.2f} in units of this box", dose=side["dose_mj_cm2"])
    return _(
        "{dose_mj_cm2:.2f} mJ/cm² ± {whole:.2f} (mostly {largest})",
        dose_mj_cm2=side["dose_mj_cm2"],
        whole=side["expanded_absolute_mj_cm2"],
        largest=_(COMPONENTS.get(side["largest_component"], side["largest_component"])),
    )


def _unit(side: dict[str, Any]) -> Message:
    """What a side's dose is counted in."""
    return unit_of_dose(relative=side["relative"])


def _aim(side: dict[str, Any]) -> str:
    """What ends the light of a side: its dose, or the time of a draft."""
    if side["target_mj_cm2"] is not None:
        return _("target {dose_mj_cm2:.6g}", dose_mj_cm2=float(side["target_mj_cm2"]))
    if side["side"] != "A":
        return _("as much as side A")
    return _("in {lit_s:.0f} of {wanted_s:g} s", lit_s=side["lit_s"], wanted_s=float(side["lit_for_s"]))
