"""Drafts on record: whether a panel waits for "Was it good?", and what each answer offers."""

from dataclasses import dataclass
from typing import Any

from sumlight.checkedfile import FileProblemsError
from sumlight.craft.tablet import STEP_DENSITY
from sumlight.store.recipes import RecipeStoreError, StoredRecipe, UnknownRecipeError
from sumlight_web import words
from sumlight_web.language import N_
from sumlight_web.light.strip import USUAL
from sumlight_web.services import services
from sumlight_web.words import by_time

VERDICTS = {
    "good": N_("Good"),
    "too_little": N_("Too little light"),
    "too_much": N_("Too much light"),
    "unknown": N_("I don't know"),
}
STEP = 10.0**STEP_DENSITY
"""One step of a 21-step tablet: density 0.15, so the light grows by 1.41, nearly the square root of 2."""


def asks(row: dict[str, Any]) -> bool:
    """Whether this record asks: a draft that was lit to its end."""
    return by_time(row) and row["outcome"] == "completed"


def draft_of(row: dict[str, Any]) -> StoredRecipe | None:
    """The draft on the shelf if it is still the very one that this panel was lit with."""
    stored = _on_shelf(row["recipe_name"])
    same = stored is not None and stored.recipe.is_draft and stored.sha256 == row["recipe_sha256"]
    return stored if same else None


def _on_shelf(name: str) -> StoredRecipe | None:
    try:
        return services().shelf.load(name)
    except (UnknownRecipeError, FileProblemsError, RecipeStoreError):
        return None


def stepped_s(draft: StoredRecipe, verdict: str) -> float | None:
    """The time of the draft one tablet step further, in whole seconds; None where the answer asks for none."""
    factor = {"too_little": STEP, "too_much": 1 / STEP}.get(verdict)
    lit_s = draft.recipe.draft_lit_s
    return None if factor is None or lit_s is None else float(round(lit_s * factor))


STRIP_SPAN = float(USUAL["factor"]) ** (int(USUAL["zones"]) - 1)
"""From the first to the last zone of the strip that *Light* proposes."""


@dataclass(frozen=True)
class Question:
    """What the record shows. `answer` as given so far; `draft` only while the shelf holds the very one of this panel.

    `recipe` is what the shelf holds under its name now. `step_s` is the time one tablet step further.
    """

    answer: str
    draft: StoredRecipe | None
    recipe: StoredRecipe | None
    lit_s: float
    dose: str
    unit: str
    step_s: float | None
    strip_mj_cm2: str

    @property
    def open(self) -> bool:
        """Whether an answer may still be given."""
        return self.answer in ("", "unknown")


def question(row: dict[str, Any], just: str) -> Question | None:
    """The question of a record; None where there is none. `just`: the answer that was sent a moment ago."""
    if not asks(row):
        return None
    answer = row["verdict"] or (just if just in VERDICTS else "")
    side, draft = row["sides"][0], draft_of(row)
    first = side["dose_mj_cm2"] / (STRIP_SPAN if answer == "too_much" else 1.0)
    return Question(
        answer,
        draft,
        _on_shelf(row["recipe_name"]),
        side["lit_s"],
        words.dose(side["dose_mj_cm2"]),
        words.dose_unit(side),
        None if draft is None else stepped_s(draft, answer),
        f"{max(first, 0.1):.1f}",
    )
