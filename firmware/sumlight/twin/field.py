"""The true field of a bank over the glass: straight tubes side by side, with mirrors at the sides.

Each tube is a thin line that shines as a Lambertian surface does (the closed form is that of Keitz, reference values
§6). Side walls are mirrors of some reflectance, seen once. Lengths in mm; x runs across the tubes, y along them, and
0, 0 is the middle of the glass.
"""

import math
from dataclasses import dataclass
from random import Random

TUBE_SCATTER = 0.03
"""Tubes of one bank differ by about so much (common practice, no source)."""


@dataclass(frozen=True)
class Geometry:
    """How a bank is built; the ordinary values are those of an invented bench box.

    `height_mm` is from the tubes' axes to the glass, `side_gap_mm` from the outermost axes to the side walls.
    """

    tubes: int = 6
    length_mm: float = 410.0
    pitch_mm: float = 50.0
    height_mm: float = 80.0
    side_gap_mm: float = 40.0
    side_reflectance: float = 0.6


def tube_irradiance(power: float, length: float, across: float, along: float, height: float) -> float:
    """Irradiance on a plane `height` from a tube's axis, `across` and `along` from below its middle.

    Any unit of length; the answer is in that of `power` per square of it.
    """
    from_axis = math.hypot(across, height)
    begin, end = -length / 2 - along, length / 2 - along

    def integral(at: float) -> float:
        return at / (2 * from_axis**2 * (from_axis**2 + at**2)) + math.atan(at / from_axis) / (2 * from_axis**3)

    return power / length / math.pi**2 * from_axis * height * (integral(end) - integral(begin))


class Field:
    """Irradiance over the glass, 1 in the middle. With `rng` the tubes differ a little from each other.

    `left` is what the tubes that are in give in the middle over what all of them do.
    """

    def __init__(self, geometry: Geometry, rng: Random | None = None) -> None:
        self.geometry = geometry
        self._strengths = [
            1.0 if rng is None else max(0.5, rng.gauss(1.0, TUBE_SCATTER)) for _ in range(geometry.tubes)
        ]
        self._out: set[int] = set()
        self._all = self._middle = self._sum(0.0, 0.0)

    @property
    def left(self) -> float:
        """1 with all tubes in."""
        return self._middle / self._all

    def move(self, place: int, *, out: bool) -> None:
        """Take a tube out, counted from 1 at the side where x is negative, or put it in."""
        (self._out.add if out else self._out.discard)(place)
        self._middle = self._sum(0.0, 0.0)

    def fill(self) -> None:
        """Put all tubes in."""
        for place in tuple(self._out):
            self.move(place, out=False)

    def relative(self, x_mm: float, y_mm: float, accepts_deg: float = 90.0) -> float:
        """Irradiance at a place over that in the middle; 0 while no tube is in.

        For a sensor that takes light only up to `accepts_deg` from upright, across the tubes.
        """
        return self._sum(x_mm, y_mm, accepts_deg) / self._middle if self._middle else 0.0

    def _sum(self, x_mm: float, y_mm: float, accepts_deg: float = 90.0) -> float:
        built = self.geometry
        total = 0.0
        outermost = (built.tubes - 1) / 2 * built.pitch_mm
        wall_mm = outermost + built.side_gap_mm
        for number, strength in enumerate(self._strengths):
            if number + 1 in self._out:
                continue
            axis_mm = number * built.pitch_mm - outermost
            images = ((axis_mm, 1.0), (2 * wall_mm - axis_mm, built.side_reflectance))
            for at_mm, share in (*images, (-2 * wall_mm - axis_mm, built.side_reflectance)):
                if abs(x_mm - at_mm) > built.height_mm * math.tan(math.radians(accepts_deg)):
                    continue
                total += strength * share * tube_irradiance(1.0, built.length_mm, x_mm - at_mm, y_mm, built.height_mm)
        return total
