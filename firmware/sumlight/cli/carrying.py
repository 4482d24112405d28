"""Carries a parsed command out and prints its answer; tells in one line why it could not be done."""

import argparse
import contextlib
import json
import logging
import sys

from sumlight.checkedfile import FileProblemsError
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words, with_codes
from sumlight.language import _, text_of

EXIT_UNUSABLE = 2
"""The command could not be carried out at all; 1 means that it was, and did not succeed."""


def carry_out(options: argparse.Namespace) -> int:
    """Carry out what was asked; returns the exit status."""
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    try:
        return _carry_out(options, as_json=getattr(options, "json", False))
    except FileProblemsError as error:
        print(in_words(error), file=sys.stderr)
    except (OSError, RuntimeError, ValueError) as error:
        print(f"sumlight: {in_words(error)}", file=sys.stderr)
    except KeyboardInterrupt:
        print(_("stopped"), file=sys.stderr)
        return 130
    return EXIT_UNUSABLE


def _carry_out(options: argparse.Namespace, *, as_json: bool) -> int:
    """With --json standard output is the object's alone; what people are told meanwhile goes to standard error."""
    with contextlib.redirect_stdout(sys.stderr) if as_json else contextlib.nullcontext():
        told = options.carry_out(options)
    if not isinstance(told, Answer):
        return int(told)
    if as_json:
        print(json.dumps(with_codes(told.found)))
    else:
        for line in told.lines:
            print(text_of(line))
    return told.status
