"""The command `sumlight`: run a box, real or simulated, expose from the terminal, check files."""

import argparse
import sys

from sumlight import __version__
from sumlight.cli import commands

EXAMPLE = """\
example:
  sumlight panel expose --twin    (on a simulated box, no hardware needed)"""


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="sumlight",
        usage="sumlight WHAT COMMAND [options]",
        description="Run a UV exposure box that stops on measured dose. UV light hurts eyes and skin:\n"
        "the hard-wired lid switch protects you, this software only watches it.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"sumlight {__version__}")
    top.set_defaults(top=top)  # completion is made from it
    commands.add_nouns(top)
    return top


def main(arguments: list[str] | None = None) -> int:
    """Entry point; returns the exit status."""
    asked = sys.argv[1:] if arguments is None else arguments
    if asked and not asked[0].startswith("-"):
        from sumlight.cli.oldspelling import renewed

        asked = renewed(asked)
    options = parser().parse_args(asked)
    from sumlight.cli.carrying import carry_out  # with all that --version and --help do without

    return carry_out(options)
