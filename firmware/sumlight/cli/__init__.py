"""The command `sumlight`: run a box, real or simulated, expose from the terminal, check files."""

import argparse

from sumlight import __version__
from sumlight.cli import commands


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="sumlight",
        description="Run a UV exposure box that stops on measured dose. UV light hurts eyes and skin: the hard-wired "
        "lid switch protects you, this software only watches it.",
    )
    top.add_argument("--version", action="version", version=f"sumlight {__version__}")
    commands.add_all(top)
    return top


def main(arguments: list[str] | None = None) -> int:
    """Entry point; returns the exit status."""
    options = parser().parse_args(arguments)
    from sumlight.cli.carrying import carry_out  # with all that --version and --help do without

    return carry_out(options)
