"""Every command: a few nouns with verbs of their own. What a verb needs is imported when it is used."""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from sumlight.cli import declare, declare_bench
from sumlight.language import N_, _

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
        N_("run a box, real or simulated"),
        (
            Verb("run", N_("controller and page on a real box"), declare.run, "--box box.yaml", answers=False),
            Verb("twin", N_("controller and page on a simulated box"), declare.twin, "--speed 10", answers=False),
            Verb("control", N_("the controller alone"), declare.control, "--box box.yaml", answers=False),
            Verb(
                "rest",
                N_("drive all relays to rest after the controller has died"),
                declare.rest,
                "--box box.yaml",
                False,
            ),
            Verb("display", N_("a small text display at the box"), declare.display, "--device /dev/lcd", False),
        ),
    ),
    Noun(
        "panel",
        N_("expose: a panel, a strip, a tablet, a proven time"),
        (
            Verb("expose", N_("one exposure, with a progress bar"), declare.expose, 'blue-38 --panel "front plate"'),
            Verb("strip", N_("test strip: zones of growing dose under a mask"), declare.strip, "blue-38 --first 30"),
            Verb("tablet", N_("guided run with a step tablet; calibrates"), declare.tablet, "blue-38 --zones 1"),
            Verb("teach", N_("turn a proven time into a dose"), declare.teach, "blue-38 --seconds 90"),
        ),
    ),
    Noun(
        "recipes",
        N_("recipes of a box, and recipe files"),
        (
            Verb("list", N_("what is on the shelf"), declare.list_recipes, "--json"),
            Verb("show", N_("one recipe, as its file says"), declare.show_recipe, "blue-38"),
            Verb("new", N_("a recipe from a time, a dose or neither"), declare.new_recipe, '"Brass 8 min" --time 8min'),
            Verb("scales", N_("under which calibration each dose was found"), declare.scales, "blue-38"),
            Verb("take-over", N_("put in what the same light is called now"), declare.take_over, "blue-38"),
            Verb("results", N_("what came of its panels says of a recipe"), declare.recipe_results, "blue-38"),
            Verb("put-away", N_("take a recipe off the shelf; nothing is deleted"), declare.put_recipe_away, "blue-38"),
            Verb("take-back", N_("put it on the shelf again"), declare.take_recipe_back, "blue-38"),
            Verb(
                "shared", N_("what a shared folder has in another way"), declare.shared_recipes, "/srv/recipes --pull"
            ),
            Verb("adopt", N_("take over a recipe of a shared folder"), declare.adopt_recipe, "blue-38 /srv/recipes"),
            Verb("share", N_("put a recipe into a shared folder"), declare.share_recipe, "blue-38 /srv/recipes"),
            Verb("check", N_("check recipe files"), declare.check_recipes, "blue-38.yaml --box box.yaml"),
        ),
    ),
    Noun(
        "light",
        N_("how well a dose is known; what lies in the light's way"),
        (
            Verb("calibration", N_("how good the calibration is"), declare.calibration, "blue-38"),
            Verb("steady", N_("light the lamps for a radiometer"), declare.steady, "blue-38 --seconds 60"),
            Verb("radiometer", N_("enter a radiometer's reading"), declare.radiometer, "4.1 --uncertainty 0.05"),
            Verb("self-check", N_("compare the sensor's own LED with how it was"), declare.self_check, "--apply"),
            Verb("transmission", N_("what sheets let through"), declare.transmission, "blue-38 --sheets 2"),
            Verb("field", N_("map the light over the glass"), declare.field, "blue-38 --place=0,0 --place=-60,0 …"),
            Verb("contact", N_("how far light creeps under edges"), declare.contact, "--half-angle 30 --gap 50"),
            Verb(
                "reciprocity",
                N_("whether the same dose does the same in weak light"),
                declare.reciprocity,
                "--held 1,80 --held 4,60",
            ),
        ),
    ),
    Noun(
        "lamps",
        N_("what the lamps have left; new ones"),
        (
            Verb("show", N_("what each bank has left, and its tubes"), declare.show_lamps, "--level 75"),
            Verb("new", N_("all lamps of a bank were changed"), declare.new_lamps, '"T8 15 W" --bank lower'),
            Verb(
                "tubes",
                N_("record newly fitted tubes"),
                declare.tubes,
                "lower --places 3 --type T8 --class 'UV-A 365 nm'",
            ),
        ),
    ),
    Noun(
        "job",
        N_("panels on their way over the bench: what is due, step by step"),
        (
            Verb(
                "new",
                N_("begin a job; its panels get cards"),
                declare_bench.new_job,
                'blue-38 --wanted 2 --artwork "gear"',
            ),
            Verb("list", N_("open jobs, and what is due on each panel"), declare_bench.list_jobs, "--json"),
            Verb("show", N_("the card of a panel: what to do now"), declare_bench.show_card, '"blue-38 · 7" --all'),
            Verb(
                "step",
                N_("note a step: begin, done, skip, wrong, again"),
                declare_bench.note_step,
                '"blue-38 · 7" done',
            ),
            Verb(
                "share",
                N_("put what a job is into a shared folder"),
                declare_bench.share_job,
                "3 /srv/recipes --name gear",
            ),
            Verb("adopt", N_("begin a job as a shared folder has it"), declare_bench.adopt_job, "gear /srv/recipes"),
        ),
    ),
    Noun(
        "stock",
        N_("rolls of resist, metal and stencils on the shelf"),
        (
            Verb("list", N_("what is on the shelf, or one thing with its steps"), declare_bench.list_stock, "3"),
            Verb(
                "roll", N_("a new roll of resist"), declare_bench.new_roll, '"Invented film" --film 38um --storage cool'
            ),
            Verb("metal", N_("new metal"), declare_bench.new_metal, "brass --thickness 150um --pieces 10"),
            Verb(
                "stencil", N_("a new stencil: films, sheets, strip"), declare_bench.new_stencil, "gear --spacer 150um"
            ),
            Verb(
                "note",
                N_("steps and measurements of a stencil"),
                declare_bench.note_stock,
                "3 --apart 40um --density 2.4",
            ),
            Verb("end", N_("take a thing off the shelf that is used up"), declare_bench.end_stock, "3"),
        ),
    ),
    Noun(
        "bath",
        N_("baths: mix, use and throw away; plan an etch"),
        (
            Verb(
                "new", N_("put a bath that is mixed to use"), declare_bench.new_bath, "iron --volume 1l --strength 36%"
            ),
            Verb("list", N_("the baths in use, or one of them; when to mix new"), declare_bench.list_baths, "3"),
            Verb("panel", N_("note a panel that has no card"), declare_bench.bath_panel, "3 --metal brass --took 9min"),
            Verb(
                "mix", N_("mix a bath to a volume"), declare_bench.mix, "developer --volume 1l --powder clear-crystals"
            ),
            Verb("dwell", N_("from the break point to the dwell"), declare_bench.dwell, "--clear 30s"),
            Verb(
                "etch-time",
                N_("how long, and when to look"),
                declare_bench.etch_time,
                "brass iron --thickness 0,15mm --rate 10um/min",
            ),
            Verb(
                "compensate",
                N_("what to draw so that it comes out as wanted"),
                declare_bench.compensate,
                "opening 0.3mm --thickness 6mil --factor 2",
            ),
            Verb("smallest", N_("what is too small for a thickness"), declare_bench.smallest, "--thickness 150um"),
            Verb("meet", N_("whether two liquids may meet"), declare_bench.meet, "iron peroxide"),
            Verb(
                "waste",
                N_("the container of a used bath, its label; moves one there"),
                declare_bench.waste,
                "3 --into iron",
            ),
            Verb(
                "neutralise",
                N_("powder and gas; arithmetic only"),
                declare_bench.neutralise,
                "--volume 1l --with soda --acid 2 --authority-allows",
            ),
        ),
    ),
    Noun(
        "artwork",
        N_("see the part before metal is spent: needs no box"),
        (
            Verb(
                "check",
                N_("size, smallest places, dust, what falls apart"),
                declare.check_artwork,
                "gear.png --thickness 150um",
            ),
            Verb("clean", N_("close dust and pinholes, into a new file"), declare.clean_artwork, "scan.tif clean.png"),
            Verb(
                "predict",
                N_("the part: outlines, what falls out, metal dissolved"),
                declare.predict_part,
                "gear.png --thickness 150um --picture part.png",
            ),
            Verb(
                "compensate",
                N_("draw what gives the wanted part"),
                declare.compensate_artwork,
                "gear.png film.pdf --thickness 150um --factor 1.6",
            ),
            Verb(
                "pair",
                N_("all of it: from a crooked scan to a pair of films"),
                declare.pair_artwork,
                "scan.png films --thickness 150um --factor 1.6",
            ),
            Verb(
                "compare",
                N_("a scan against what it should be: size, place, edges, differences"),
                declare.compare_artwork,
                "scan.tif gear.png --picture differences.png",
            ),
            Verb(
                "scanner",
                N_("what your scanner does to shapes, from two scans"),
                declare.find_scanner,
                "sheet.png turned.png --rule 4724:100mm",
            ),
            Verb(
                "learn",
                N_("from comparisons: etch factor, film and light, and what to draw next"),
                declare.learn_artwork,
                "film=12um resist=-4um waist=part.json --thickness 150um",
            ),
        ),
    ),
    Noun(
        "records",
        N_("the logbook: look, copy, export, tidy"),
        (
            Verb("show", N_("what the logbook holds, and what was done to it"), declare.show_records, "--json"),
            Verb("export", N_("write rows as CSV or JSON lines"), declare.export, "exposures exposures.csv"),
            Verb(
                "signs", N_("what was seen on a panel"), declare.put_signs, "12 floats_off held_step=7 rested_s=12min"
            ),
            Verb("why", N_("why a panel failed, by its signs and numbers"), declare.tell_why, "12"),
            Verb("cause", N_("record what a failure came from"), declare.confirm_cause, "12 underexposed"),
            Verb(
                "faults",
                N_("the faults so far; note that you looked at the lamps"),
                declare.past_faults,
                '3 "the starter was loose"',
            ),
            Verb("backup", N_("copy the logbook, also while the box works"), declare.backup, "copy.sqlite"),
            Verb(
                "restore", N_("put a backup back in the logbook's place (box stopped)"), declare.restore, "copy.sqlite"
            ),
            Verb("replay", N_("recalculate every recorded dose"), declare.replay, "--exposure 12"),
            Verb("tidy", N_("remove old traces; says first what would go"), declare.tidy, "--older-than-days 730"),
            Verb("compact", N_("shrink the file to what it holds (box stopped)"), declare.compact, "--json"),
        ),
    ),
    Noun(
        "fleet",
        N_("several boxes: their records in one place (extra fleet)"),
        (
            Verb("publish", N_("tell a broker this box's records and state"), declare.publish, "--box box.yaml", False),
            Verb(
                "collect",
                N_("gather the records of all boxes in a database"),
                declare.collect,
                "--database sqlite:///fleet.sqlite",
                False,
            ),
            Verb("shop", N_("a page about all boxes, to look at"), declare.shop, "--port 8766", False),
            Verb(
                "dark", N_("ask a box for dark; no emergency stop"), declare.fleet_dark, "bench-1 --key-file key", False
            ),
            Verb("demo", N_("a shop of three simulated boxes, to look at"), declare.fleet_demo, "", False),
            Verb("rights", N_("the broker's list of rights"), declare.fleet_rights, "> sumlight.acl", False),
        ),
    ),
    Noun(
        "setup",
        N_("set a box up and prove it"),
        (
            Verb("check", N_("check box.yaml, recipes and scenarios"), declare.check, "--box box.yaml --measure"),
            Verb("commission", N_("prove the safety chain, step by step"), declare.commission, '--who "A. Nyone"'),
            Verb(
                "override",
                N_("unlock exposures without it; goes on record"),
                declare.override,
                '"K1 is on order" --who "A. Nyone"',
            ),
            Verb("operators", N_("who may operate on the page; starting over"), declare.operators, "reset"),
            Verb("faults", N_("the list of faults, with what to do"), declare.faults, "--json"),
            Verb(
                "completion",
                N_("a script that completes commands in bash"),
                declare.completion,
                ">> ~/.bashrc",
                answers=False,
            ),
        ),
    ),
)

