"""The commands about what was seen: on a panel and why it failed, or at the lamps after a fault. Pure."""

from typing import Annotated, Final

from annotated_types import Ge, Le, MaxLen
from pydantic import AfterValidator, Field, Strict

from sumlight.craft.causes.facts import BOUNDS, Contact
from sumlight.craft.causes.signs import CAUSES, SIGNS, Place
from sumlight.craft.tablet import STEPS
from sumlight.protocol.command import TERMINAL, Command
from sumlight.protocol.fields import Flag, Identity, LongText, Text, Word
from sumlight.text.message import say


def _signs(names: tuple[str, ...]) -> tuple[str, ...]:
    if not SIGNS.keys() >= set(names):
        raise ValueError("not on the list")
    return tuple(name for name in SIGNS if name in names)


def _cause(name: str) -> str:
    if name not in CAUSES:
        raise ValueError("not on the list")
    return name


Signs = Annotated[
    tuple[Word, ...],
    MaxLen(len(SIGNS)),
    AfterValidator(_signs),
    Field(description=say("names_of_signs", signs=list(SIGNS))),
]
Cause = Annotated[Word, AfterValidator(_cause), Field(description=say("name_of_cause", causes=list(CAUSES)))]
Step = Annotated[float, Strict(), Ge(0), Le(STEPS)]
Seconds = Annotated[float, Strict(), Ge(1), Le(86_400)]
Rest = Annotated[float, Strict(), Ge(0), Le(2_592_000)]


class Findings(Command):
    """Put signs on a recorded exposure, with what is known beside them, in place of what was there."""

    exposure_id: Identity
    signs: Signs = ()
    place: Place | None = None
    same_place: Flag | None = None
    held_step: Step | None = None
    wanted_step: Step | None = None
    contact: Contact | None = None
    faces_off_um: Annotated[float, Strict(), Ge(BOUNDS["faces_off_um"][0]), Le(BOUNDS["faces_off_um"][1])] | None = None
    roll_months: Annotated[float, Strict(), Ge(BOUNDS["roll_months"][0]), Le(BOUNDS["roll_months"][1])] | None = None
    rested_s: Rest | None = None
    clear_s: Seconds | None = None
    fresh_clear_s: Seconds | None = None
    developed_s: Seconds | None = None
    developer_used: (
        Annotated[float, Strict(), Ge(BOUNDS["developer_used"][0]), Le(BOUNDS["developer_used"][1])] | None
    ) = None
    developer_warmer_c: (
        Annotated[float, Strict(), Ge(BOUNDS["developer_off_c"][0]), Le(BOUNDS["developer_off_c"][1])] | None
    ) = None
    etched_s: Seconds | None = None
    expected_etch_s: Seconds | None = None
    etchant_used: Annotated[float, Strict(), Ge(BOUNDS["etchant_used"][0]), Le(BOUNDS["etchant_used"][1])] | None = None
    etchant_warmer_c: (
        Annotated[float, Strict(), Ge(BOUNDS["etchant_off_c"][0]), Le(BOUNDS["etchant_off_c"][1])] | None
    ) = None
    who: Text = TERMINAL


class ConfirmCause(Command):
    """Keep that this was the cause of a failure, or take that back."""

    exposure_id: Identity
    cause: Cause
    confirmed: Flag = True
    who: Text = TERMINAL


class LookedAt(Command):
    """Keep that somebody has looked at the lamps after a fault of light that was cleared, and what they found."""

    fault_id: Identity
    word: LongText
    who: Text = TERMINAL


NOT_KNOWN: Final = frozenset({"exposure_id", "signs", "who"})
"""Fields of `Findings` that are no part of what is known beside the signs."""

COMMANDS: Final[dict[str, type[Command]]] = {
    "findings": Findings,
    "confirm_cause": ConfirmCause,
    "looked_at": LookedAt,
}
