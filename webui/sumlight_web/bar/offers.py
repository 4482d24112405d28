"""What can be lit next: the recipes, the one used last first, each with the label of its next panel and the usual time.

Runs on any thread; reads the shelf and the logbook, which it opens for each look. Looks again when the box has changed.
"""

import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Self

from sumlight.protocol.snapshot import OF_LIGHT, ONLY_TOLD
from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.labels import label_of
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe
from sumlight_web.bar.films import Films, films_of
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

LOOK_AGAIN_S = 2.0
"""How long a look at shelf and logbook is good for while the box stays as it is."""

WAIT_S = 0.5
"""How long somebody waits for a look that another has begun; a slow disk must not hold up the news of the light."""

_PANELS = """
    SELECT recipe_name, count(*) AS panels, max(exposure_id) AS newest_id
    FROM exposures WHERE kind = 'panel' GROUP BY recipe_name
"""
_LAST_DONE = """
    SELECT recipe_name, side, lit_s, target_mj_cm2, transmission, max(exposure_id) AS newest_id
    FROM sides JOIN exposures USING (exposure_id)
    WHERE kind = 'panel' AND state = 'done' AND lit_s > 0 AND target_mj_cm2 > 0 GROUP BY recipe_name, side
"""
_CARDS = """
    SELECT json_extract(numbers, '$.recipe') AS recipe_name, label FROM job_panels JOIN jobs USING (job_id)
    WHERE job_panels.ended_utc IS NULL AND label NOT IN (SELECT label FROM panels) ORDER BY job_panel_id DESC
"""
"""Panels with a card that nothing was exposed for yet; the next one last."""

Unjudged = tuple[tuple[int, str], ...]
"""Number and label of panels that wait for an answer."""


@dataclass(frozen=True)
class NotMended:
    """A fault of which nothing has shown yet that it is over; `of_light` if it is one of the lamps."""

    fault_id: int
    name: str
    raised_utc: str
    of_light: bool


@dataclass(frozen=True)
class _Recorded:
    """What a logbook knows: panels by recipe, the last time of each of its sides, the highest number on its labels, the
    label of its next card; drafts that nobody has judged, faults that nothing has shown to be over, stencils."""

    panels: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    done: Mapping[tuple[str, str], dict[str, Any]] = field(default_factory=dict)
    highest: Mapping[str, int] = field(default_factory=dict)
    cards: Mapping[str, str] = field(default_factory=dict)
    unjudged: Unjudged = ()
    not_mended: tuple[NotMended, ...] = ()
    films: Films = field(default_factory=Films)


@dataclass(frozen=True)
class Offer:
    """A recipe that can be lit: `panel` the label its next panel gets, `about_s` the time its sides took last."""

    stored: StoredRecipe
    panel: str
    about_s: Mapping[str, float]
    newest_id: int = 0

    @property
    def name(self) -> str:
        """The name of the recipe."""
        return self.stored.name

    @property
    def side(self) -> str:
        """What a start lights: "A", or "A+B"."""
        return self.stored.recipe.first_lit()

    def key(self) -> tuple[object, ...]:
        """All that a page shows of it."""
        return (self.name, self.stored.sha256, self.panel, tuple(self.about_s.items()))


@dataclass(frozen=True)
class Offers:
    """Every usable recipe, the one used last first; how many are `broken`; why the folder cannot be read, if it cannot.

    `look` counts the looks that found something new. `unjudged` are the panels of drafts, newest first, that wait for
    the answer to "Was it good?": number of the exposure and label. `not_mended` are faults to be remembered. `films`
    are the stencils that panels are lit through.
    """

    known: tuple[Offer, ...] = ()
    broken: int = 0
    trouble: str = ""
    look: int = 0
    chosen: str = ""
    used: str = ""
    unjudged: Unjudged = ()
    not_mended: tuple[NotMended, ...] = ()
    films: Films = field(default_factory=Films)

    def after(self, name: str) -> Self:
        """The same after a panel of that recipe, which the logbook may not know of yet."""
        return replace(self, used=name) if self.of(name) is not None else self

    def choose(self, name: str) -> Self:
        """The same with that recipe chosen by a person; as they are if there is none of that name."""
        return replace(self, chosen=name) if self.of(name) is not None else self

    def of(self, name: str) -> Offer | None:
        """The offer of that recipe."""
        return next((offer for offer in self.known if offer.name == name), None)

    def next(self) -> Offer | None:
        """What is lit next: the recipe that was chosen, else the one used last, else the only one there is."""
        if self.chosen or self.used:
            return self.of(self.chosen or self.used)
        first = self.known[0] if self.known else None
        return first if first is not None and (first.newest_id or len(self.known) == 1) else None

    def key(self) -> tuple[object, ...]:
        """All that a page shows of them."""
        offers = tuple(offer.key() for offer in self.known)
        told = (self.unjudged, self.not_mended, self.films.key(None))
        return (offers, self.broken, self.trouble, self.chosen, self.used, *told)


