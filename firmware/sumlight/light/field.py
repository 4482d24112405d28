"""The field: irradiance over the work plane, from readings on a grid.

The sensor is carried from place to place while the lamps change a little, so the walk begins and ends in the middle
and comes back to it now and then. Those repeats show the drift; every reading is divided by it. Lengths in mm.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from sumlight.text.message import say

SAME_PLACE_MM = 0.5
LATTICE = 25
"""Points per direction for areas and means between the readings."""


@dataclass(frozen=True)
class FieldReading:
    """One steady reading in any unit proportional to light; `at_s` is when, on one monotonic clock."""

    x_mm: float
    y_mm: float
    value: float
    at_s: float


@dataclass(frozen=True)
class Uniformity:
    """Usual figures of a field; 0.9 for min/max is the same field as 0.053 for (max-min)/(max+min)."""

    min_over_max: float
    min_over_mean: float
    contrast: float

    @property
    def steps(self) -> float:
        """max over min in tablet steps of 0.15 density."""
        return -math.log10(self.min_over_max) / 0.15


@dataclass(frozen=True)
class PlaceFactor:
    """Irradiance at the panel over that at the sensor, with its standard uncertainty.

    `standard` is for the mean over the panel, `spread` the standard deviation over the panel's area.
    """

    factor: float
    standard: float
    spread: float


@dataclass(frozen=True)
class UsableArea:
    """Largest rectangle within the tolerance: its edges in mm, area in cm² and share of the mapped area."""

    x_mm: tuple[float, float]
    y_mm: tuple[float, float]
    area_cm2: float
    share: float


@dataclass(frozen=True)
class FieldMap:
    """A full grid of irradiances over that in the middle; rows follow `y_mm`, columns `x_mm`, both rising.

    `repeat` is the relative standard deviation of one reading about the drift, `drift` the largest change of the
    middle during the walk.
    """

    x_mm: tuple[float, ...]
    y_mm: tuple[float, ...]
    values: tuple[tuple[float, ...], ...]
    repeat: float
    drift: float

    def at(self, x_mm: float, y_mm: float) -> float:
        """Bilinear between the readings. Raises ValueError outside of them."""
        i, u = _cell(self.x_mm, x_mm, "x_mm")
        j, v = _cell(self.y_mm, y_mm, "y_mm")
        low = self.values[j][i] * (1 - u) + self.values[j][i + 1] * u
        high = self.values[j + 1][i] * (1 - u) + self.values[j + 1][i + 1] * u
        return low * (1 - v) + high * v

    def lattice(self, columns: int = LATTICE, rows: int = LATTICE) -> list[list[float]]:
        """The map at evenly spaced places from edge to edge, for a heat map."""
        xs = _spaced(self.x_mm[0], self.x_mm[-1], columns)
        return [[self.at(x, y) for x in xs] for y in _spaced(self.y_mm[0], self.y_mm[-1], rows)]

    def uniformity(self) -> Uniformity:
        """Figures over all places read."""
        return uniformity([value for row in self.values for value in row])


def map_from(readings: Sequence[FieldReading]) -> FieldMap:
    """Correct the drift and lay out the grid.

    The place read more than once is the middle to which the rest is related; its first and last readings should
    begin and end the walk. Raises ValueError if no place was repeated, a reading is not above 0, or the grid of at
    least 2 by 2 has holes.
    """
    if any(not reading.value > 0 for reading in readings):
        raise ValueError(say("field_readings_above_zero"))
    ordered = sorted(readings, key=lambda reading: reading.at_s)
    places: dict[tuple[float, float], list[FieldReading]] = {}
    for reading in ordered:
        place = next((p for p in places if _near(p, reading)), (reading.x_mm, reading.y_mm))
        places.setdefault(place, []).append(reading)
    middle = max(places.values(), key=len, default=[])
    if len(middle) < 2:
        raise ValueError(say("middle_read_twice"))
    corrected = {place: fmean(r.value / _drift_at(middle, r.at_s) for r in seen) for place, seen in places.items()}
    xs = _levels([place[0] for place in places])
    ys = _levels([place[1] for place in places])
    if len(xs) < 2 or len(ys) < 2:
        raise ValueError(say("grid_too_small"))
    rows = tuple(tuple(_value_at(corrected, x, y) for x in xs) for y in ys)
    values = [reading.value for reading in middle]
    return FieldMap(tuple(xs), tuple(ys), rows, _repeat(middle), (max(values) - min(values)) / fmean(values))


def uniformity(values: Sequence[float]) -> Uniformity:
    """Figures of some irradiances. Raises ValueError unless all are above 0.

    `values` are in one unit, mW/cm² or counts.
    """
    if not values or min(values) <= 0:
        raise ValueError(say("irradiances_above_zero"))
    low, high = min(values), max(values)
    return Uniformity(low / high, low / fmean(values), (high - low) / (high + low))


def place_factor(
    field: FieldMap, sensor_mm: tuple[float, float], panel_mm: tuple[float, float, float, float]
) -> PlaceFactor:
    """Compare the panel (x from, x to, y from, y to, in mm) with the sensor's place. Raises ValueError.

    The uncertainty holds the repeatability of both readings and what lies between grid points: a quarter of the largest
    step between neighbouring points under the panel, taken as the half-width of a rectangular distribution.
    """
    x0, x1, y0, y1 = panel_mm
    if not (x0 < x1 and y0 < y1):
        raise ValueError(say("panels_edges_rise", x0=x0, x1=x1, y0=y0, y1=y1))
    points = [[field.at(x, y) for x in _spaced(x0, x1, LATTICE)] for y in _spaced(y0, y1, LATTICE)]
    flat = [value for row in points for value in row]
    mean = fmean(flat)
    spread = math.sqrt(fmean((value - mean) ** 2 for value in flat))
    sensor = field.at(*sensor_mm)
    between = 0.25 * _largest_step(field, panel_mm) / mean / math.sqrt(3)
    relative = math.hypot(field.repeat * math.sqrt(2), between)
    return PlaceFactor(mean / sensor, mean / sensor * relative, spread / sensor)


def usable_area(field: FieldMap, tolerance: float, points: int = LATTICE) -> UsableArea:
    """Find the largest rectangle in which the irradiance keeps within ± tolerance of its mid level.

    Judged by (max-min)/(max+min). Raises ValueError for a tolerance outside 0 to 1.
    """
    if not 0 < tolerance < 1:
        raise ValueError(f"tolerance must lie between 0 and 1, not {tolerance}")
    grid = field.lattice(points, points)
    xs = _spaced(field.x_mm[0], field.x_mm[-1], points)
    ys = _spaced(field.y_mm[0], field.y_mm[-1], points)
    best, found = 0.0, (0, 0, 0, 0)
    for left in range(points):
        lows, highs = [math.inf] * points, [-math.inf] * points
        for right in range(left, points):
            lows = [min(low, row[right]) for low, row in zip(lows, grid, strict=True)]
            highs = [max(high, row[right]) for high, row in zip(highs, grid, strict=True)]
            bottom, top = _longest_run(lows, highs, tolerance)
            area = (xs[right] - xs[left]) * (ys[top] - ys[bottom])
            if area > best:
                best, found = area, (left, right, bottom, top)
    left, right, bottom, top = found
    whole = (xs[-1] - xs[0]) * (ys[-1] - ys[0])
    return UsableArea((xs[left], xs[right]), (ys[bottom], ys[top]), best / 100, best / whole)


def _longest_run(lows: list[float], highs: list[float], tolerance: float) -> tuple[int, int]:
    """First and last row of the longest run of rows within the tolerance."""
    best = (0, 0)
    for first in range(len(lows)):
        low, high = math.inf, -math.inf
        for last in range(first, len(lows)):
            low, high = min(low, lows[last]), max(high, highs[last])
            if high - low > tolerance * (high + low):
                break
            if last - first > best[1] - best[0]:
                best = (first, last)
    return best


def _near(place: tuple[float, float], reading: FieldReading) -> bool:
    return math.hypot(place[0] - reading.x_mm, place[1] - reading.y_mm) <= SAME_PLACE_MM


def _drift_at(middle: list[FieldReading], at_s: float) -> float:
    """The middle's reading at that moment, straight between its repeats and level beyond them."""
    times = [reading.at_s for reading in middle]
    if at_s <= times[0]:
        return middle[0].value
    if at_s >= times[-1]:
        return middle[-1].value
    i = bisect_right(times, at_s) - 1
    share = (at_s - times[i]) / (times[i + 1] - times[i])
    return middle[i].value * (1 - share) + middle[i + 1].value * share


