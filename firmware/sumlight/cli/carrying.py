"""Carries a parsed command out: sets up logging, and tells in one line why it could not be done."""

import argparse
import logging
import sys

from sumlight.checkedfile import FileProblemsError

EXIT_UNUSABLE = 2
"""The command could not be carried out at all; 1 means that it was, and did not succeed."""


def carry_out(options: argparse.Namespace) -> int:
    """Carry out what was asked; returns the exit status."""
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
