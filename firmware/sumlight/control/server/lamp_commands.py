"""What clients may ask and tell about lamps: hours of every bank, and tubes that were fitted."""

from typing import Any, Protocol

from sumlight.bounds import bounds_of
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import refuse_if_unwritable
from sumlight.protocol.commands import TubesFitted
from sumlight.protocol.errors import BadRequestError
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.lamps import MOST_TUBES, NewTube
from sumlight.store.logbook.records import BankState
from sumlight.text.message import say


def lamps(loop: ControlLoop, states: dict[str, BankState]) -> dict[str, Any]:
    """Hours and strikes of every bank's present lamps, as of now; their history is read from the logbook."""
    found = []
    for name, watch in loop.banks.items():
        lit_s, strikes = loop.recorder.use_of(name, states[name])
        found.append({"name": name, "side": watch.bank.side, "lamp_hours": lit_s / 3600, "strikes": strikes})
    return {"banks": found}


def replacement_level(loop: ControlLoop, percent: float) -> dict[str, Any]:
    """Keep the share of their seasoned light below which lamps are to be changed. Raises BadRequestError."""
    allowed = bounds_of(LampSettings, "replace_at_percent")
    if not allowed.allow(percent):
        low, high = allowed.low or 0.0, allowed.high or 100.0
        told = say("field_out_of_bounds", field="percent", given=f"{percent:g}", low=low, high=high)
        raise BadRequestError("bad_value", told, field="percent")
    refuse_if_unwritable(loop.writer)
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
        raise BadRequestError("not_found", say("no_such_bank", bank=bank, known=list(loop.banks)), field="bank")
    if loop.exposure.running or any(watch.bank.commanded for watch in loop.banks.values()):
        raise BadRequestError("refused", say("tubes_not_during_exposure"), remedy=say("finish_panel_first"))
    places, whole = _places(asked)
    if not asked.lamp_type:
        raise BadRequestError("bad_value", say("lamp_type_empty"), field="lamp_type")
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
        raise BadRequestError("bad_value", say("places_or_count"), field="positions")
    places = list(range(1, int(count) + 1)) if 0 < count <= MOST_TUBES else [int(n) for n in named]
    odd = any(n != int(n) for n in [*named, count])
    if odd or not places or len(set(places)) != len(places) or not all(1 <= n <= MOST_TUBES for n in places):
        field = "positions" if named else "tubes"
        raise BadRequestError("bad_value", say("places_once", most=MOST_TUBES), field=field)
    return places, not named
