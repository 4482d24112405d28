"""One resist-and-job recipe: what a panel needs, in the trade's units. A plain file, edited by hand."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sumlight import checkedfile
from sumlight.craft.checks import one_of
from sumlight.craft.chemistry import hazards
from sumlight.craft.developing import EARLIEST, LATEST
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.craft.etching.times import FASTEST_UM_MIN, SLOWEST_UM_MIN
from sumlight.text.message import Message, as_written, say

Sides = Literal["one", "turned", "together"]
"""`one` face; both faces, the panel `turned` by hand in between; both faces `together` under two banks."""

SIDE_NAMES: dict[str, tuple[str, ...]] = {"one": ("A",), "turned": ("A", "B"), "together": ("A", "B")}

Transmission = Annotated[float, Field(gt=0, le=1)]
EtchRate = Annotated[float, Field(ge=SLOWEST_UM_MIN, le=FASTEST_UM_MIN)]


class StackTransmission(checkedfile.Checked):
    """Share of the light that passes what lies between lamp and resist, per side: 0 < T ≤ 1."""

    a: Transmission
    b: Transmission | None = None


class Interruptions(checkedfile.Checked):
    """How often, and for how long each time, this resist forgives darkness within an exposure.

    Beyond either the panel is marked doubtful. There is no common figure: it is the user's own experience.
    """

    forgiven: Annotated[int, Field(ge=0, le=100)]
    longest_gap_s: Annotated[float, Field(ge=0, le=86_400)]


class Recipe(checkedfile.Checked):
    """A recipe. Nothing about any resist is built in: every value comes from the file.

    `dose_mj_cm2` is the radiant exposure at the resist, behind the stack. A draft has a time instead, `draft_lit_s`:
    seconds with lamps on, warm-up included; side B then gets the dose that side A got. With `dose_unknown` there is
    neither yet, and only series such as a test strip are lit. `time_guard_s` bounds the time with light per side; it
    guards against a dead lamp or a blocked sensor and never ends a normal exposure.
    `hold_s` is the shortest rest before developing, `hold_limit_s` the longest. `tolerance` is how far off the dose
    may be (share, k = 2) before a calibration check is asked for. `found_at_mw_cm2` is the irradiance at the resist
    that the dose was found at. With a `reciprocity_p` other than 1 the dose counts as what it is worth there.
    `break_point_share` is the share of the dwell in the developer after which the panel is clear.
    `etch_rates_um_min` is what a fresh bath eats on each side, by metal and then by kind of bath.
    """

    resist: Annotated[str, Field(min_length=1, max_length=80)]
    thickness_um: Annotated[float, Field(gt=0, le=1000)] | None = None
    sides: Sides
    dose_mj_cm2: Annotated[float, Field(ge=1, le=5000)] | None = None
    draft_lit_s: Annotated[float, Field(ge=1, le=3600)] | None = None
    dose_unknown: bool | None = None
    transmission: StackTransmission
    time_guard_s: Annotated[float, Field(ge=1, le=36_000)]
    hold_s: Annotated[float, Field(ge=0, le=86_400)]
    hold_limit_s: Annotated[float, Field(gt=0, le=604_800)] | None = None
    interruptions: Interruptions
    tolerance: Annotated[float, Field(ge=0.02, le=1)] = 0.1
    found_at_mw_cm2: Annotated[float, Field(gt=0, le=1000)] | None = None
    reciprocity_p: Annotated[float, Field(ge=0.3, le=3)] = 1.0
    break_point_share: Annotated[float, Field(ge=EARLIEST, le=LATEST)] | None = None
    etch_rates_um_min: dict[str, dict[str, EtchRate]] | None = None
    note: Annotated[str, Field(max_length=2000)] = ""

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        found = [*self._ending(), *self._etching()]
        if self.sides != "one" and self.transmission.b is None:
            found.append((("transmission", "b"), say("recipe_b_missing")))
        if self.hold_limit_s is not None and self.hold_limit_s <= self.hold_s:
            found.append((("hold_limit_s",), say("recipe_hold_limit", hold_s=self.hold_s)))
        if self.reciprocity_p != 1 and self.found_at_mw_cm2 is None:
            found.append((("found_at_mw_cm2",), say("recipe_found_at_missing")))
        if found:
            raise checkedfile.MistakesError(found)
        return self

    def _ending(self) -> list[tuple[checkedfile.Location, Message]]:
        """What is wrong with the one thing that ends the light: a dose, a time, or neither known yet."""
        given = (self.dose_mj_cm2 is not None) + (self.draft_lit_s is not None) + bool(self.dose_unknown)
        if given == 0:
            return [(("dose_mj_cm2",), say("recipe_dose_missing"))]
        if given > 1:
            key = "dose_unknown" if self.dose_unknown else "draft_lit_s"
            return [((key,), say("recipe_two_endings"))]
        if self.draft_lit_s is not None and self.time_guard_s <= self.draft_lit_s:
            return [(("time_guard_s",), say("recipe_guard_too_short", draft_lit_s=self.draft_lit_s))]
        return []

    def _etching(self) -> list[tuple[checkedfile.Location, Message]]:
        """What is wrong with the metals and baths of the etching rates."""
        found: list[tuple[checkedfile.Location, Message]] = []
        for metal, baths in (self.etch_rates_um_min or {}).items():
            for bath in baths:
                try:
                    one_of("metal", metal, hazards.METALS)
                    one_of("bath", bath, ETCHANTS)
                    hazards.refuse_metal(metal, bath)
                except ValueError as error:
                    found.append((("etch_rates_um_min", metal, bath), as_written(error.args[0])))
        return found

    def rates_of(self, metal: str) -> dict[str, float]:
        """What a fresh bath eats of a metal on each side, in µm a minute, by kind of bath; empty: nothing is known."""
        return dict((self.etch_rates_um_min or {}).get(metal, {}))

    @property
    def is_draft(self) -> bool:
        """Whether a time ends its light, until somebody has found its panel good."""
        return self.draft_lit_s is not None

    def side_names(self) -> tuple[str, ...]:
        """The faces to expose, in order."""
        return SIDE_NAMES[self.sides]

    def first_lit(self) -> str:
        """What a start lights: "A", or "A+B" if both sides are lit at once."""
        return "A+B" if self.sides == "together" else "A"

    def transmission_of(self, side: str) -> float:
        """Stack transmission for side A or B."""
        value = self.transmission.a if side == "A" else self.transmission.b
        return self.transmission.a if value is None else value
