"""Every command: a few nouns with verbs of their own. What a verb needs is imported when it is used."""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from sumlight.cli import declare

Declare = Callable[[argparse.ArgumentParser], None]


@dataclass(frozen=True)
class Verb:
    """A command. `declare` adds its options to a parser; one that `answers` has --json besides."""

    name: str
    words: str
    declare: Declare
    example: str
    answers: bool = True


@dataclass(frozen=True)
class Noun:
    """Commands about one thing."""

    name: str
    words: str
    verbs: tuple[Verb, ...]


NOUNS = (
    Noun(
        "box",
        "run a box, real or simulated",
        (
            Verb("run", "control and page on a real box", declare.run, "--box box.yaml", answers=False),
            Verb("twin", "control and page on a simulated box", declare.twin, "--speed 10", answers=False),
            Verb("control", "the control process alone", declare.control, "--box box.yaml", answers=False),
            Verb("rest", "drive all relays to rest after control has died", declare.rest, "--box box.yaml", False),
        ),
    ),
    Noun(
        "panel",
        "expose: a panel, a strip, a tablet, a trusted time",
        (
            Verb("expose", "one exposure, with a progress bar", declare.expose, 'blue-38 --panel "front plate"'),
            Verb("strip", "test strip: zones of growing dose under a mask", declare.strip, "blue-38 --first 30"),
            Verb("tablet", "guided run with a step tablet; calibrates", declare.tablet, "blue-38 --zones 1"),
            Verb("teach", "turn a trusted time into a dose", declare.teach, "blue-38 --seconds 90"),
        ),
    ),
    Noun(
        "recipes",
        "recipes of a box, and recipe files",
        (
            Verb("list", "what is on the shelf", declare.list_recipes, "--json"),
            Verb("show", "one recipe, as its file says", declare.show_recipe, "blue-38"),
            Verb("check", "check recipe files", declare.check_recipes, "blue-38.yaml --box box.yaml"),
        ),
    ),
    Noun(
        "light",
        "what a dose is worth; what lies in the light's way",
        (
            Verb("calibration", "what the calibration is worth", declare.calibration, "blue-38"),
            Verb("steady", "light the lamps for a radiometer", declare.steady, "blue-38 --seconds 60"),
            Verb("radiometer", "enter a radiometer's reading", declare.radiometer, "4.1 --uncertainty 0.05"),
            Verb("self-check", "compare the sensor's own LED with how it was", declare.self_check, "--apply"),
            Verb("transmission", "what sheets let through", declare.transmission, "blue-38 --sheets 2"),
            Verb("field", "map the light over the glass", declare.field, "blue-38 --place=0,0 --place=-60,0 …"),
            Verb("contact", "how far light creeps under edges", declare.contact, "--half-angle 30 --gap 50"),
            Verb(
                "reciprocity",
                "whether the same dose does the same in weak light",
                declare.reciprocity,
                "--held 1,80 --held 4,60",
            ),
        ),
    ),
    Noun(
        "lamps",
        "what the lamps have left; new ones",
        (
            Verb("show", "what each bank has left, and its tubes", declare.show_lamps, "--level 75"),
            Verb("new", "all lamps of a bank were changed", declare.new_lamps, '"T8 15 W" --bank lower'),
            Verb(
                "tubes",
                "record tubes that were put in",
                declare.tubes,
                "lower --places 3 --type T8 --class 'UV-A 365 nm'",
            ),
        ),
    ),
    Noun(
        "bath",
        "mix a bath, plan an etch: sums that need no box",
        (
            Verb("mix", "mix a bath to a volume", declare.mix, "developer --volume 1l --powder clear-crystals"),
            Verb("dwell", "from the break point to the dwell", declare.dwell, "--clear 30s"),
            Verb(
                "etch-time",
                "how long, and when to look",
                declare.etch_time,
                "brass iron --thickness 0,15mm --rate 10um/min",
            ),
            Verb(
                "compensate",
                "what to draw so that it comes out as wanted",
                declare.compensate,
                "opening 0.3mm --thickness 6mil --factor 2",
            ),
            Verb("smallest", "what is too small for a thickness", declare.smallest, "--thickness 150um"),
            Verb("meet", "whether two liquids may meet", declare.meet, "iron peroxide"),
            Verb("waste", "the container of a used bath, and its label", declare.waste, "iron --into iron"),
            Verb(
                "neutralise",
                "powder and gas; arithmetic only",
                declare.neutralise,
                "--volume 1l --with soda --acid 2 --authority-allows",
            ),
        ),
    ),
    Noun(
        "records",
        "the logbook: look, copy, export, tidy",
        (
            Verb("show", "what the logbook holds, and what was done to it", declare.show_records, "--json"),
            Verb("export", "write rows as CSV or JSON lines", declare.export, "exposures exposures.csv"),
            Verb("backup", "copy the logbook, also while the box works", declare.backup, "copy.sqlite"),
            Verb("restore", "make a backup the logbook again (box stopped)", declare.restore, "copy.sqlite"),
            Verb("replay", "work every recorded dose out again", declare.replay, "--exposure 12"),
            Verb("tidy", "remove old traces; tells first what would go", declare.tidy, "--older-than-days 730"),
            Verb("compact", "give freed room back (box stopped)", declare.compact, "--json"),
        ),
    ),
    Noun(
        "setup",
        "set a box up and prove it",
        (
            Verb("check", "check box.yaml, recipes and scenarios", declare.check, "--box box.yaml --measure"),
            Verb("commission", "prove the safety chain, step by step", declare.commission, '--who "A. Nyone"'),
            Verb(
                "override",
                "unlock exposures without that; stays on record",
                declare.override,
                '"K1 is on order" --who "A. Nyone"',
            ),
            Verb("operators", "who may operate on the page; a new start", declare.operators, "reset"),
            Verb("faults", "the list of faults, with what to do", declare.faults, "--json"),
            Verb("completion", "what lets bash complete commands", declare.completion, ">> ~/.bashrc", answers=False),
        ),
    ),
)


