"""Quantiles of a mixture of Student distributions: what is known where several accounts of the noise are possible."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray

STEPS = 40
NEGLIGIBLE = 1e-5
"""Members with less than this part of the largest weight do not move a quantile that is shown."""


def mixture_quantiles(
    weight: FloatArray, centre: FloatArray, scale: FloatArray, degrees: float, shares: FloatArray
) -> FloatArray:
    """Return the quantiles at ``shares`` (q,), 0 to 1, of a mixture of scaled and shifted Student's t.

    ``weight`` (sums to one), ``centre`` and ``scale`` have shape (k,); ``degrees`` of freedom are common to all. By
    bisection between the outermost quantiles of the members.
    """
    from scipy.special import stdtr, stdtrit

    kept = weight > NEGLIGIBLE * weight.max()
    weight, centre, scale = weight[kept] / weight[kept].sum(), centre[kept], np.maximum(scale[kept], 1e-300)
    reach = stdtrit(degrees, np.asarray(shares))[:, None] * scale + centre
    low, high = reach.min(axis=1), reach.max(axis=1)
    for _ in range(STEPS):
        middle = (low + high) / 2
        below = stdtr(degrees, (middle[:, None] - centre) / scale) @ weight < shares
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((low + high) / 2, dtype=np.float64)
