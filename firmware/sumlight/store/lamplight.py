"""Under which light a box's doses are found, and why a recipe from another box need not give the same here."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sumlight.store.logbook.calibrations import BOX_UNITS
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.recipes import StoredRecipe
from sumlight.store.sharing import Origin
from sumlight.text.message import Message, say


@dataclass(frozen=True)
class LampLight:
    """Lamp types and wavelength classes of a box, and whether every bank is calibrated."""

    lamps: tuple[str, ...] = ()
    wavelengths: tuple[str, ...] = ()
    calibrated: bool = False


def lamplight_of(logbook: Path) -> LampLight:
    """By the logbook, whether the box runs or not; nothing is known without one. Raises LogbookError."""
    if not logbook.exists():
        return LampLight()
    with LogbookReader.open_reader(logbook) as book:
        kept, banks = book.calibrations.kept(), [bank["bank"] for bank in book.lamps.banks()]
        tubes = book.lamps.tubes(removed=False)
    sets = {bank: fitted.number for bank, fitted in kept.lamp_sets.items()}
    absolute = {(one.bank, one.lamp_set) for one in kept.calibrations if one.origin not in BOX_UNITS}
    types = {fitted.lamp_type for fitted in kept.lamp_sets.values()} | {tube["lamp_type"] for tube in tubes}
    return LampLight(
        tuple(sorted(types)),
        tuple(sorted({tube["wavelength_class"] for tube in tubes} - {""})),
        bool(banks) and all((bank, sets.get(bank, 0)) in absolute for bank in banks),
    )


def cautions(recipe: StoredRecipe, origin: Origin | None, here: LampLight) -> Iterator[Message]:
    """Why the recipe need not give here what it gave there; nothing for one without a dose."""
    strip = say("shared_strip_first")
    if recipe.recipe.is_draft:
        yield say("shared_by_time", strip=strip)
    elif recipe.recipe.dose_mj_cm2 is None:
        return
    elif origin is None:
        yield say("shared_without_origin", strip=strip)
    elif not (origin.calibrated and here.calibrated):
        if origin.lamps != list(here.lamps) or not here.lamps:
            there = ", ".join(origin.lamps) or "?"
            yield say("shared_other_lamps", there=there, here=", ".join(here.lamps) or "?")
        if origin.calibrated:
            yield say("shared_not_calibrated", where=say("shared_here"), strip=strip)
        elif here.calibrated:
            yield say("shared_not_calibrated", where=say("shared_there"), strip=strip)
        else:
            yield say("shared_not_calibrated", where=say("shared_there_or_here"), strip=strip)
    elif origin.wavelengths and here.wavelengths and origin.wavelengths != list(here.wavelengths):
        yield say("shared_other_wavelength", strip=strip)
