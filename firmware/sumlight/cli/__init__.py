"""The command `sumlight`: run a box, real or simulated, expose from the terminal, check files."""

import argparse
import logging
import sys

from sumlight import __version__
from sumlight.checkedfile import FileProblemsError
from sumlight.cli import (
    check,
    commission,
    control,
    export,
    expose,
    faultlist,
    lamps,
    logbook,
    metrology,
    operators,
    rest,
    start,
    workings,
)

EXIT_UNUSABLE = 2
"""The command could not be carried out at all; 1 means that it was, and did not succeed."""


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="sumlight",
        description="Run a UV exposure box that stops on measured dose. UV light hurts eyes and skin: the hard-wired "
        "lid switch protects you, this software only watches it.",
    )
    top.add_argument("--version", action="version", version=f"sumlight {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for module in (
        start,
        expose,
        commission,
        check,
        faultlist,
        lamps,
        logbook,
        export,
        control,
        rest,
        operators,
        metrology,
        workings,
    ):
        module.add(commands)
    return top


def main(arguments: list[str] | None = None) -> int:
    """Entry point; returns the exit status."""
    options = parser().parse_args(arguments)
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    try:
        return int(options.carry_out(options))
    except FileProblemsError as error:
        print(error, file=sys.stderr)
    except (OSError, RuntimeError, ValueError) as error:
        print(f"sumlight: {error}", file=sys.stderr)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130
    return EXIT_UNUSABLE
