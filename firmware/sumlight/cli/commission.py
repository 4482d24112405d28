"""`sumlight setup commission` and `override`: the guided proof of a safety chain, on a running box or the twin."""

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from sumlight.bounds import bounds_of
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.cli.simulated_operator import SimulatedOperator
from sumlight.cli.ticks import RateTeller
from sumlight.control.daemon import SOCKET
from sumlight.language import N_, _, text_of
from sumlight.protocol.amounts import LeakReading
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.walk import measured, result_word
from sumlight.quantity import QuantityError, read

OUTCOMES = {
    "passed": N_("Commissioning passed."),
    "failed": N_("Commissioning failed."),
    "aborted": N_("Commissioning was given up."),
}
LOOK_S = 0.1
BACK_LIMIT_S = 120.0
"""How long control may take to come back after it was killed."""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--who", default="", help=_("who carries it out"))
    command.add_argument("--twin", action="store_true", help=_("on a simulated box, whose attendant does the steps"))
    shared.add_amount(
        command,
        "--leak",
        LeakReading,
        "leak_mw_cm2",
        "mW/cm²",
        default=0.004,
        metavar="MW_CM2",
        help=_("with --twin: the leak that the attendant measures"),
    )
    shared.add_data(command, twin=True)
    shared.add_twin(command, speed=None)
    command.set_defaults(carry_out=carry_out)


def add_override(command: argparse.ArgumentParser) -> None:
    """Declare the options of `override`."""
    command.add_argument("reason", metavar="REASON", help=_("recorded and always shown"))
    command.add_argument("--who", default="", help=_("who takes responsibility for it"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_override)


def carry_out(options: argparse.Namespace) -> Answer:
    """0 only if every step passed."""
    if options.twin:
        return _on_twin(options)
    with_data = options.data or shared.default_data(twin=False)
    return TerminalOperator(with_data / SOCKET, at_terminal(options.who or input(_("Your name: ")))).run()


def at_terminal(who: str) -> str:
    """A name as the record has it: no log-in stands behind what is typed here."""
    return f"{who.strip()} (terminal)" if who.strip() else ""


def _override(options: argparse.Namespace) -> Answer:
    who = at_terminal(options.who)
    with ControlClient(options.data / SOCKET) as client:
        client.ask("commission_override", who=who, reason=options.reason)
    told = _("Exposures are unlocked. The page says so at all times until commissioning has passed.")
    return Answer({"unlocked": True, "who": who, "reason": options.reason}, [told])


def _on_twin(options: argparse.Namespace) -> Answer:
    description, scenario = read_files(options.box, options.scenario)
    with ExitStack() as stack:
        data = options.data or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="sumlight-")))
        box = SimulatedBox(description, scenario, data, speed=options.speed, attended=False, threaded=False)
        stack.callback(lambda: box.daemon.close())
        attending = SimulatedOperator(box, who=options.who or _("the twin's attendant"), leak_mw_cm2=options.leak)
        picture = attending.run(tell=(lambda _: None) if options.json else print)
        kept = options.data is not None
        report = _report(picture) if kept else _("The report was not kept; name a folder with --data.")
        return _answer(picture, report)


class TerminalOperator:
    """A person at a terminal beside a real box."""

    def __init__(self, socket: Path, who: str) -> None:
        self._socket = socket
        self._who = who
        self._said = ""
        self._rate = RateTeller()

    def run(self) -> Answer:
        """Step by step to the end; returns what was found."""
        picture = self._look()
        if picture["run"] is None or picture["run"]["outcome"] is not None:
            picture = self._ask("commission_begin", who=self._who)["commissioning"]
        while picture["run"]["outcome"] is None:
            run = picture["run"]
            where = _("Step {number} of {count}: {title}", number=run["number"], count=run["of"], title=run["title"])
            self._say(f"\n{where}\n{text_of(run['do'])}")
            if run["waits_for_next"]:
                self._next(run["asks"], run["at"])
            else:
                time.sleep(LOOK_S)
            picture = self._look()
        return _answer(picture, _report(picture) if picture["report"] else "")

    def _look(self) -> dict[str, Any]:
        snapshot = self._ask("state")
        if slow := self._rate.words(snapshot):
            print(slow)
        return dict(snapshot["commissioning"])

    def _next(self, asks: str | None, at: str) -> None:
        values: dict[str, Any] = {}
        try:
            if asks == "leak_mw_cm2":
                typed = input(_("Highest reading in mW/cm²: "))
                values = {asks: read(typed, "mW/cm²", bounds_of(LeakReading, asks))}
            elif asks in ("answer", "button"):
                values = {"answer": _yes_or_no(input(_("yes or no: ")))}
            elif asks == "place":
                input(_("Press Enter when you stand at the box (Ctrl-C gives up). "))
                values = {"at_the_box": True}
            else:
                input(_("Press Enter to go on (Ctrl-C gives up). "))
            self._ask("commission_next", at=at, **values)
        except KeyboardInterrupt:
            self._ask("commission_abort")
        except BadRequestError as error:
            print(in_words(error))
        except QuantityError as error:
            print(in_words(error))

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


def _answer(picture: dict[str, Any], report: str) -> Answer:
    run = picture["run"]
    if run["outcome"] == "failed":
        print(_("Put right what the last step names, then start again."), file=sys.stderr)
    lines = [*_results(run), *([report] if report else [])]
    return Answer(picture, lines, 0 if run["outcome"] == "passed" else 1)


def _results(run: dict[str, Any]) -> Iterator[str]:
    for result in run["results"]:
        yield f"{text_of(result_word(result))}  {text_of(result['title'])}: {text_of(result['found'])}"
        yield from (f"          {text_of(measured(measure))}" for measure in result["measures"])
    for left in run["left_out"]:
        yield _("left out  {title}: {why}", title=left["title"], why=left["why"])
    if run["outcome"] == "passed" and run["not_proved"]:
        names = ", ".join(map(text_of, run["not_proved"]))
        yield _("Commissioning is INCOMPLETE: nothing failed, but not proved here: {names}.", names=names)
        yield _("Leave those to a licensed electrician, mains off. Exposures are unlocked.")
    else:
        yield _(OUTCOMES[run["outcome"]])


def _report(picture: dict[str, Any]) -> str:
    return _("Report: {file}", file=picture["report"])


def _yes_or_no(typed: str) -> str:
    """What control understands; another answer goes to it as typed, and it says what is allowed."""
    typed = typed.strip().lower()
    return {_("yes"): "yes", _("no"): "no"}.get(typed, typed)
