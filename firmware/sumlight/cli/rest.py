"""`sumlight box rest`: drive every relay to its rest level and let go; for the service manager, after control has died.

Some Raspberry Pi kernels keep an output at its last level when the program that held it dies. K1 then drops, because
its pump is no longer fed; this puts the lamp relays to rest as well.
"""

import argparse
import sys
from pathlib import Path

from sumlight.box.assembly import real_pin_factory
from sumlight.box.description import load_box
from sumlight.box.lamps import EnableLine, LampBank, close_all
from sumlight.language import _


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--box", type=Path, required=True, metavar="FILE", help=_("box.yaml of this box"))
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Open each output at rest and release it. Raises PinLibraryError, or what the library raises for a pin in use."""
    description = load_box(options.box)
    factory = real_pin_factory(description.pin_library)
    banks = [LampBank(bank, factory, lambda: False) for bank in description.banks]
    enable = None
    if description.enable_pin is not None:
        enable = EnableLine(description.enable_pin, factory, lambda: False)
    failed = close_all(banks, enable)
    for name, error in failed:
        print(f"{name}: {type(error).__name__}: {error}", file=sys.stderr)
    return 1 if failed else 0
