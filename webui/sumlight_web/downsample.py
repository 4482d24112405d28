"""Fewer points for the same picture: per stretch of a curve its lowest and highest point are kept. Pure."""

from collections.abc import Callable, Sequence
from typing import TypeVar

Point = TypeVar("Point")


def downsampled(points: Sequence[Point], limit: int, height: Callable[[Point], float]) -> list[Point]:
    """At most `limit` (≥ 4) of `points`, in order; first and last are kept, and so is every peak and every dip."""
    if len(points) <= limit:
        return list(points)
    stretches = (limit - 2) // 2
    inner = len(points) - 2
    kept = [0]
    for stretch in range(stretches):
        begin = 1 + stretch * inner // stretches
        end = 1 + (stretch + 1) * inner // stretches
        heights = [height(points[index]) for index in range(begin, end)]
        low, high = begin + heights.index(min(heights)), begin + heights.index(max(heights))
        kept += sorted({low, high})
    kept.append(len(points) - 1)
    return [points[index] for index in kept]
