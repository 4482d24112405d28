"""Metal on the shelf: what it is, how thick, and how many pieces are left."""

from dataclasses import dataclass

from sumlight.craft.checks import between, one_of
from sumlight.craft.chemistry import hazards
from sumlight.craft.etching.factor import SHEET_UM
from sumlight.text.message import Message, say

MOST_PIECES = 10_000


@dataclass(frozen=True)
class Metal:
    """Pieces of a metal, `thickness_um` thick; of a board that of its foil. `pieces` None: nobody counts them.

    Raises ValueError for what cannot be.
    """

    metal: str
    thickness_um: float
    pieces: int | None = None
    remark: str = ""

    def __post_init__(self) -> None:
        one_of("metal", self.metal, hazards.METALS)
        between("thickness_um", self.thickness_um, *SHEET_UM)
        if self.pieces is not None:
            between("pieces", self.pieces, 0, MOST_PIECES)


def left(metal: Metal, used: int) -> int | None:
    """Pieces that are left after so many panels; None where nobody counts."""
    return None if metal.pieces is None else max(0, metal.pieces - used)


def sentences(metal: Metal, used: int) -> tuple[Message, ...]:
    """How many are left, where that is counted."""
    pieces = left(metal, used)
    if pieces is None:
        return ()
    return (say("pieces_left", pieces=pieces) if pieces else say("no_piece_left"),)
