"""The commands about the scale that recipes' doses were found on, and what control answers to them. Pure."""

from typing import Final, Literal

from pydantic import with_config
from typing_extensions import TypedDict

from sumlight.protocol.command import TERMINAL, Command
from sumlight.protocol.fields import Dose, LongText, RecipeName, Text
from sumlight.protocol.snapshot import STRICT
from sumlight.text.message import Message


class RecipeScales(Command):
    """Ask on which scale the dose of each recipe was found, and what it is called now; of one recipe if named."""

    recipe: RecipeName = ""


class KeepDose(Command):
    """Keep that the dose of a recipe, as its file says it now, is meant on the scale of now.

    `before_mj_cm2` is what it said before it was taken over; left out where the dose stays.
    """

    recipe: RecipeName
    recipe_sha256: LongText
    before_mj_cm2: Dose | None = None
    who: Text = TERMINAL


COMMANDS: Final[dict[str, type[Command]]] = {"recipe_scales": RecipeScales, "keep_dose": KeepDose}


@with_config(STRICT)
class FoundWith(TypedDict):
    """What a dose rests on: the newest exposure, or a person's word (`taken`), and the calibration it had.

    `calibrated_utc` is when that was made; None for a number of box.yaml, and where the record of it is gone.
    """

    kind: Literal["panel", "draft", "teach", "strip", "taken"]
    exposure_id: int
    utc: str
    origin: str
    relative: bool
    calibrated_utc: str | None


@with_config(STRICT)
class RecipeScale(TypedDict):
    """The scale of a recipe's dose; `found` is None where this box never lit it.

    `moved` tells that the scale is another one now and the recipe is not lit before a person has taken it over.
    `same_light_mj_cm2` is its dose on the scale of now; None where it has not moved, or no single number is known.
    `relative` tells that doses count in box units now.
    """

    name: str
    sha256: str
    dose_mj_cm2: float
    relative: bool
    found: FoundWith | None
    moved: bool
    same_light_mj_cm2: float | None
    sentence: Message


@with_config(STRICT)
class Scales(TypedDict):
    """Every usable recipe that has a dose."""

    recipes: list[RecipeScale]


ANSWERS: Final[dict[str, type]] = {"recipe_scales": Scales, "keep_dose": RecipeScale}
"""The type of each answer by the name of its command."""
