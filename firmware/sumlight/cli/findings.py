"""`sumlight records signs`, `why` and `cause`: what was seen on a panel, why it failed, and which cause it was."""

import argparse
from dataclasses import asdict
from typing import Any

from sumlight.bounds import bounds_of
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.craft.causes import answer
from sumlight.craft.causes.signs import CAUSES, PLACES, SIGNS
from sumlight.language import N_, _, text_of
from sumlight.protocol.client import ControlClient
from sumlight.protocol.finding_commands import Findings
from sumlight.quantity import QuantityError, read
from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import say_named

AMOUNTS = {
    "held_step": ("", N_("last held step of a tablet")),
    "wanted_step": ("", N_("the step that should be held")),
    "rested_s": ("s", N_("rest before developing")),
    "roll_months": ("", N_("months since the roll was opened")),
    "faces_off_um": ("µm", N_("how far front and back lie apart")),
    "clear_s": ("s", N_("time to clear")),
    "fresh_clear_s": ("s", N_("time to clear in the fresh bath")),
    "developed_s": ("s", N_("whole time in the developer")),
    "developer_used": ("share", N_("share of its capacity")),
    "developer_warmer_c": ("", N_("than usual, in °C")),
    "etched_s": ("s", N_("time in the etchant")),
    "expected_etch_s": ("s", N_("time that was planned")),
    "etchant_used": ("share", N_("share of its capacity")),
    "etchant_warmer_c": ("", N_("than usual, in °C")),
}
CHOICES: dict[str, tuple[str, ...]] = {"place": PLACES, "same_place": ("yes", "no"), "contact": ("good", "poor")}
"""What may be told beside signs, as NAME=VALUE: numbers with their units, and words."""


def add_signs(command: argparse.ArgumentParser) -> None:
    """Declare the options of `signs`."""
    command.description = _(
        "Put signs on a panel, in place of those before.\nWithout a number, list what can be put on."
    )
    command.add_argument("exposure", type=int, nargs="?", metavar="N", help=_("number of the exposure"))
    command.add_argument("words", nargs="*", metavar="WORD", help=_("signs, and NAME=VALUE for what is known beside"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_signs)


def add_why(command: argparse.ArgumentParser) -> None:
    """Declare the options of `why`."""
    command.add_argument("exposure", type=int, metavar="N", help=_("number of the exposure"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_why)


def add_cause(command: argparse.ArgumentParser) -> None:
    """Declare the options of `cause`."""
    command.description = _("Record what a failure came from; from then on it counts.\nWithout a cause, list them.")
    command.add_argument("exposure", type=int, metavar="N", help=_("number of the exposure"))
    command.add_argument("cause", nargs="?", metavar="CAUSE", help=_("one of the list"))
    command.add_argument("--take-back", action="store_true", help=_("it was not that after all"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_cause)


def _signs(options: argparse.Namespace) -> Answer:
    if options.exposure is None:
        return _list()
    _refuse_unknown(options)
    asked: dict[str, Any] = {"signs": []}
    for word in options.words:
        name, equals, text = word.partition("=")
        if equals:
            asked[name] = _value(name, text)
        elif word in SIGNS:
            asked["signs"].append(word)
        else:
            raise ValueError(_("no sign is called '{word}'; `sumlight records signs` lists them", word=word))
    with ControlClient(options.data / SOCKET) as client:
        client.ask("findings", exposure_id=options.exposure, **asked)
    told = [text_of(say_named(f"sign_{name}")) for name in SIGNS if name in asked["signs"]]
    line = _("exposure {number}: {told}", number=options.exposure, told=", ".join(told) or _("no signs"))
    return Answer({"exposure_id": options.exposure, **asked}, [line])


def _list() -> Answer:
    signs = {name: say_named(f"sign_{name}") for name in SIGNS}
    lines = [f"{name:20} {text_of(words)}" for name, words in signs.items()]
    lines += [f"{name}={'|'.join(words)}" for name, words in CHOICES.items()]
    lines += [f"{name + '=':20} {_(words)}" for name, (_unit, words) in AMOUNTS.items()]
    return Answer({"signs": signs, "known": [*CHOICES, *AMOUNTS]}, lines)


def _value(name: str, text: str) -> float | str | bool:
    """Read what stands behind a name. Raises ValueError."""
    if name in CHOICES:
        if text not in CHOICES[name]:
            told = _(
                "{name} must be one of {words}, not '{text}'", name=name, words=", ".join(CHOICES[name]), text=text
            )
            raise ValueError(told)
        return text == "yes" if name == "same_place" else text
    if name not in AMOUNTS:
        words = ", ".join((*CHOICES, *AMOUNTS))
        raise ValueError(_("nothing is called '{name}'; there are {words}", name=name, words=words))
    try:
        return read(text, AMOUNTS[name][0], bounds_of(Findings, name))
    except QuantityError as error:
        raise ValueError(f"{name}: {text_of(error.message)}") from error


def _why(options: argparse.Namespace) -> Answer:
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        exposure = book.exposure(options.exposure)
        if exposure is None:
            raise _no_exposure(options.exposure)
        found, kept = book.findings.why(exposure), book.findings.of(options.exposure)
    lines = [_("seen: {sign}", sign=say_named(f"sign_{name}")) for name in kept.signs]
    lines.append(text_of(found.sentence))
    if found.verdict == "told":
        for number, cause in enumerate(found.causes, 1):
            lines += _told(number, cause)
    if found.look is not None and found.look_minutes is not None:
        lines.append(_("check ({minutes:g} min): {look}", minutes=float(found.look_minutes), look=found.look))
    return Answer({"exposure_id": options.exposure, **asdict(kept), "answer": asdict(found)}, lines)


def _told(number: int, cause: answer.Named) -> list[str]:
    share = _("{share:.0%}", share=cause.probability)
    lines = [f"{number}. {text_of(cause.title)} ({share}): {text_of(cause.change)}"]
    for words, reasons in ((_("for"), cause.speaks_for), (_("against"), cause.speaks_against)):
        lines += [f"   {words}: {'; '.join(map(text_of, reasons))}"] if reasons else []
    return lines


def _cause(options: argparse.Namespace) -> Answer:
    if options.cause is None:
        causes = {name: say_named(f"cause_{name}") for name in CAUSES}
        return Answer({"causes": causes}, [f"{name:20} {text_of(words)}" for name, words in causes.items()])
    if options.cause not in CAUSES:
        told = _("no cause is called '{cause}'; there are {causes}", cause=options.cause, causes=", ".join(CAUSES))
        raise ValueError(told)
    _refuse_unknown(options)
    asked = {"exposure_id": options.exposure, "cause": options.cause, "confirmed": not options.take_back}
    with ControlClient(options.data / SOCKET) as client:
        client.ask("confirm_cause", **asked)
    what = {"number": options.exposure, "told": say_named(f"cause_{options.cause}")}
    line = _("exposure {number}: not {told}", **what) if options.take_back else _("exposure {number}: {told}", **what)
    return Answer(asked, [line])


def _refuse_unknown(options: argparse.Namespace) -> None:
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        if book.exposure(options.exposure) is None:
            raise _no_exposure(options.exposure)


def _no_exposure(number: int) -> ValueError:
    return ValueError(_("there is no exposure {number} in the logbook", number=number))
