"""Options that several commands share."""

import argparse
from pathlib import Path

HTTP_PORT = 8765


def default_data(*, twin: bool) -> Path:
    """Where records go unless --data says otherwise; the twin's never mix with a real box's."""
    return Path.home() / ".local" / "share" / ("sumlight-twin" if twin else "sumlight")


def add_data(command: argparse.ArgumentParser, *, twin: bool) -> None:
    """--data."""
    command.add_argument(
        "--data",
        type=Path,
        default=None if twin else default_data(twin=False),
        metavar="DIR",
        help="folder of recipes and logbook (made if missing)",
    )


def add_twin(command: argparse.ArgumentParser, *, speed: float | None) -> None:
    """--box, --scenario and --speed of a simulated box."""
    command.add_argument("--box", type=Path, metavar="FILE", help="box.yaml of the simulated box (default: a demo box)")
    command.add_argument("--scenario", type=Path, metavar="FILE", help="what happens in the simulated box")
    command.add_argument(
        "--speed",
        type=speed_of,
        default=speed,
        metavar="N",
        help=f"simulated seconds per real second, or 'max' (default: {'max' if speed is None else speed})",
    )


def speed_of(text: str) -> float | None:
    """A speed above 0; None for 'max'. Raises ArgumentTypeError."""
    if text == "max":
        return None
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 0 < speed <= 1e6:
        raise argparse.ArgumentTypeError(f"'{text}' is no speed; give a number above 0, or 'max'")
    return speed
