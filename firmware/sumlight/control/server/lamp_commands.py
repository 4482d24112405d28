"""What clients may ask and tell about lamps: hours of every bank, and tubes that were fitted."""

from typing import Any, Protocol

from sumlight.bounds import bounds_of
from sumlight.control.exposure.state_machine import RefusedError
from sumlight.control.loop import ControlLoop
from sumlight.protocol.commands import TubesFitted
from sumlight.protocol.errors import BadRequestError
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.lamps import MOST_TUBES, NewTube
from sumlight.store.logbook.records import BankState


def lamps(loop: ControlLoop, states: dict[str, BankState]) -> dict[str, Any]:
    """Hours and strikes of every bank's present lamps, as of now; their history is read from the logbook."""
    found = []
    for name, watch in loop.banks.items():
        lit_s, strikes = loop.recorder.use_of(name, states[name])
        found.append({"name": name, "side": watch.bank.side, "lamp_hours": lit_s / 3600, "strikes": strikes})
    return {"banks": found}


def refuse_if_unwritable(loop: ControlLoop) -> None:
    """For what must not be lost. Raises RefusedError with what the card says."""
    if why := loop.writer.error:
        raise RefusedError(f"The logbook cannot be written: {why.rstrip('.')}.", "Make room on the card or replace it.")


def replacement_level(loop: ControlLoop, percent: float) -> dict[str, Any]:
    """Keep the share of their seasoned light below which lamps are to be changed. Raises BadRequestError."""
    allowed = bounds_of(LampSettings, "replace_at_percent")
    if not allowed.allow(percent):
        text = f"'percent' is {percent:g}; it must lie between {allowed.low:g} and {allowed.high:g}"
        raise BadRequestError("bad_value", text, field="percent")
    refuse_if_unwritable(loop)
    loop.writer.put_lamp_settings(LampSettings(replace_at_percent=percent))
    return {"percent": percent}


class FitLamps(Protocol):
    """Begins a new lamp set; see `Metrology.fit_lamps`."""

    def __call__(self, bank: str, lamp_type: str, tubes: tuple[NewTube, ...]) -> dict[str, Any]:
        """Returns what is to be told."""


def tubes_fitted(loop: ControlLoop, asked: TubesFitted, fit_lamps: FitLamps) -> dict[str, Any]:
    """Record tubes that a person has put in. Raises BadRequestError.

    `positions` names their places; `tubes` says instead that all of the bank's, so many, were changed. These begin a
    new lamp set, with `fit_lamps`.
    """
    bank = asked.bank
    if bank not in loop.banks:
        message = f"there is no bank '{bank}'; there is {', '.join(loop.banks)}"
        raise BadRequestError("not_found", message, field="bank")
    if loop.exposure.running or any(watch.bank.commanded for watch in loop.banks.values()):
        remedy = "Finish or abandon the panel first."
        raise BadRequestError("refused", "Tubes cannot be changed during an exposure.", remedy=remedy)
    places, whole = _places(asked)
    if not asked.lamp_type:
        raise BadRequestError("bad_value", "'lamp_type' is empty: write what is printed on the tube", field="lamp_type")
    tubes = tuple(
        NewTube(
            position=place,
            lamp_type=asked.lamp_type,
            wavelength_class=asked.wavelength_class,
            label=asked.label,
            hours=asked.hours,
            strikes=asked.strikes,
            expected_life_h=asked.expected_life_h or None,
        )
        for place in places
    )
    found: dict[str, Any] = {"bank": bank, "positions": places, "whole": whole}
    if whole:  # the calibration of the lamps before does not hold for these
        return found | fit_lamps(bank, asked.lamp_type, tubes)
    now = loop.clock.utc()
    loop.writer.add(f"{tubes} in bank '{bank}'", lambda book: book.lamps.fit_tubes(bank, tubes, now, whole=False))
    return found


def _places(asked: TubesFitted) -> tuple[list[int], bool]:
    named, count = asked.positions, asked.tubes
    if bool(named) == bool(count):
        message = "name either 'positions', the places that were changed, or 'tubes', how many it has, if all were"
        raise BadRequestError("bad_value", message, field="positions")
    places = list(range(1, int(count) + 1)) if 0 < count <= MOST_TUBES else [int(n) for n in named]
    odd = any(n != int(n) for n in [*named, count])
    if odd or not places or len(set(places)) != len(places) or not all(1 <= n <= MOST_TUBES for n in places):
        field = "positions" if named else "tubes"
        message = f"places are whole numbers from 1 to {MOST_TUBES}, each named once"
        raise BadRequestError("bad_value", message, field=field)
    return places, not named