def _repeat(middle: list[FieldReading]) -> float:
    """Scatter of one reading: inner repeats of the middle against the line between their neighbours.

    With only two repeats their whole difference, over sqrt 2, has to do: noise and drift cannot be told apart.
    """
    if len(middle) == 2:
        return abs(middle[1].value - middle[0].value) / math.sqrt(2) / fmean(r.value for r in middle)
    squares = []
    for before, now, after in zip(middle, middle[1:], middle[2:], strict=False):
        share = (now.at_s - before.at_s) / (after.at_s - before.at_s)
        line = before.value * (1 - share) + after.value * share
        squares.append((now.value / line - 1) ** 2 / (1 + share**2 + (1 - share) ** 2))
    return math.sqrt(fmean(squares))


def _levels(values: list[float]) -> list[float]:
    levels: list[float] = []
    for value in sorted(values):
        if not levels or value - levels[-1] > SAME_PLACE_MM:
            levels.append(value)
    return levels


def _value_at(corrected: dict[tuple[float, float], float], x: float, y: float) -> float:
    for (px, py), value in corrected.items():
        if abs(px - x) <= SAME_PLACE_MM and abs(py - y) <= SAME_PLACE_MM:
            return value
    raise ValueError(say("grid_has_hole", x_mm=x, y_mm=y))


def _cell(levels: tuple[float, ...], at: float, name: str) -> tuple[int, float]:
    if not levels[0] - 1e-9 <= at <= levels[-1] + 1e-9:
        raise ValueError(say("sum_not_between", field=name, low=levels[0], high=levels[-1], value=at))
    i = min(max(bisect_right(levels, at) - 1, 0), len(levels) - 2)
    return i, (at - levels[i]) / (levels[i + 1] - levels[i])


def _spaced(low: float, high: float, count: int) -> list[float]:
    return [low + (high - low) * i / (count - 1) for i in range(count)]


def _largest_step(field: FieldMap, panel_mm: tuple[float, float, float, float]) -> float:
    """Largest difference between neighbouring grid points under the panel or next to it."""
    x0, x1, y0, y1 = panel_mm
    columns = range(_cell(field.x_mm, x0, "x_mm")[0], _cell(field.x_mm, x1, "x_mm")[0] + 2)
    rows = range(_cell(field.y_mm, y0, "y_mm")[0], _cell(field.y_mm, y1, "y_mm")[0] + 2)
    across = [abs(field.values[j][i + 1] - field.values[j][i]) for j in rows for i in columns[:-1]]
    along = [abs(field.values[j + 1][i] - field.values[j][i]) for j in rows[:-1] for i in columns]
    return max(across + along)
