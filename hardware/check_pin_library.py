"""Does the pin library that box.yaml names really work here? Run by `install` with the new environment's own Python.

`--open` also opens the pin controller, as control will. Exit status 1 with the reason if anything is wrong. Nothing
else is ever tried in its place: a box whose pins are driven by a guess is worse than one that does not start.
"""

import argparse
import importlib
import re
import sys

OLDEST = (0, 2, 2)
"""Releases before this install silently from the package index and drive nothing."""

NUMBERS = re.compile(r"\d+(?:\.\d+)+")


def trouble(*, open_it: bool) -> str | None:
    """What is wrong with lgpio, or None."""
    try:
        lgpio = importlib.import_module("lgpio")
    except ImportError as error:
        return f"lgpio cannot be imported ({error})"
    try:
        version = str(lgpio.get_module_version())  # such as lgpio.py_0.2.2.0
        found = tuple(int(part) for part in NUMBERS.findall(version)[-1].split(".")[:3])
    except (AttributeError, IndexError) as error:
        return f"lgpio tells no version ({error}); it is one of the old releases that do nothing"
    if found < OLDEST:
        return f"lgpio {version} is too old; at least {'.'.join(map(str, OLDEST))} is needed"
    try:
        factory = importlib.import_module("gpiozero.pins.lgpio").LGPIOFactory
    except ImportError as error:
        return f"gpiozero cannot use lgpio ({error})"
    if open_it:
        try:
            factory().close()
        except Exception as error:  # noqa: BLE001 - lgpio has errors of its own; all mean the same here
            return f"the pin controller cannot be opened ({type(error).__name__}: {error})"
    return None


def main() -> int:
    """Say it on standard error."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--open", action="store_true", help="open the pin controller, too")
    found = trouble(open_it=parser.parse_args().open)
    if found:
        sys.stderr.write(f"pin library: {found}\n")
        return 1
    sys.stdout.write("pin library: lgpio works\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
