"""A straight line by the median of pairwise slopes, which a few stray points do not move."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.stats.quantiles import normal_quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class MedianLine:
    """``y = intercept + slope * x``, with the interval of the slope."""

    slope: float
    intercept: float
    slope_low: float
    slope_high: float


def theil_sen(x: FloatArray, y: FloatArray, level: float) -> MedianLine:
    """Fit a line to points (x, y), shape (n,), by the median of the slopes between all pairs that differ in x.

    Theil (1950) Proc. K. Ned. Akad. Wet. 53; interval by the ranks that Kendall's tau gives, ties in x allowed for,
    and intercept the median of y - slope * x: Sen PK (1968) J. Am. Stat. Assoc. 63:1379-1389, equations 2.6 to 3.9
    (from memory). Raises ValueError with fewer than two different x.
    """
    from_x, from_y = x[None, :] - x[:, None], y[None, :] - y[:, None]
    upper = np.triu(np.ones(from_x.shape, dtype=bool), 1) & (from_x != 0)
    if not upper.any():
        raise ValueError("a line needs x that varies")
    slopes = np.sort(from_y[upper] / from_x[upper])
    slope = float(np.median(slopes))
    size = x.size
    _, ties = np.unique(x, return_counts=True)
    variance = (size * (size - 1) * (2 * size + 5) - float(np.sum(ties * (ties - 1) * (2 * ties + 5)))) / 18
    reach = normal_quantile(level) * math.sqrt(variance)
    low = min(max(round((slopes.size - reach) / 2) - 1, 0), slopes.size - 1)
    high = min(max(round((slopes.size + reach) / 2), 0), slopes.size - 1)
    return MedianLine(
        slope=slope,
        intercept=float(np.median(y - slope * x)),
        slope_low=float(slopes[low]),
        slope_high=float(slopes[high]),
    )
