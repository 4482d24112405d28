"""One resist-and-job recipe: what a panel needs, in the trade's units. A plain file, edited by hand."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sumlight import checkedfile

Sides = Literal["one", "turned", "together"]
"""`one` face; both faces, the panel `turned` by hand in between; both faces `together` under two banks."""

SIDE_NAMES: dict[str, tuple[str, ...]] = {"one": ("A",), "turned": ("A", "B"), "together": ("A", "B")}

Transmission = Annotated[float, Field(gt=0, le=1)]


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

    `dose_mj_cm2` is the radiant exposure at the resist, behind the stack. `time_guard_s` bounds the time
    with light per side; it guards against a dead lamp or a blocked sensor and never ends a normal exposure.
    `hold_s` is the shortest rest before developing, `hold_limit_s` the longest. `tolerance` is how far off the dose
    may be (share, k = 2) before a calibration check is asked for. `found_at_mw_cm2` is the irradiance at the resist
    that the dose was found at. With a `reciprocity_p` other than 1 the dose counts as what it is worth there.
    """

    resist: Annotated[str, Field(min_length=1, max_length=80)]
    thickness_um: Annotated[float, Field(gt=0, le=1000)]
    sides: Sides
    dose_mj_cm2: Annotated[float, Field(ge=1, le=5000)]
    transmission: StackTransmission
    time_guard_s: Annotated[float, Field(ge=1, le=36_000)]
    hold_s: Annotated[float, Field(ge=0, le=86_400)]
    hold_limit_s: Annotated[float, Field(gt=0, le=604_800)] | None = None
    interruptions: Interruptions
    tolerance: Annotated[float, Field(ge=0.02, le=1)] = 0.1
    found_at_mw_cm2: Annotated[float, Field(gt=0, le=1000)] | None = None
    reciprocity_p: Annotated[float, Field(ge=0.3, le=3)] = 1.0
    note: Annotated[str, Field(max_length=2000)] = ""

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        found: list[tuple[checkedfile.Location, str]] = []
        if self.sides != "one" and self.transmission.b is None:
            found.append((("transmission", "b"), "is missing: two sides are exposed, so B needs its value"))
        if self.hold_limit_s is not None and self.hold_limit_s <= self.hold_s:
            text = f"must be longer than hold_s ({self.hold_s:g} s) or be left out"
            found.append((("hold_limit_s",), text))
        if self.reciprocity_p != 1 and self.found_at_mw_cm2 is None:
            text = "is missing: reciprocity_p other than 1 needs the irradiance that the dose was found at"
            found.append((("found_at_mw_cm2",), text))
        if found:
            raise checkedfile.MistakesError(found)
        return self

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
