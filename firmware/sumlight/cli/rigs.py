"""A box to measure on, for commands: a running one over its socket, or a simulated one with a person of its own."""

import sys
import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol, Self

from sumlight.checkedfile import read_text
from sumlight.cli.inwords import in_words
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.cli.ticks import RateTeller
from sumlight.control.daemon import RECIPES, SOCKET
from sumlight.language import _, text_of
from sumlight.protocol.client import ControlClient
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.protocol.press import seen
from sumlight.store.recipes import RecipeStore, StoredRecipe, UnknownRecipeError, recipe_from_text
from sumlight.twin import demo
from sumlight.twin.events import EVENTS
from sumlight.twin.panel import Panel, Resist

TWIN_LIMIT_S = 3600.0
HAND_S = 1.5
"""How long somebody at the simulated box needs with the lid open."""

Between = Callable[[int], None]
"""What is done while the lid is open after leg number n."""
Answer = Callable[[str], str]
"""What somebody at the simulated box says to a question."""


class SeriesFailedError(RuntimeError):
    """A series did not come to its end; the message says why."""


class Bench(Protocol):
    """What commands need of a box."""

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command; raises ValueError with what was refused and what to do."""

    def begin(self, recipe: str, **values: Any) -> None:
        """Light the first leg of a series on `recipe`; raises ValueError as `ask` does."""

    def follow(self) -> dict[str, Any]:
        """See a series to its end; returns the snapshot then. Raises SeriesFailedError."""

    def question(self, text: str) -> str:
        """Ask the person something."""


def refused(error: BadRequestError) -> ValueError:
    """A refusal in words."""
    return ValueError(error.in_full)


def recipe_of(data: Path, name: str) -> StoredRecipe:
    """A recipe of the box at `data` as its file says now. Raises ValueError if there is none."""
    try:
        return RecipeStore(data / RECIPES).load(name)
    except UnknownRecipeError as error:
        raise ValueError(in_words(error)) from error


def press_go(client: ControlClient, snapshot: dict[str, Any]) -> int:
    """Go on with what `snapshot` showed, or say that the box no longer stands so.

    Returns the number (`seq`) of the first snapshot that is newer than the press.
    """
    try:
        client.ask("go", **seen(snapshot))
    except BadRequestError as error:
        print(in_words(refused(error)), file=sys.stderr)
    return int(client.ask("state")["seq"])


class RunningBench:
    """A running box."""

    def __init__(self, data: Path) -> None:
        self._client = ControlClient(data / SOCKET)
        self._data = data

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.close()

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command."""
        try:
            return self._client.ask(command, **values)
        except BadRequestError as error:
            raise refused(error) from error

    def begin(self, recipe: str, **values: Any) -> None:
        """Light the first leg of a series."""
        stored = recipe_of(self._data, recipe)
        self.ask("series", recipe=recipe, **seen(self.ask("state"), stored.sha256), **values)

    def follow(self) -> dict[str, Any]:
        """Tell the person what to do between legs, and go on when told to."""
        said, rate, known = "", RateTeller(), 0
        for snapshot in self._client.snapshots():
            if snapshot["seq"] < known:  # came before the last answer
                continue
            if slow := rate.words(snapshot):
                print(slow)
            if snapshot["sentence"] != said:
                said = snapshot["sentence"]
                print(text_of(said))
            match snapshot["state"]:
                case "done":
                    if not snapshot["logbook"]["ok"]:
                        raise SeriesFailedError(snapshot["logbook"]["message"])
                    if snapshot["logbook"]["lag_s"] == 0:  # what comes next is worked out from the record on disk
                        return self._ended(snapshot)
                case "faulted" | "idle":
                    raise SeriesFailedError(said)
                case "turn" | "paused" if "go" in snapshot["may"]:
                    self.question(_("Press Enter to go on. "))
                    known = press_go(self._client, snapshot)
        raise SeriesFailedError(_("the box hung up"))

    def _ended(self, snapshot: dict[str, Any]) -> dict[str, Any]:
        if snapshot["exposure"]["outcome"] != "completed":
            raise SeriesFailedError(_("the series was given up"))
        return snapshot

    def question(self, text: str) -> str:
        """Ask at the terminal."""
        if not sys.stdin.isatty():
            raise SeriesFailedError(_("this needs somebody at a terminal; the lamps are dark"))
        return input(text).strip()


