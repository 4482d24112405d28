"""The light of the exposure at hand over time, small and in pieces: what a page draws while it lasts. Pure."""

from bisect import bisect_right

POINT_S = 0.2
POINTS = 3000

Point = tuple[float, str, float, float]
"""Control's time in s, the side, net irradiance at the resist in mW/cm², its dose so far in mJ/cm²."""


class Curve:
    """Points of each side, at most one in `POINT_S`; above `POINTS` in all every second one goes, and half come after.

    Sides are kept apart: two that are lit together take turns, and every second point of both would be those of one.
    """

    def __init__(self) -> None:
        self._sides: dict[str, list[Point]] = {}
        self._apart_s = POINT_S

    def add(self, now_s: float, side: str, net_mw_cm2: float, dose_mj_cm2: float) -> None:
        """Keep a reading, unless one was kept a moment ago."""
        points = self._sides.setdefault(side, [])
        if points and now_s - points[-1][0] < self._apart_s:
            return
        points.append((now_s, side, net_mw_cm2, dose_mj_cm2))
        if len(self) > POINTS:
            self._apart_s *= 2
            for every in self._sides.values():
                del every[1:-1:2]

    def since(self, since_s: float, most: int) -> list[Point]:
        """The first `most` points after `since_s` in the order of time, and those of the same moment as the last."""
        newer: list[Point] = []
        for points in self._sides.values():
            begin = bisect_right(points, since_s, key=_at_s)
            newer += points[begin : begin + most]
        newer.sort()
        end = min(most, len(newer))
        while 0 < end < len(newer) and newer[end][0] == newer[end - 1][0]:
            end += 1
        return newer[:end]

    def clear(self) -> None:
        """A new panel."""
        self._sides.clear()
        self._apart_s = POINT_S

    def __len__(self) -> int:
        return sum(map(len, self._sides.values()))


def _at_s(point: Point) -> float:
    return point[0]
