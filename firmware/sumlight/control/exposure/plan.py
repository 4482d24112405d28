"""A recipe made concrete for this box: which bank gives which side how much."""

from dataclasses import dataclass

from sumlight.box.description import BoxDescription
from sumlight.light.reciprocity import effective_mw_cm2
from sumlight.store.recipe import Recipe
from sumlight.text.message import Message, say


class PlanError(ValueError):
    """This recipe cannot be run on this box; `field` of the recipe, what is wrong, and what to do."""

    def __init__(self, field: str, message: Message, remedy: Message) -> None:
        self.field, self.message, self.remedy = field, message, remedy
        super().__init__(f"{field}: {message} {remedy}")


@dataclass(frozen=True)
class SidePlan:
    """One side: lit by `bank` until `target_mj_cm2` at the resist, behind a stack of `transmission`.

    `guard_s` is the longest time with light, `lead_s` the light that follows switching off, as learned so far. A leg
    of a series may be lit for a set time instead: then `target_mj_cm2` is None and `lit_for_s` says how long. `before`
    tells what the person does before this leg. So is a side of a draft, unless it `follows` another one: then it gets
    the dose that the other got, and `lit_for_s` only says about how long. With a `reciprocity_p` other than 1 doses are
    effective ones: each irradiance counts for what it is worth at `found_at_mw_cm2`.
    """

    side: str
    bank: str
    target_mj_cm2: float | None
    transmission: float
    guard_s: float
    lead_s: float
    lit_for_s: float | None = None
    before: Message | None = None
    found_at_mw_cm2: float | None = None
    reciprocity_p: float = 1.0
    follows: str | None = None

    def effective_mw_cm2(self, mw_cm2: float) -> float:
        """What an irradiance at the resist counts for; itself unless the recipe departs from reciprocity."""
        if self.reciprocity_p == 1.0 or self.found_at_mw_cm2 is None:
            return mw_cm2
        return effective_mw_cm2(mw_cm2, self.found_at_mw_cm2, self.reciprocity_p)


@dataclass(frozen=True)
class Plan:
    """A whole exposure. `sides_mode` is the recipe's `sides`; together means that all sides are lit at once.

    `kind` is panel for ordinary work, else what a series of legs is for; the lid is opened between legs. `tolerance`
    is the relative error (k = 2) that the recipe allows its dose. `who` gave the word to light. `parameters` is what a
    series was run for beside its legs, as JSON text for its record.
    """

    panel: str
    note: str
    recipe_name: str
    recipe_text: str
    recipe_sha256: str
    resist: str
    sides_mode: str
    sides: tuple[SidePlan, ...]
    forgiven: int
    longest_gap_s: float
    hold_s: float
    hold_limit_s: float | None
    kind: str = "panel"
    tolerance: float = 0.1
    who: str = ""
    parameters: str | None = None

    def first_lit(self) -> str:
        """What is lit first: "A", "A+B", or the number of a leg."""
        return "+".join(side.side for side in (self.sides if self.sides_mode == "together" else self.sides[:1]))


def make_plan(
    recipe: Recipe,
    *,
    name: str,
    text: str,
    sha256: str,
    panel: str,
    note: str,
    box: BoxDescription,
    leads_s: dict[str, float],
    who: str = "",
) -> Plan:
    """Fit a recipe to the box; `leads_s` holds what each bank's lead was learned to be.

    Of a recipe that has neither dose nor time nothing ends the sides: it is good for series only, which set their own.
    Raises PlanError if the box has not the banks it asks for, or the time of a draft does not suit it.
    """
    if recipe.sides == "together" and len(box.banks) < 2:
        raise PlanError(
            "sides",
            say("together_needs_two_banks"),
            say("turn_or_add_bank"),
        )
    _refuse_draft_time(recipe, box)
    sides = []
    for number, side in enumerate(recipe.side_names()):
        bank = (box.bank_for(side) if recipe.sides == "together" else None) or box.bank_for("A") or box.banks[0]
        sides.append(
            SidePlan(
                side=side,
                bank=bank.name,
                target_mj_cm2=recipe.dose_mj_cm2,
                lit_for_s=recipe.draft_lit_s,
                follows="A" if recipe.is_draft and number else None,
                transmission=recipe.transmission_of(side),
                guard_s=min(recipe.time_guard_s, box.limits.lit_limit_s),
                lead_s=leads_s.get(bank.name, bank.release_s),
                found_at_mw_cm2=recipe.found_at_mw_cm2,
                reciprocity_p=recipe.reciprocity_p,
            )
        )
    return Plan(
        panel=panel,
        note=note,
        recipe_name=name,
        recipe_text=text,
        recipe_sha256=sha256,
        resist=recipe.resist,
        sides_mode=recipe.sides,
        sides=tuple(sides),
        forgiven=recipe.interruptions.forgiven,
        longest_gap_s=recipe.interruptions.longest_gap_s,
        hold_s=recipe.hold_s,
        hold_limit_s=recipe.hold_limit_s,
        tolerance=recipe.tolerance,
        who=who,
    )


def refuse_without_end(plan: Plan) -> None:
    """Check that something ends the light of every side. Raises PlanError."""
    if any(side.target_mj_cm2 is None and side.lit_for_s is None for side in plan.sides):
        raise PlanError("recipe", say("recipe_without_dose"), say("strip_or_give_one"))


def _refuse_draft_time(recipe: Recipe, box: BoxDescription) -> None:
    """A time that this box would end in a fault, or in which it could not see that a lamp stays dark."""
    lit_s, limits = recipe.draft_lit_s, box.limits
    if lit_s is None:
        return
    if lit_s >= limits.lit_limit_s:
        told = say("draft_too_long", limit_s=limits.lit_limit_s, lit_s=lit_s)
        raise PlanError("draft_lit_s", told, say("shorten_or_raise_limit"))
    if lit_s <= limits.strike_limit_s:
        told = say("draft_too_short", limit_s=limits.strike_limit_s, lit_s=lit_s)
        raise PlanError("draft_lit_s", told, say("longer_or_dose"))
