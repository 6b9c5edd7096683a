"""A straight line by ordinary least squares, with the covariance that predictions from it need."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StraightLine:
    """``y = intercept + slope * x`` with standard uncertainties from the scatter around it.

    ``residual_sd`` and the uncertainties have ``degrees`` = n - 2 degrees of freedom. ``correlation`` is that of the
    two coefficients; ``r_squared`` the part of the variance of y that the line takes up.
    """

    intercept: float
    slope: float
    intercept_se: float
    slope_se: float
    correlation: float
    residual_sd: float
    degrees: int
    r_squared: float

    def at(self, x: float) -> tuple[float, float]:
        """The line at ``x`` with the standard uncertainty of that point (JCGM 100:2008, equation H.15)."""
        covariance = self.correlation * self.intercept_se * self.slope_se
        variance = self.intercept_se**2 + (x * self.slope_se) ** 2 + 2 * x * covariance
        return self.intercept + self.slope * x, math.sqrt(max(variance, 0.0))


def straight_line(x: FloatArray, y: FloatArray) -> StraightLine:
    """Fit a line to points (x, y), shape (n,), n >= 3, errors in y alone and all alike.

    JCGM 100:2008, equations H.13a to H.13f, computed from the mean of x. Raises ValueError with fewer points, or where
    x does not vary.
    """
    if x.size < 3 or not np.ptp(x) > 0:
        raise ValueError("a line needs three points and x that varies")
    centre_x, centre_y = float(x.mean()), float(y.mean())
    from_x, from_y = x - centre_x, y - centre_y
    spread = float(from_x @ from_x)
    slope = float(from_x @ from_y) / spread
    residuals = from_y - slope * from_x
    degrees = x.size - 2
    residual_sd = math.sqrt(float(residuals @ residuals) / degrees)
    mean_square = spread / x.size + centre_x**2
    total = float(from_y @ from_y)
    return StraightLine(
        intercept=centre_y - slope * centre_x,
        slope=slope,
        intercept_se=residual_sd * math.sqrt(mean_square / spread),
        slope_se=residual_sd / math.sqrt(spread),
        correlation=-centre_x / math.sqrt(mean_square),
        residual_sd=residual_sd,
        degrees=degrees,
        r_squared=1 - float(residuals @ residuals) / total if total > 0 else math.nan,
    )
