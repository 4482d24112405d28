"""`sumlight commission`: the guided proof of a box's safety chain, on a running box or on the twin."""

import argparse
import json
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.attend import Attending
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.cli.ticks import RateTeller
from sumlight.control.daemon import SOCKET
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.messages import BadRequestError

LOOK_S = 0.1
BACK_LIMIT_S = 120.0
"""How long control may take to come back after it was killed."""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--who", default="", help="name of the person who does it")
    command.add_argument("--override", metavar="REASON", help="unlock exposures without it; recorded and always shown")
    command.add_argument("--twin", action="store_true", help="on a simulated box, whose attendant does the steps")
    command.add_argument(
        "--leak", type=float, default=0.004, metavar="MW_CM2", help="with --twin: the leak that the attendant measures"
    )
    shared.add_data(command, twin=True)
    shared.add_twin(command, speed=None)
    command.add_argument("--json", action="store_true", help="with --twin: print the result as one JSON object")
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """0 only if every step passed, or the override was taken."""
    if options.twin:
        return _on_twin(options)
    with_data = options.data or shared.default_data(twin=False)
    if options.override is not None:
        return _override(with_data / SOCKET, options)
    return Person(with_data / SOCKET, at_terminal(options.who or input("Your name: "))).run()


def at_terminal(who: str) -> str:
    """A name as the record has it: no log-in stands behind what is typed here."""
    return f"{who.strip()} (terminal)" if who.strip() else ""


def _override(socket: Path, options: argparse.Namespace) -> int:
    try:
        with ControlClient(socket) as client:
            client.ask("commission_override", who=at_terminal(options.who), reason=options.override)
    except BadRequestError as error:
        raise ValueError(_words(error)) from error
    print("Exposures are unlocked. The page says so at all times until commissioning has passed.")
    return 0


def _on_twin(options: argparse.Namespace) -> int:
    description, scenario = read_files(options.box, options.scenario)
    with ExitStack() as stack:
        data = options.data or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-")))
        box = SimulatedBox(description, scenario, data, speed=options.speed, attended=False, threaded=False)
        stack.callback(lambda: box.daemon.close())
        attending = Attending(box, who=options.who or "the twin's attendant", leak_mw_cm2=options.leak)
        picture = attending.run(tell=(lambda _: None) if options.json else print)
        run = picture["run"]
        if options.json:
            print(json.dumps(picture))
        else:
            _tell_results(run)
            kept = options.data is not None
            print(f"Report: {picture['report']}" if kept else "The report was not kept; name a folder with --data.")
        return 0 if run["outcome"] == "passed" else 1


class Person:
    """A person at a terminal beside a real box."""

    def __init__(self, socket: Path, who: str) -> None:
        self._socket = socket
        self._who = who
        self._said = ""
        self._rate = RateTeller()

    def run(self) -> int:
        """Step by step to the end; returns the exit status."""
        picture = self._look()
        if picture["run"] is None or picture["run"]["outcome"] is not None:
            picture = self._ask("commission_begin", who=self._who)["commissioning"]
        while picture["run"]["outcome"] is None:
            run = picture["run"]
            self._say(f"\nStep {run['number']} of {run['of']}: {run['title']}\n{run['do']}")
            if run["waits_for_next"]:
                self._next(run["asks"], run["at"])
            else:
                time.sleep(LOOK_S)
            picture = self._look()
        _tell_results(picture["run"])
        if picture["report"]:
            print(f"Report: {picture['report']}")
        return 0 if picture["run"]["outcome"] == "passed" else 1

    def _look(self) -> dict[str, Any]:
        snapshot = self._ask("state")
        if slow := self._rate.words(snapshot):
            print(slow)
        return dict(snapshot["commissioning"])

    def _next(self, asks: str | None, at: str) -> None:
        values: dict[str, Any] = {}
        try:
            if asks == "leak_mw_cm2":
                values = {asks: float(input("Highest reading in mW/cm²: "))}
            elif asks in ("answer", "button"):
                values = {"answer": input("yes or no: ").strip().lower()}
            elif asks == "place":
                input("Press Enter when you stand at the box (Ctrl-C gives up). ")
                values = {"at_the_box": True}
            else:
                input("Press Enter to go on (Ctrl-C gives up). ")
            self._ask("commission_next", at=at, **values)
        except KeyboardInterrupt:
            self._ask("commission_abort")
        except BadRequestError as error:
            print(_words(error))
        except ValueError:
            print("That is not a number.")

    def _say(self, words: str) -> None:
        if words != self._said:
            self._said = words
            print(words)

    def _ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Ask a box that may be away for a while, since one step kills it."""
        until_s = time.monotonic() + BACK_LIMIT_S
        while True:
            try:
                with ControlClient(self._socket) as client:
                    return client.ask(command, **values)
            except ControlGoneError:
                if not self._said or time.monotonic() > until_s:
                    raise
                time.sleep(LOOK_S)


def _tell_results(run: dict[str, Any]) -> None:
    for result in run["results"]:
        word = "FAILED" if not result["passed"] else "passed" if result["proved"] else "not proved"
        print(f"{word}  {result['title']}: {result['found']}")
        for measure in result["measures"]:
            limit = f"limit {measure['limit']:.3g} {measure['unit']}"
            print(f"          {measure['what']}: {measure['value']:.3g} {measure['unit']} ({limit})")
    for left in run["left_out"]:
        print(f"left out  {left['title']}: {left['why']}")
    if run["outcome"] == "passed" and run["not_proved"]:
        print(f"Commissioning is INCOMPLETE: nothing failed, but not proved here: {', '.join(run['not_proved'])}.")
        print("Those are left to a licensed electrician, mains off. Exposures are unlocked.")
    else:
        print(f"Commissioning {run['outcome']}.")
    if run["outcome"] == "failed":
        print("Put right what the last step names, then begin anew.", file=sys.stderr)


def _words(error: BadRequestError) -> str:
    return f"{error.message}{' ' + error.remedy if error.remedy else ''}"
