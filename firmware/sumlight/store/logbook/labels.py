"""Labels that panels are given: the name of the recipe and a running number."""

import re
from collections.abc import Iterable

from sumlight.store.logbook.session import Session

NUMBERED = re.compile(r"(?P<recipe>.+) · (?P<number>\d{1,9})\Z", re.ASCII)

_ALIKE = (
    "SELECT label FROM panels WHERE label GLOB ?1 || ' · [0-9]*'"
    " UNION SELECT label FROM job_panels WHERE label GLOB ?1 || ' · [0-9]*'"
)


def label_of(recipe: str, panels: int, highest: int, taken: Iterable[str] = ()) -> str:
    """The label of the next panel of a recipe that lit so many panels, whose `highest` number stands on one already.

    A number is left out where its label is `taken`.
    """
    number, known = max(panels, highest) + 1, set(taken)
    while (label := f"{recipe} · {number}") in known:
        number += 1
    return label


class Labels:
    """The labels in a logbook, on panels that were exposed and on cards."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def highest(self, recipe: str = "*") -> dict[str, int]:
        """The highest number on a label of each recipe, or of one."""
        found: dict[str, int] = {}
        with self._session.reading("reading the labels of panels"):
            for row in self._session.all(_ALIKE, recipe):
                match = NUMBERED.match(row["label"])
                if match:
                    found[match["recipe"]] = max(found.get(match["recipe"], 0), int(match["number"]))
        return found

    def next(self, recipe: str, wanted: int, taken: Iterable[str]) -> list[str]:
        """So many labels for the next panels of a recipe, none of those `taken`."""
        with self._session.reading(f"counting the panels of recipe '{recipe}'"):
            panels = self._session.value(
                "SELECT count(*) FROM exposures WHERE kind = 'panel' AND recipe_name = ?", recipe
            )
        highest, used = self.highest(recipe).get(recipe, 0), list(taken)
        found: list[str] = []
        for _ in range(wanted):
            found.append(label_of(recipe, int(panels), highest, [*used, *found]))
        return found