class LazyParser(argparse.ArgumentParser):
    """A parser that learns its options when it is first used."""

    declared_by: Declare | None = None

    def declare(self) -> None:
        """Let the command import what it needs and add its options; once."""
        declare, self.declared_by = self.declared_by, None
        if declare is not None:
            declare(self)

    def parse_known_args(  # type: ignore[override]
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None, **more: Any
    ) -> tuple[argparse.Namespace, list[str]]:
        """As any parser does, with the options declared before."""
        self.declare()
        return super().parse_known_args(args, namespace, **more)


def add_nouns(top: argparse.ArgumentParser) -> None:
    """Give `top` every noun by name; verbs and options come when they are asked for."""
    group = top.add_subparsers(
        dest="noun", required=True, metavar="WHAT", parser_class=LazyParser, title="what it is about", prog=top.prog
    )
    for noun in NOUNS:
        _add(group, noun.name, noun.words, partial(_add_verbs, noun))


def _add_verbs(noun: Noun, parser: argparse.ArgumentParser) -> None:
    parser.usage = f"{parser.prog} COMMAND [options]"
    parser.epilog = _example(parser, f"{noun.verbs[0].name} {noun.verbs[0].example}")
    group = parser.add_subparsers(
        dest="verb",
        required=True,
        metavar="COMMAND",
        parser_class=LazyParser,
        title="commands",
        prog=parser.prog,
    )
    for verb in noun.verbs:
        _add(group, verb.name, verb.words, partial(_add_options, verb))


def _add_options(verb: Verb, parser: argparse.ArgumentParser) -> None:
    verb.declare(parser)
    if verb.answers:
        parser.add_argument("--json", action="store_true", help="print the answer as one JSON object")
    parser.usage = f"{parser.prog} {_needed(parser)}[options]"
    parser.epilog = _example(parser, verb.example)


def _add(group: Any, name: str, words: str, declared_by: Declare) -> None:
    description = f"{words[0].upper()}{words[1:]}."
    formatter = argparse.RawDescriptionHelpFormatter
    group.add_parser(name, help=words, description=description, formatter_class=formatter).declared_by = declared_by


def _needed(parser: argparse.ArgumentParser) -> str:
    """What a usage line names: positionals, and options that must be given."""
    words = ""
    for action in parser._actions:
        shown = action.metavar or action.dest.upper()
        if action.required and action.option_strings:
            words += f"{action.option_strings[0]} {shown} "
        elif not action.option_strings:
            words += f"{shown}… " if action.nargs == "+" else f"{shown} " if action.required else f"[{shown}] "
    return words


def _example(parser: argparse.ArgumentParser, words: str) -> str:
    return f"example:\n  {parser.prog} {words}"
