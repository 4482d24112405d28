"""A straight line through points, with what it is worth. Source of the formulas: JCGM 100:2008 H.3."""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """y = intercept + slope (x - reference_x) with standard uncertainties, their correlation and the residual scatter.

    `dof` is the number of points less two; `residual` the standard deviation of the points about the line.
    """

    intercept: float
    slope: float
    intercept_sigma: float
    slope_sigma: float
    correlation: float
    residual: float
    dof: int
    reference_x: float

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line at x and its standard uncertainty.

        `x` is in the unit of those that the line was fitted to.
        """
        dx = x - self.reference_x
        variance = self.intercept_sigma**2 + (dx * self.slope_sigma) ** 2
        variance += 2 * dx * self.correlation * self.intercept_sigma * self.slope_sigma
        return self.intercept + self.slope * dx, math.sqrt(max(0.0, variance))


def fit_line(
    x: Sequence[float], y: Sequence[float], *, sigmas: Sequence[float] | None = None, reference_x: float = 0.0
) -> Line:
    """Least squares. Without `sigmas` the scatter is taken from the residuals (three points at least); with them each
    point is weighted by 1/sigma² and the uncertainties follow from them (two points at least).

    Raises ValueError for too few points, unequal lengths, sigmas not above 0 or all x alike.
    `x` and `y` are in any units; `reference_x` is in that of x.
    """
    fewest = 3 if sigmas is None else 2
    if len(x) != len(y) or len(x) < fewest:
        raise ValueError(f"a line needs at least {fewest} points with x and y each, not {len(x)} and {len(y)}")
    if sigmas is not None and (len(sigmas) != len(x) or min(sigmas) <= 0):
        raise ValueError("sigmas must be above 0, one for each point")
    weights = [1.0] * len(x) if sigmas is None else [s**-2 for s in sigmas]
    total = math.fsum(weights)
    mean_x = math.fsum(w * a for w, a in zip(weights, x, strict=True)) / total
    mean_y = math.fsum(w * b for w, b in zip(weights, y, strict=True)) / total
    spread = math.fsum(w * (a - mean_x) ** 2 for w, a in zip(weights, x, strict=True))
    if spread <= 0:
        raise ValueError("all x are alike; a line needs at least two different ones")
    slope = math.fsum(w * (a - mean_x) * (b - mean_y) for w, a, b in zip(weights, x, y, strict=True)) / spread
    chi2 = math.fsum(w * (b - mean_y - slope * (a - mean_x)) ** 2 for w, a, b in zip(weights, x, y, strict=True))
    dof = len(x) - 2
    unit = chi2 / dof if sigmas is None else 1.0
    at = reference_x - mean_x
    intercept_sigma = math.sqrt(unit * (1 / total + at * at / spread))
    slope_sigma = math.sqrt(unit / spread)
    correlation = at * unit / spread / (intercept_sigma * slope_sigma) if unit > 0 else 0.0
    residual = math.sqrt(chi2 / dof * len(x) / total) if dof else 0.0
    return Line(mean_y + slope * at, slope, intercept_sigma, slope_sigma, correlation, residual, dof, reference_x)
