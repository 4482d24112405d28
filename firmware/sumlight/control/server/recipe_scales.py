"""On which scale each recipe's dose was found: told, refused before light, and taken over by a person."""

from collections.abc import Callable
from contextlib import closing
from typing import Any

from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.calibration.old_scale import Target, moved, one_dose, refuse_found_before
from sumlight.control.calibration.registry import ORIGINS
from sumlight.control.exposure.plan import Plan, PlanError, make_plan
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError, recipe_asked_for, refuse_if_unwritable
from sumlight.control.server.snapshot import iso
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.scale_commands import KeepDose, RecipeScales
from sumlight.store.logbook.calibrations import counted_alone
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.recipe_doses import FoundDose, TakenDose, alike
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe
from sumlight.text.message import Message, as_written, joined, say


class RecipeDoseScales:
    """The scales of all doses on the shelf. `lamp_hours` tells a bank's hours, `open_book` opens a reader."""

    def __init__(
        self,
        loop: ControlLoop,
        shelf: RecipeStore,
        lamp_hours: Callable[[str], float],
        open_book: Callable[[], Logbook],
    ) -> None:
        self._loop = loop
        self._shelf = shelf
        self._lamp_hours = lamp_hours
        self._open_book = open_book
        self._taken: dict[str, TakenDose] = {}
        """By recipe what was taken over in this run: it may not be on the disk yet."""

    def handle(self, asked: RecipeScales | KeepDose) -> dict[str, Any]:
        """Carry one out. Raises BadRequestError, RefusedError or LogbookError."""
        return self._told(asked) if isinstance(asked, RecipeScales) else self._keep(asked)

    def refuse(self, plan: Plan) -> None:
        """Raise RefusedError for a panel whose dose was found on another scale; LogbookError."""
        doses = {side.target_mj_cm2 for side in plan.sides if side.target_mj_cm2 is not None}
        if plan.kind != "panel" or not doses:
            return
        with closing(self._open_book()) as book:
            found = self._found(book, plan.recipe_name, doses.pop())
        refuse_found_before(plan, found, self._anchors(), self._loop.book.ln_corrected_since)

    def in_box_units(self, recipe: str) -> bool:
        """Whether a recipe's dose was found, or else would count, in the box's own units. Raises as `handle` does."""
        for scale in self._told(RecipeScales(recipe=recipe))["recipes"]:
            return bool((scale["found"] or scale)["relative"])
        return False

    def take(self, recipe: str, dose_mj_cm2: float, before_mj_cm2: float, who: str) -> None:
        """Keep that this dose of a recipe is meant on the scale of now."""
        anchors = {name: anchor.kept() for name, anchor in self._anchors().items()}
        taken = TakenDose(recipe, dose_mj_cm2, before_mj_cm2, anchors, who)
        utc = self._loop.clock.utc()
        self._taken[recipe] = taken
        self._loop.writer.add(
            f"the dose {dose_mj_cm2:g} of recipe '{recipe}' taken over by {who}",
            lambda book: book.recipe_doses.take(taken, utc),
        )

    # -- inside --------------------------------------------------------------------------------------------------------

    def _told(self, asked: RecipeScales) -> dict[str, Any]:
        if asked.recipe:
            shelf = [recipe_asked_for(self._shelf, asked.recipe, say("mend_recipe_first"))]
        else:
            try:
                shelf = [entry for entry in self._shelf.list() if isinstance(entry, StoredRecipe)]
            except RecipeStoreError as error:
                raise BadRequestError("refused", error.message) from error
        with closing(self._open_book()) as book:
            told = [
                self._scale(book, stored, stored.recipe.dose_mj_cm2) for stored in shelf if stored.recipe.dose_mj_cm2
            ]
        return {"recipes": told}

    def _keep(self, asked: KeepDose) -> dict[str, Any]:
        refuse_if_unwritable(self._loop.writer)
        stored = recipe_asked_for(self._shelf, asked.recipe, say("mend_recipe_first"))
        dose = stored.recipe.dose_mj_cm2
        if dose is None:
            raise BadRequestError("bad_value", say("recipe_has_no_dose", name=stored.name), field="recipe")
        if stored.sha256 != asked.recipe_sha256:
            raise RefusedError(say("recipe_changed_meanwhile", name=stored.name), say("load_again_then_press"))
        self.take(stored.name, dose, asked.before_mj_cm2 or dose, asked.who)
        with closing(self._open_book()) as book:
            return self._scale(book, stored, dose)

    def _scale(self, book: Logbook, stored: StoredRecipe, dose_mj_cm2: float) -> dict[str, Any]:
        anchors, found = self._anchors(), self._found(book, stored.name, dose_mj_cm2)
        targets = self._targets(stored)
        seen = moved(targets, found, anchors, self._loop.book.ln_corrected_since)
        used = [found[bank] for _, bank, _ in targets if bank in found]
        lit_by = [bank for _, bank, _ in targets] or list(anchors)  # a recipe that this box cannot light
        relative = any(anchors[bank].relative for bank in lit_by)
        same_light = one_dose(seen, len(used))
        if seen:
            split = say("sides_have_numbers_of_their_own") if same_light is None and len(seen) > 1 else None
            sentence = joined(*(each.told for each in seen), split)
        else:
            sentence = _scale_in_words(used[0] if used else None, relative=relative)
        return {
            "name": stored.name,
            "sha256": stored.sha256,
            "dose_mj_cm2": dose_mj_cm2,
            "relative": relative,
            "found": self._found_with(used[0], targets) if used else None,
            "moved": bool(seen),
            "same_light_mj_cm2": same_light,
            "sentence": sentence,
        }

    def _found(self, book: Logbook, recipe: str, dose_mj_cm2: float) -> dict[str, FoundDose]:
        if not self._loop.writer.lag_s:
            self._taken.pop(recipe, None)
        found = book.recipe_doses.found(recipe, dose_mj_cm2)
        taken = self._taken.get(recipe)
        if taken is None or not alike(taken.dose_mj_cm2, dose_mj_cm2):
            return found
        utc = iso(self._loop.clock.utc())
        return {bank: FoundDose("taken", 0, utc, dose_mj_cm2, anchor) for bank, anchor in taken.anchors.items()}

    def _found_with(self, found: FoundDose, targets: list[Target]) -> dict[str, Any]:
        anchor = found.anchor
        origin = str(anchor.get("origin", ""))
        bank = targets[0][1]
        return {
            "kind": found.kind,
            "exposure_id": found.exposure_id,
            "utc": found.found_utc,
            "origin": origin,
            "relative": counted_alone(anchor),
            "calibrated_utc": self._loop.book.made_utc(bank, anchor),
        }

    def _targets(self, stored: StoredRecipe) -> list[Target]:
        """The sides of a recipe on this box; none of one that this box cannot light."""
        try:
            plan = make_plan(
                stored.recipe,
                name=stored.name,
                text=stored.text,
                sha256=stored.sha256,
                panel="",
                note="",
                box=self._loop.box.description,
                leads_s={},
            )
        except PlanError:
            return []
        return [(side.side, side.bank, side.target_mj_cm2) for side in plan.sides if side.target_mj_cm2 is not None]

    def _anchors(self) -> dict[str, CalibrationFactor]:
        """What a count of each bank is worth now; under light the banks still have what held before it."""
        return {name: self._loop.book.k(name, self._lamp_hours(name)) for name in self._loop.banks}


def _scale_in_words(found: FoundDose | None, *, relative: bool) -> Message:
    """The scale of a dose that is lit as it stands."""
    if found is None:
        return say("dose_never_lit_box_units") if relative else say("dose_never_lit")
    origin = str(found.anchor.get("origin", ""))
    if counted_alone(found.anchor):
        return say("dose_in_box_units")
    return say("dose_by_calibration", origin=ORIGINS.get(origin, as_written(origin)))
