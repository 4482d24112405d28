"""`sumlight setup operators`: who may operate on the page; with `reset` a new start."""

import argparse
from pathlib import Path

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.language import _
from sumlight.store.operators import access_folder, read_operators, reset, set_up_code, set_up_path


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument(
        "what", nargs="?", choices=("list", "reset"), default="list", help=_("reset: remove all, end every session")
    )
    command.add_argument("--twin", action="store_true", help=_("those of the simulated box"))
    command.add_argument("--data", type=Path, metavar="DIR", help=_("folder of recipes and logbook"))
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> Answer:
    """List the operators, or start anew. Raises OperatorsError."""
    data: Path = options.data or shared.default_data(twin=options.twin)
    if not data.is_dir():
        raise ValueError(_("{folder} is not a folder; name the box's data folder with --data", folder=data))
    if options.what == "reset":
        code = reset(data)
        told = _("All operators are removed and every session has ended.")
    else:
        folder = access_folder(data)
        names = read_operators(folder).names()
        if names:
            return Answer({"operators": names, "set_up_code": None}, names)
        code = set_up_code(folder)
        told = _("No operator yet.")
    first = _("Set-up code for the first: {code}", code=code)
    lines = [told, first, _("Or open the page's address with {path} behind it.", path=set_up_path(code))]
    return Answer({"operators": [], "set_up_code": code}, lines)
