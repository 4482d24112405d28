"""Options that several commands share."""

import argparse
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sumlight import days
from sumlight.bounds import Bounds, bounds_of, is_whole
from sumlight.language import _, text_of
from sumlight.quantity import QuantityError, read

HTTP_PORT = 8765


def default_data(*, twin: bool) -> Path:
    """Where records go unless --data says otherwise: for a real box where SUMLIGHT_DATA says, which an installed box
    sets; the twin's never mix with them."""
    own = Path.home() / ".local" / "share"
    if twin:
        return own / "sumlight-twin"
    return Path(os.environ.get("SUMLIGHT_DATA") or own / "sumlight")


def add_data(command: argparse.ArgumentParser, *, twin: bool) -> None:
    """--data."""
    command.add_argument(
        "--data",
        type=Path,
        default=None if twin else default_data(twin=False),
        metavar="DIR",
        help=_("folder of recipes and logbook (made if missing)"),
    )


def add_twin(command: argparse.ArgumentParser, *, speed: float | None) -> None:
    """--box, --scenario and --speed of a simulated box."""
    command.add_argument(
        "--box", type=Path, metavar="FILE", help=_("box.yaml of the simulated box (default: a demo box)")
    )
    command.add_argument("--scenario", type=Path, metavar="FILE", help=_("file of what happens in the simulated box"))
    command.add_argument(
        "--speed",
        type=speed_of,
        default=speed,
        metavar="N",
        help=_(
            "simulated seconds per real second, or 'max' (default: {speed})", speed="max" if speed is None else speed
        ),
    )


def speed_of(text: str) -> float | None:
    """A speed above 0; None for 'max'. Raises ArgumentTypeError."""
    if text == "max":
        return None
    try:
        return read(text, "", Bounds(0, 1e6, above=True))
    except QuantityError:
        told = _("'{text}' is not a speed; give a number above 0, or 'max'", text=text)
        raise argparse.ArgumentTypeError(told) from None


def add_amount(
    command: argparse._ActionsContainer, flag: str, model: Any, name: str, unit: str = "", **how: Any
) -> None:
    """An option that takes a quantity: units and a comma understood, bounds and default as `model` states them."""
    whole, field = is_whole(model, name), model.model_fields[name]
    if flag.startswith("-") and not field.is_required():
        how.setdefault("default", field.default)
    command.add_argument(flag, type=lambda text: _read(text, unit, bounds_of(model, name), whole), **how)


def add_day(command: argparse._ActionsContainer, flag: str, words: Mapping[str, str] | None = None, **how: Any) -> None:
    """An option that takes a day as people type it, and gives it as ISO 8601; `words` stand for something else."""

    def read_day(text: str) -> str:
        if words is not None and text in words:
            return words[text]
        try:
            return days.read(text).isoformat()
        except days.DayError as error:
            raise argparse.ArgumentTypeError(text_of(error.message)) from error

    command.add_argument(flag, type=read_day, metavar="DAY", **how)


def _read(text: str, unit: str, bounds: Bounds, whole: bool) -> float:
    try:
        value = read(text, unit, bounds, whole=whole)
    except QuantityError as error:
        raise argparse.ArgumentTypeError(text_of(error.message)) from error
    return int(value) if whole else value