HELP = Verb("help", N_("the manual: topics, keys, faults, commands, words"), declare.manual, "faults")
"""Stands beside the nouns."""


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
        dest="noun",
        required=True,
        metavar=_("WHAT"),
        parser_class=LazyParser,
        title=_("what it is about"),
        prog=top.prog,
    )
    for noun in NOUNS:
        _add(group, noun.name, noun.words, partial(_add_verbs, noun))
    _add(group, HELP.name, HELP.words, partial(_add_options, HELP))


def _add_verbs(noun: Noun, parser: argparse.ArgumentParser) -> None:
    parser.usage = _("{command} COMMAND [options]", command=parser.prog)
    parser.epilog = _example(parser, f"{noun.verbs[0].name} {noun.verbs[0].example}")
    group = parser.add_subparsers(
        dest="verb",
        required=True,
        metavar=_("COMMAND"),
        parser_class=LazyParser,
        title=_("commands"),
        prog=parser.prog,
    )
    for verb in noun.verbs:
        _add(group, verb.name, verb.words, partial(_add_options, verb))


def _add_options(verb: Verb, parser: argparse.ArgumentParser) -> None:
    verb.declare(parser)
    if verb.answers:
        parser.add_argument("--json", action="store_true", help=_("print the answer as one JSON object"))
    parser.usage = _("{command} {needed}[options]", command=parser.prog, needed=_needed(parser))
    parser.epilog = _example(parser, verb.example)


def _add(group: Any, name: str, words: str, declared_by: Declare) -> None:
    words = _(words)
    description = f"{words[0].upper()}{words[1:]}."
    group.add_parser(name, help=words, description=description, formatter_class=Wide).declared_by = declared_by


class Wide(argparse.RawDescriptionHelpFormatter):
    """Counts the two columns by which commands are set in: argparse forgets them, and breaks the longer names off.

    Above a list of commands it leaves out the line that only says once more that they are commands, and --help, which
    whoever reads this has found.
    """

    def add_argument(self, action: argparse.Action) -> None:
        """See argparse."""
        if isinstance(action, argparse._HelpAction):
            return
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction):
            self._action_max_length += 2

    def _format_action(self, action: argparse.Action) -> str:
        if not isinstance(action, argparse._SubParsersAction):
            return super()._format_action(action)
        return "".join(self._format_action(each) for each in self._iter_indented_subactions(action))


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
    command = f"{parser.prog} {words}"
    return _("example:\n  {command}", command=command)
