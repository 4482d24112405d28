"""Which stencil is to lie in the frame for a panel, and what speaks against it: what is read, and words for it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.stock import shelf
from sumlight.craft.stock.stencils import Stencil
from sumlight.protocol.snapshot import Snapshot
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.texts import text_of


@dataclass(frozen=True)
class Film:
    """A stencil by its number; when panels took it, and the numbers of the job of a panel that has a card."""

    number: int
    stencil: Stencil
    taken_utc: tuple[str, ...] = ()
    numbers: PanelNumbers | None = None


@dataclass(frozen=True)
class Films:
    """Stencils by the label of a panel that has a card, None for a job without one; and by recipe for all others."""

    of_card: Mapping[str, Film | None] = field(default_factory=dict)
    of_recipe: Mapping[str, Film] = field(default_factory=dict)

    def told(self, panel: str, recipe: str, side: str, snapshot: Snapshot | None) -> str:
        """What is to be seen to before that side of the panel is lit: A, B or A+B; nothing without a stencil."""
        film = self.of_card[panel] if panel in self.of_card else self.of_recipe.get(recipe)
        if film is None or snapshot is None:
            return ""
        now = datetime.fromisoformat(snapshot["utc"])
        found = shelf.before_light(side, film.number, film.stencil, film.numbers, now, film.taken_utc)
        return f"{panel}: {' '.join(text_of(each) for each in found)}"

    def key(self, snapshot: Snapshot | None) -> tuple[object, ...]:
        """All that a page shows of them: they are told with the days that have passed."""
        if not self.of_card and not self.of_recipe:
            return ()
        day = snapshot["utc"][:10] if snapshot is not None else ""
        return (tuple(self.of_card.items()), tuple(self.of_recipe.items()), day)


def films_of(logbook: LogbookReader) -> Films:
    """The stencils of all open cards and of recipes. Where none is on the shelf, nothing more is read."""
    stencils = {number: Film(number, stencil, taken) for number, stencil, taken in logbook.stock.stencils()}
    if not stencils:
        return Films()
    things = {number: film.stencil for number, film in stencils.items()}
    of_card: dict[str, Film | None] = {}
    for label, artwork, numbers in logbook.jobs.open_cards():
        number = shelf.taken("stencil", things, numbers, artwork)
        of_card[label] = None if number is None else Film(number, things[number], stencils[number].taken_utc, numbers)
    of_recipe = {film.stencil.recipe: film for film in stencils.values() if film.stencil.recipe}
    return Films(of_card, of_recipe)


def told_at_turn(films: Films, snapshot: Snapshot) -> str:
    """What is to be seen to before the next side of a panel that was turned; nothing at any other time."""
    exposure = snapshot["exposure"]
    if snapshot["state"] != "turn" or exposure is None or exposure["kind"] != "panel":
        return ""
    return films.told(exposure["panel"], exposure["recipe"], exposure["due"], snapshot)
