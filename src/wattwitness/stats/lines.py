"""A straight line through points that err in both coordinates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats

MOST_STEPS = 200
TOLERANCE = 1e-13


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ErrorsInVariablesLine:
    """``y = intercept + slope * x`` with standard errors from the stated uncertainties (not scaled by the scatter).

    ``adjusted_x`` (n,) are the fitted abscissae; ``chi_square`` is the weighted sum of squares, to be held against
    n - 2. ``converged`` says whether the slope settled.
    """

    slope: float
    intercept: float
    slope_se: float
    intercept_se: float
    chi_square: float
    adjusted_x: FloatArray
    converged: bool

    def __post_init__(self) -> None:
        """Copy and freeze the array."""
        object.__setattr__(self, "adjusted_x", frozen_floats(self.adjusted_x))


def errors_in_variables_line(x: FloatArray, y: FloatArray, x_se: FloatArray, y_se: FloatArray) -> ErrorsInVariablesLine:
    """Fit a line to points with standard uncertainties in both coordinates, uncorrelated.

    All have shape (n,), n >= 3, uncertainties positive. York, Evensen, Lopez Martinez & De Basabe Delgado (2004)
    Am. J. Phys. 72:367-375, equations 13a-d, from the slope of ordinary least squares. With one ratio of the two
    uncertainties throughout this is the regression of Deming. Raises ValueError where x does not vary.
    """
    if not np.ptp(x) > 0:
        raise ValueError("a line needs x that varies")
    weight_x, weight_y = x_se**-2.0, y_se**-2.0
    slope, converged = float(np.sum((x - x.mean()) * (y - y.mean())) / np.sum((x - x.mean()) ** 2)), False
    for _ in range(MOST_STEPS):
        weight = weight_x * weight_y / (weight_x + slope**2 * weight_y)
        centre_x, centre_y = np.average(x, weights=weight), np.average(y, weights=weight)
        from_x, from_y = x - centre_x, y - centre_y
        beta = weight * (from_x / weight_y + slope * from_y / weight_x)
        previous, slope = slope, float(np.sum(weight * beta * from_y) / np.sum(weight * beta * from_x))
        if abs(slope - previous) <= TOLERANCE * max(abs(slope), 1.0):
            converged = True
            break
    intercept = float(centre_y - slope * centre_x)
    adjusted = centre_x + beta
    mean_adjusted = np.average(adjusted, weights=weight)
    slope_variance = 1 / np.sum(weight * (adjusted - mean_adjusted) ** 2)
    return ErrorsInVariablesLine(
        slope=slope,
        intercept=intercept,
        slope_se=float(np.sqrt(slope_variance)),
        intercept_se=float(np.sqrt(1 / weight.sum() + mean_adjusted**2 * slope_variance)),
        chi_square=float(np.sum(weight * (y - intercept - slope * x) ** 2)),
        adjusted_x=adjusted,
        converged=converged,
    )
