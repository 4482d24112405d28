"""What control answers about the shelf, as types. Pure. Times `…_utc` and days `…_on` are ISO 8601 text."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from pydantic import with_config
from typing_extensions import TypedDict

from sumlight.craft.stock.rolls import Storage
from sumlight.craft.stock.stencils import StencilStep
from sumlight.protocol.snapshot import STRICT
from sumlight.protocol.stock_commands import KindOfThing
from sumlight.text.message import Message


@with_config(STRICT)
class Thing(TypedDict):
    """A thing on the shelf in short; `uses` is how many panels took it, `sentences` how it stands."""

    stock_id: int
    kind: KindOfThing
    name: Message
    made: list[Message]
    sentences: list[Message]
    uses: int
    noted_utc: str
    noted_by: str
    ended_utc: str | None


@with_config(STRICT)
class Step(TypedDict):
    """A step of a stencil; `done_utc` null while it is to come."""

    step: StencilStep
    title: Message
    sentence: Message
    done_utc: str | None
    by: str


@with_config(STRICT)
class Measured(TypedDict):
    """What was measured of a stencil; null: not then."""

    utc: str
    density: float | None
    apart_um: float | None
    readable_a: bool | None
    readable_b: bool | None
    by: str


@with_config(STRICT)
class Roll(TypedDict):
    """What is known of a roll."""

    resist: str
    film_um: float | None
    opened_on: str | None
    expires_on: str | None
    storage: Storage | None
    tablet_utc: str | None


@with_config(STRICT)
class Stencil(TypedDict):
    """What is known of a stencil; `measured` the last one first. `recipe`: whose panels without a card count for it."""

    artwork: str
    sides: int
    spacer_um: float | None
    recipe: str
    steps: list[Step]
    measured: list[Measured]


@with_config(STRICT)
class WholeThing(Thing):
    """A thing with all that its kind has."""

    roll: Roll | None
    stencil: Stencil | None


@with_config(STRICT)
class Shelf(TypedDict):
    """What is on the shelf, and what left it last."""

    things: list[Thing]
    ended: list[Thing]


ANSWERS: Final[Mapping[str, type]] = MappingProxyType(
    {
        "stock": Shelf,
        **dict.fromkeys(
            (
                *("stock_thing", "roll_new", "metal_new", "stencil_new"),
                *("stencil_done", "stencil_measured", "stencil_recipe", "stock_end"),
            ),
            WholeThing,
        ),
    }
)
"""The type of each answer by the name of its command; `job_stock` answers with its job."""
