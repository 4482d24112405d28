"""Planning a bank of tubes: the field it will give, from length, count, spacing, height and walls.

A tube is taken as a thin line that shines as a Lambertian surface does. At distance rho from the axis and h below it,
a piece dy gives P/(pi² L) * rho h / (rho² + y²)² dy; the integral has a closed form (at mid-length, facing the tube, it
is that of Keitz, 2007 IOA congress, p. 1396). Walls are plain mirrors: every tube has one image behind each wall and in
each corner, weighted with the reflectance. Left out: shading of tubes by each other, the tube's thickness, further
reflections, the cosine fault of real walls. Expect 3 to 5 % at best, worse close to a tube. Lengths in mm.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sumlight.light.field import Uniformity, uniformity

PLACES = 9
"""Places per direction at which a plan is judged."""


@dataclass(frozen=True)
class TubeBank:
    """How a bank is built; x runs across the tubes, y along them, 0, 0 is the middle of the plane.

    `tubes` of lit length `length_mm` at `pitch_mm`, axes `height_mm` above the plane. Walls: `side_mm` and `end_mm` are
    the distances from the middle to the walls beside the tubes and at their ends, `back_mm` from the axes to the
    reflector behind them; None for no wall. `side_reflectance` and `back_reflectance` 0 to 1. Raises ValueError for
    sizes that cannot be.
    """

    tubes: int
    length_mm: float
    pitch_mm: float
    height_mm: float
    side_mm: float | None = None
    end_mm: float | None = None
    side_reflectance: float = 0.0
    back_mm: float | None = None
    back_reflectance: float = 0.0

    def __post_init__(self) -> None:
        if self.tubes < 1 or min(self.length_mm, self.pitch_mm, self.height_mm) <= 0:
            raise ValueError("a bank needs at least one tube, and length_mm, pitch_mm and height_mm above 0")
        if not (0 <= self.side_reflectance <= 1 and 0 <= self.back_reflectance <= 1):
            raise ValueError("reflectances must lie between 0 and 1")
        if self.side_mm is not None and self.side_mm <= (self.tubes - 1) / 2 * self.pitch_mm:
            raise ValueError(f"side_mm must reach beyond the outermost tube, not {self.side_mm:g}")
        if self.end_mm is not None and self.end_mm < self.length_mm / 2:
            raise ValueError(f"end_mm must be at least half of length_mm, not {self.end_mm:g}")
        if self.back_mm is not None and self.back_mm <= 0:
            raise ValueError(f"back_mm must be above 0, not {self.back_mm:g}")


def tube_places_mm(tubes: int, pitch_mm: float) -> list[float]:
    """Where the axes lie across the bank, from its middle."""
    return [(number - (tubes - 1) / 2) * pitch_mm for number in range(tubes)]


def tube_irradiance(power: float, length: float, across: float, along: float, height: float) -> float:
    """Irradiance on a plane `height` below a tube's axis, at `across` and `along` from below its middle.

    Any unit of length; the answer is `power` per square of that unit. Raises ValueError unless length and height
    are above 0. `length` is that of the tube.
    """
    if length <= 0 or height <= 0:
        raise ValueError(f"length and height must be above 0, not {length} and {height}")
    rho = math.hypot(across, height)
    end = _antiderivative(length / 2 - along, rho) - _antiderivative(-length / 2 - along, rho)
    return power / (math.pi**2 * length) * rho * height * end


def _antiderivative(y: float, rho: float) -> float:
    """Of 1/(rho² + y²)²."""
    return y / (2 * rho**2 * (rho**2 + y**2)) + math.atan(y / rho) / (2 * rho**3)


def irradiance(bank: TubeBank, x_mm: float, y_mm: float) -> float:
    """Irradiance at a place in mW/cm² for every watt of UV-A that one tube gives."""
    total = 0.0
    for place in tube_places_mm(bank.tubes, bank.pitch_mm):
        for across, side in _images(place, bank.side_mm, bank.side_reflectance):
            for along, end in _images(0.0, bank.end_mm, bank.side_reflectance):
                for height, back in _heights(bank):
                    share = side * end * back
                    total += share * tube_irradiance(1.0, bank.length_mm, x_mm - across, y_mm - along, height)
    return total * 1e5  # W/mm² into mW/cm²


def _images(at: float, wall: float | None, reflectance: float) -> list[tuple[float, float]]:
    """A source between two mirrors at ± wall, and its first images."""
    if wall is None or reflectance == 0:
        return [(at, 1.0)]
    return [(at, 1.0), (2 * wall - at, reflectance), (-2 * wall - at, reflectance)]


def _heights(bank: TubeBank) -> list[tuple[float, float]]:
    if bank.back_mm is None or bank.back_reflectance == 0:
        return [(bank.height_mm, 1.0)]
    return [(bank.height_mm, 1.0), (bank.height_mm + 2 * bank.back_mm, bank.back_reflectance)]


@dataclass(frozen=True)
class FieldPlan:
    """One way to build the bank, judged over the panel: mW/cm² per watt of one tube in the middle, and uniformity."""

    height_mm: float
    pitch_mm: float
    middle_mw_cm2_per_w: float
    uniformity: Uniformity


def judged(bank: TubeBank, width_mm: float, depth_mm: float, places: int = PLACES) -> FieldPlan:
    """Judge a bank over a panel of width (x) and depth (y), in mm, in the middle of the plane. Raises ValueError."""
    if width_mm <= 0 or depth_mm <= 0 or places < 2:
        raise ValueError("the panel's sizes must be above 0 and at least two places are needed")
    values = [
        irradiance(bank, width_mm * (i / (places - 1) - 0.5), depth_mm * (j / (places - 1) - 0.5))
        for i in range(places)
        for j in range(places)
    ]
    return FieldPlan(bank.height_mm, bank.pitch_mm, irradiance(bank, 0.0, 0.0), uniformity(values))


def planned(
    bank: TubeBank, width_mm: float, depth_mm: float, *, heights_mm: Sequence[float], pitches_mm: Sequence[float]
) -> list[FieldPlan]:
    """Judge several heights and pitches, the most uniform first; pitches that do not fit between the walls drop out."""
    plans = []
    for height in heights_mm:
        for pitch in pitches_mm:
            if bank.side_mm is not None and bank.side_mm <= (bank.tubes - 1) / 2 * pitch:
                continue
            plans.append(judged(replace(bank, height_mm=height, pitch_mm=pitch), width_mm, depth_mm))
    return sorted(plans, key=lambda plan: plan.uniformity.contrast)
