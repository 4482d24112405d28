"""Where tubes must stand for an even light: spacing, height, length.

Pure geometry of long, evenly bright tubes without reflectors, taken as lines that shine alike all round. The plate is
parallel to them at `height_mm`. Real boxes differ by reflectors and tube ends: measure the field before you trust it.
`python hardware/lampfield.py` prints the figures that README.md quotes.
"""

import math
import sys
from collections.abc import Callable


def ripple(height_mm: float, pitch_mm: float) -> float:
    """± share of the light's mean that the gaps between many tubes leave at the plate: sech(2πh/s).

    Exact for endless rows of endless tubes: their sum is sinh u / (cosh u - cos(2πx/s)) with u = 2πh/s.
    """
    return 1 / math.cosh(2 * math.pi * height_mm / pitch_mm)


def height_for_ripple_mm(pitch_mm: float, share: float) -> float:
    """Smallest height at which the ripple is at most ± `share`."""
    return pitch_mm * math.acosh(1 / share) / (2 * math.pi)


def across_share(x_mm: float, half_width_mm: float, height_mm: float) -> float:
    """Light at `x_mm` from the middle of a bank of so much half width, as a share of the middle's."""
    reach = math.atan((half_width_mm - x_mm) / height_mm) + math.atan((half_width_mm + x_mm) / height_mm)
    return reach / (2 * math.atan(half_width_mm / height_mm))


def along_share(y_mm: float, lit_length_mm: float, height_mm: float) -> float:
    """Light at `y_mm` from mid-length below a tube with so much lit length, as a share of the middle's."""

    def part(end_mm: float) -> float:
        return end_mm * height_mm / (height_mm**2 + end_mm**2) + math.atan(end_mm / height_mm)

    half_mm = lit_length_mm / 2
    return (part(half_mm - y_mm) + part(half_mm + y_mm)) / (2 * part(half_mm))


def useful_width_mm(half_width_mm: float, height_mm: float, share: float = 0.9) -> float:
    """Width of the plate across the bank over which the light stays above `share` of the middle's."""
    return 2 * _edge_mm(lambda x_mm: across_share(x_mm, half_width_mm, height_mm), half_width_mm, share)


def useful_length_mm(lit_length_mm: float, height_mm: float, share: float = 0.9) -> float:
    """Length of the plate along the tubes over which the light stays above `share` of the middle's."""
    return 2 * _edge_mm(lambda y_mm: along_share(y_mm, lit_length_mm, height_mm), lit_length_mm / 2, share)


def tube_places_mm(tubes: int, pitch_mm: float) -> list[float]:
    """Where the tubes' axes lie across the bank, from its middle."""
    return [(number - (tubes - 1) / 2) * pitch_mm for number in range(tubes)]


def farthest_tube_deg(tubes: int, pitch_mm: float, height_mm: float, sensor_x_mm: float) -> float:
    """Angle from upright at which a sensor that faces the bank sees the axis of its farthest tube."""
    return max(math.degrees(math.atan2(abs(x - sensor_x_mm), height_mm)) for x in tube_places_mm(tubes, pitch_mm))


def accepted_deg(seen_width_mm: float, collar_width_mm: float, collar_depth_mm: float) -> float:
    """Angle from upright up to which every point of the window has free sight past the collar."""
    return math.degrees(math.atan2((collar_width_mm - seen_width_mm) / 2, collar_depth_mm))


def tube_share(number: int, tubes: int, pitch_mm: float, height_mm: float, sensor_x_mm: float) -> float:
    """Share of a level sensor's light that comes from one long tube: each gives h/ρ²."""
    given = [1 / (height_mm**2 + (x - sensor_x_mm) ** 2) for x in tube_places_mm(tubes, pitch_mm)]
    return given[number] / sum(given)


def _edge_mm(share_at: Callable[[float], float], limit_mm: float, share: float) -> float:
    inside_mm, outside_mm = 0.0, limit_mm
    for _ in range(60):
        middle_mm = (inside_mm + outside_mm) / 2
        if share_at(middle_mm) >= share:
            inside_mm = middle_mm
        else:
            outside_mm = middle_mm
    return inside_mm


def _print_figures() -> None:
    for relative in (0.5, 0.75, 1.0, 1.5):
        sys.stdout.write(f"height {relative:g} x pitch: ripple ± {ripple(relative, 1):.2%}\n")
    for pitch_mm in (40, 50, 60):
        sys.stdout.write(f"pitch {pitch_mm} mm: ± 1 % from {height_for_ripple_mm(pitch_mm, 0.01):.0f} mm on\n")
    for height_mm in (60, 80, 100):
        width_mm, length_mm = useful_width_mm(150, height_mm), useful_length_mm(410, height_mm)
        sys.stdout.write(
            f"height {height_mm} mm: 90 % field of a 300 x 410 mm bank {width_mm:.0f} x {length_mm:.0f} mm\n"
        )


if __name__ == "__main__":
    _print_figures()