def _no_answer(text: str) -> str:
    raise SeriesFailedError(_("the twin has no answer to: {question}", question=text))


class TwinBench:
    """A simulated box of its own, as fast as the machine goes. `between` moves parts while the lid is open."""

    def __init__(self, box: Path | None, scenario: Path | None, recipe: Path | None, data: Path | None) -> None:
        self._stack = ExitStack()
        folder = data or Path(self._stack.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-")))
        description, script = read_files(box, scenario)
        quiet = script.model_copy(update={"attendant_go_after_s": None})
        self.box = SimulatedBox(description, quiet, folder, speed=None, attended=False, threaded=False)
        self._stack.callback(self.box.daemon.close)
        file = recipe or demo.RECIPES / "blue-38.yaml"
        stored = recipe_from_text(read_text(file), file.stem)
        self.box.daemon.shelf.save(stored.name, stored.text)
        self.recipe = stored.name
        self.between: Between = lambda _leg: None
        self.answer: Answer = _no_answer
        self.make_ready()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stack.close()

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command as a client would."""
        try:
            return self.box.daemon.commander.handle(Request(1, command, values))
        except BadRequestError as error:
            raise refused(error) from error

    def begin(self, recipe: str, **values: Any) -> None:
        """Light the first leg of a series."""
        try:
            self.box.press("series", recipe=recipe, **values)
        except BadRequestError as error:
            raise refused(error) from error

    def follow(self) -> dict[str, Any]:
        """Open the lid between legs, do what is to be done, shut it, go on."""
        exposure, leg = self.box.daemon.loop.exposure, 0
        while True:
            self._until(lambda: exposure.state in ("turn", "done", "faulted", "paused"))
            if exposure.state == "done":
                return self.box.daemon.commander.snapshot()
            if exposure.state != "turn":
                raise SeriesFailedError(self.box.daemon.commander.snapshot()["sentence"])
            leg += 1
            self.happen("lid_opens")
            self.between(leg)
            self.run(HAND_S)
            self.happen("lid_closes")
            self._until(lambda: "go" in exposure.may())
            self.box.press("go")

    def question(self, text: str) -> str:
        """Ask whoever was put at the box."""
        return self.answer(text)

    def happen(self, do: str, **extra: Any) -> None:
        """Let an event of a scenario happen now."""
        self.box.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do, **extra}))

    def run(self, seconds: float) -> None:
        """Let time pass."""
        end_s = self.box.clock.mono_s() + seconds
        while self.box.clock.mono_s() < end_s:
            self.box.step()

    def develop(self, resist: Resist, seed: int) -> dict[str, dict[str, Any]]:
        """Develop the panel of the last series: what each zone's tablet shows."""
        piece = Panel(resist, seed)
        shown = {}
        for zone, dose in self.box.truth.dose_mj_cm2().items():
            read = piece.develop_tablet(dose, zone=zone)
            shown[zone] = {"zone": zone, "step": read.step, "half": read.half}
        return shown

    def make_ready(self) -> None:
        """Take out what was lit last, and wait until the next may be lit."""
        exposure = self.box.daemon.loop.exposure
        if exposure.left_inside is not None:
            self._until(lambda: self.box.daemon.loop.lid != "disagree")
            self.happen("lid_opens")
            self.run(HAND_S)
            self.happen("lid_closes")
        self._until(self._ready)

    def _ready(self) -> bool:
        loop, now_s = self.box.daemon.loop, self.box.clock.mono_s()
        return "start" in loop.exposure.may() and all(watch.fresh(now_s) for watch in loop.banks.values())

    def _until(self, condition: Callable[[], bool]) -> None:
        end_s = self.box.clock.mono_s() + TWIN_LIMIT_S
        while not condition():
            if self.box.clock.mono_s() > end_s:
                raise SeriesFailedError(_("the simulated box did not come to an end"))
            self.box.step()