class OfferKeeper:
    """The present offers, worked out anew when the box has changed."""

    def __init__(self, shelf: RecipeStore, logbook_path: Path) -> None:
        self._shelf = shelf
        self._logbook_path = logbook_path
        self._lock = threading.Lock()
        self._state: object = None
        self._looked_s = 0.0
        self._offers = Offers()

    def now(self, state: object, *, anew: bool = False) -> Offers:
        """The offers; `state` names the state of the box, and another one than last time asks for a new look.

        `anew` asks for one in any case: the request before this one may have changed the shelf.
        """
        if self._lock.acquire(timeout=WAIT_S):
            try:
                now_s = time.monotonic()
                if anew or state != self._state or now_s - self._looked_s > LOOK_AGAIN_S:
                    self._state, self._looked_s = state, now_s
                    found = self._look()
                    if found.key() != self._offers.key():
                        self._offers = replace(found, look=self._offers.look + 1)
            finally:
                self._lock.release()
        return self._offers

    def _look(self) -> Offers:
        try:
            shelf = self._shelf.list()
        except RecipeStoreError as error:
            return Offers(trouble=sentence(text_of(error.message)))
        usable = [entry for entry in shelf if isinstance(entry, StoredRecipe)]
        book = self._recorded()
        offers = []
        for stored in usable:
            row = book.panels.get(stored.name, {"panels": 0, "newest_id": 0})
            done = {side: row for (name, side), row in book.done.items() if name == stored.name}
            times = {side: _usual_s(stored.recipe, last) for side, last in done.items()}
            if stored.recipe.draft_lit_s is not None:
                times = dict.fromkeys(stored.recipe.side_names(), stored.recipe.draft_lit_s)
            label = label_of(stored.name, row["panels"], book.highest.get(stored.name, 0))
            offers.append(Offer(stored, book.cards.get(stored.name, label), times, row["newest_id"]))
        offers.sort(key=lambda offer: (-offer.newest_id, offer.name))
        broken, asked, mended = len(shelf) - len(usable), book.unjudged, book.not_mended
        return Offers(tuple(offers), broken, unjudged=asked, not_mended=mended, films=book.films)

    def _recorded(self) -> _Recorded:
        """What the logbook knows; nothing while it cannot be read."""
        if not self._logbook_path.exists():
            return _Recorded()
        try:
            with LogbookReader.open_reader(self._logbook_path) as logbook:
                panels, done, cards = (logbook.page(sql) for sql in (_PANELS, _LAST_DONE, _CARDS))
                highest, unjudged = logbook.labels.highest(), logbook.unjudged()
                faults = logbook.faults.not_mended(OF_LIGHT, ONLY_TOLD)
                films = films_of(logbook)
        except LogbookError:  # the Bench must come up all the same; the page Panels says what is wrong
            return _Recorded()
        return _Recorded(
            {row["recipe_name"]: row for row in panels},
            {(row["recipe_name"], row["side"]): row for row in done},
            highest,
            {row["recipe_name"]: row["label"] for row in cards},
            tuple((row["exposure_id"], row["panel"]) for row in unjudged),
            tuple(NotMended(f["fault_id"], f["name"], f["raised_utc"], f["name"] in OF_LIGHT) for f in faults),
            films,
        )


def _usual_s(recipe: Recipe, last: dict[str, Any]) -> float:
    """The time the side took last, for the dose and stack as they are now: light and stack alike, time goes as dose."""
    if recipe.dose_mj_cm2 is None:
        return float(last["lit_s"])
    then = last["target_mj_cm2"] / last["transmission"]
    return float(last["lit_s"] * recipe.dose_mj_cm2 / recipe.transmission_of(last["side"]) / then)
