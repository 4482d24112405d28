"""The command `sumlight`: run a box, real or simulated, expose from the terminal, check files."""

import argparse
import gettext
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from sumlight import __version__
from sumlight.cli import commands
from sumlight.language import DOMAIN, LOCALE, N_, Reader, _, of_environment, written_for

EXAMPLE = N_("""\
example:
  sumlight panel expose --twin    (on a simulated box, no hardware needed)""")


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="sumlight",
        usage=_("sumlight WHAT COMMAND [options] | --version"),
        description=_("Run a UV exposure box. UV hurts: what protects you is the wired lid switch."),
        epilog=_(EXAMPLE),
        formatter_class=commands.Wide,
    )
    top.add_argument("--version", action="version", version=f"sumlight {__version__}", help=argparse.SUPPRESS)
    top.set_defaults(top=top)  # completion is made from it
    commands.add_nouns(top)
    return top


def main(arguments: list[str] | None = None) -> int:
    """Carry out a command line in the language of the environment; returns the exit status."""
    with _speaking(of_environment(os.environ)):
        return _main(sys.argv[1:] if arguments is None else arguments)


@contextmanager
def _speaking(language: str) -> Iterator[None]:
    """Say everything in `language` within the block, also what argparse says: it asks the process's own domain."""
    before = gettext.textdomain()
    if language != "en":
        gettext.bindtextdomain(DOMAIN, LOCALE)
        gettext.textdomain(DOMAIN)
    try:
        with written_for(Reader(language)):
            yield
    finally:
        gettext.textdomain(before)


def _main(asked: list[str]) -> int:
    if asked and not asked[0].startswith("-"):
        from sumlight.cli.oldspelling import renewed

        asked = renewed(asked)
    options = parser().parse_args(asked)
    from sumlight.cli.carrying import carry_out  # with all that --version and --help do without

    return carry_out(options)
