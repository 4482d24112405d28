"""Every command with its line of help. What a command needs is imported when it is carried out, or asked for help."""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

Declare = Callable[[argparse.ArgumentParser], None]


@dataclass(frozen=True)
class Command:
    """A command. `declare` imports what it needs and adds the command's options to a parser."""

    name: str
    words: str
    declare: Declare


def _twin(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import start

    start.add_twin(parser)


def _run(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import start

    start.add_run(parser)


def _expose(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import expose

    expose.add(parser)


def _commission(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import commission

    commission.add(parser)


def _check(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import check

    check.add(parser)


def _faultlist(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import faultlist

    faultlist.add(parser)


def _lamps(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import lamps

    lamps.add(parser)


def _told(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import logbook

    logbook.add_told(parser)


def _backup(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import logbook

    logbook.add_backup(parser)


def _restore(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import logbook

    logbook.add_restore(parser)


def _replay(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import logbook

    logbook.add_replay(parser)


def _tidy(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import logbook

    logbook.add_tidy(parser)


def _export(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import export

    export.add(parser)


def _control(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import control

    control.add(parser)


def _rest(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import rest

    rest.add(parser)


def _operators(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import operators

    operators.add(parser)


def _calibrate(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_calibrate(parser)


def _tablet(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_tablet(parser)


def _strip(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_strip(parser)


def _transmission(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_transmission(parser)


def _field(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_field(parser)


def _self_check(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_self_check(parser)


def _teach(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import metrology

    metrology.add_teach(parser)


def _contact(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import workings

    workings.add_contact(parser)


def _reciprocity(parser: argparse.ArgumentParser) -> None:
    from sumlight.cli import workings

    workings.add_reciprocity(parser)


COMMANDS = (
    Command("twin", "control and page on a simulated box", _twin),
    Command("run", "control and page on a real box", _run),
    Command("expose", "one exposure, with a progress bar", _expose),
    Command("commission", "prove the safety chain, step by step; writes a dated report", _commission),
    Command("check", "check box.yaml, recipes and scenarios", _check),
    Command("faults", "the list of faults: what is seen, what happens, what to do", _faultlist),
    Command("lamps", "what the lamps have left; record tubes that were fitted", _lamps),
    Command("logbook", "what the logbook holds and what was done to it", _told),
    Command("backup", "copy the logbook to a file, also while the box works", _backup),
    Command("restore", "make a backup the logbook again; the box must not be running", _restore),
    Command("replay", "work every recorded dose out again with today's code", _replay),
    Command("tidy", "remove old traces, or make the file shorter; tells first what would go", _tidy),
    Command("export", "write rows of the logbook as CSV or JSON lines", _export),
    Command("control", "the control process alone (what `run` and `twin` start)", _control),
    Command("rest", "drive all relays of a real box to rest (after control has died)", _rest),
    Command("operators", "who may operate on the page; 'reset' makes a new start", _operators),
    Command("calibrate", "show the calibration, or enter a radiometer's reading", _calibrate),
    Command("tablet", "guided run with a step tablet: expose, develop, read, calibrate", _tablet),
    Command("strip", "test strip: zones of growing dose under a sliding mask", _strip),
    Command("transmission", "what sheets let through", _transmission),
    Command("field", "map the light over the glass", _field),
    Command("selfcheck", "compare the sensor's own LED with how it was", _self_check),
    Command("teach", "turn a trusted time into a dose", _teach),
    Command("contact", "how far light creeps under the artwork's edges", _contact),
    Command("reciprocity", "whether the same dose does the same in weaker light", _reciprocity),
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


def add_all(top: argparse.ArgumentParser) -> None:
    """Give `top` every command by name, without any of their options."""
    group = top.add_subparsers(dest="command", required=True, metavar="COMMAND", parser_class=LazyParser)
    for command in COMMANDS:
        group.add_parser(command.name, help=command.words).declared_by = command.declare
