"""Fold lines: grooves half-etched on the inside of a bend, along which a part folds.

The groove is open on one side alone while the sheet is etched through from both, so it becomes R = k·T/2 deep
(`times.half_etch`). Bent by θ, both halves turn by θ/2 about the middle of its floor; their edges at the surface stand
R above it and meet when half the groove's width is R·tan(θ/2). So the width at the surface has to be 2·R·tan(θ/2):
geometry of two rigid halves, in which the walls, being hollow, keep clear until their edges meet. That the metal bends
in the middle of the floor is common practice, no source. The bath widens each edge by u = R/F (`compensation`), so the
line is drawn narrower by 2·u. For a right angle and k 1 the width is the thickness, as such lines are commonly drawn
(common practice, no source). Lengths in µm unless their names say mm.
"""

import math
from dataclasses import dataclass

from sumlight.craft.checks import between, one_of
from sumlight.craft.etching.compensation import OVER_ETCH, SMALLEST_PRINTED_UM, growth
from sumlight.craft.etching.limits import MOST_BIAS_UM
from sumlight.text.message import say

TOWARDS = ("front", "back")
"""The side towards which it folds, where the groove lies."""
RIGHT_ANGLE_DEG = 90.0
ANGLES_DEG = (5.0, 150.0)
"""Beyond that the groove would be many times as wide as the metal is thick: two lines side by side fold it flat."""
LONGEST_MM, SHORTEST_MM = 2000.0, 0.1
MOST_FOLDS = 50


@dataclass(frozen=True)
class Fold:
    """A line on the wanted part, in mm from its top left corner as seen from the front, and by how much it is bent."""

    towards: str
    x_mm: float
    y_mm: float
    to_x_mm: float
    to_y_mm: float
    angle_deg: float = RIGHT_ANGLE_DEG

    def __post_init__(self) -> None:
        """Raise ValueError for an unknown side, a place or an angle that cannot be, and a line without length."""
        one_of("towards", self.towards, TOWARDS)
        for name in ("x_mm", "y_mm", "to_x_mm", "to_y_mm"):
            between(name, getattr(self, name), 0, LONGEST_MM)
        between("angle_deg", self.angle_deg, *ANGLES_DEG, say("hint_fold_flat"))
        if self.length_mm < SHORTEST_MM:
            raise ValueError(say("fold_no_length", x=self.x_mm, y=self.y_mm, least=SHORTEST_MM))

    @property
    def length_mm(self) -> float:
        """From end to end."""
        return math.hypot(self.to_x_mm - self.x_mm, self.to_y_mm - self.y_mm)


@dataclass(frozen=True)
class Groove:
    """How wide a fold line is drawn, how wide and deep its groove becomes, and the metal left below it."""

    drawn_um: float
    width_um: float
    depth_um: float
    left_um: float


def groove(
    thickness_um: float,
    factor: float,
    angle_deg: float = RIGHT_ANGLE_DEG,
    *,
    over_etch: float = OVER_ETCH,
    bias_um: float = 0.0,
    smallest_printed_um: float = SMALLEST_PRINTED_UM,
) -> Groove:
    """Work out the groove of a fold in a sheet that is etched through from both sides.

    Where it would be drawn too narrow to print it is drawn as narrow as prints, and becomes wider than it has to be.
    Raises ValueError as `growth` does, for an angle outside 5 to 150°, and where the groove would go through;
    MeaningNeededError for a factor outside 0.8 to 6.
    """
    grown = growth(thickness_um, factor, over_etch=over_etch)
    between("angle_deg", angle_deg, *ANGLES_DEG, say("hint_fold_flat"))
    between("bias_um", bias_um, -MOST_BIAS_UM, MOST_BIAS_UM)
    if grown.reach_um >= thickness_um:
        raise ValueError(say("fold_through", thickness=thickness_um, reach=grown.reach_um, k=over_etch))
    needed = 2 * grown.reach_um * math.tan(math.radians(angle_deg) / 2)
    widened = 2 * (grown.surface_um + bias_um)
    drawn = max(needed - widened, smallest_printed_um)
    return Groove(drawn, drawn + widened, grown.reach_um, thickness_um - grown.reach_um)
