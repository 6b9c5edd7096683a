"""Centred means along a series that has gaps."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray


def centred_mean(values: FloatArray, width_s: int, *, density: float = 1.0) -> FloatArray:
    """Return the mean of ``values`` over ``width_s`` seconds centred on each second.

    ``values`` has shape (n,), one a second, NaN where missing; so has the result. The window is symmetric: an even
    width takes ``width_s - 1`` whole seconds and half of the one at either end. Missing seconds carry no weight; where
    less than half of the window is present (a gap, or an end of the ride for the outermost seconds) the result is NaN.
    A series of spot readings never fills a window: of its usual ``density`` (samples a second) half must be there.
    """
    present = np.isfinite(values)
    sums = _window_sums(np.where(present, values, 0.0), width_s)
    weights = _window_sums(present.astype(np.float64), width_s)
    enough = (weights > 0) & (weights >= density * width_s / 2)
    return np.where(enough, sums / np.where(enough, weights, 1.0), np.nan)


def sample_density(present: BoolArray) -> float:
    """Usual samples a second where there are any: the median over half minutes of ``present`` (n,) that hold some.

    1 for a recording with gaps, however long; 4/60 for four readings a minute; 0 without any.
    """
    if not present.any():
        return 0.0
    starts = np.arange(0, present.size, 30)
    counts = np.add.reduceat(present.astype(np.float64), starts)
    lengths = np.diff(np.append(starts, present.size))
    return float(np.median((counts / lengths)[counts > 0]))


def _window_sums(values: FloatArray, width_s: int) -> FloatArray:
    """Weighted sums over the centred window; beyond the ends there is nothing."""
    cumulative = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(values.size)

    def between(first: int, last: int) -> FloatArray:
        start = np.clip(at + first, 0, values.size)
        stop = np.clip(at + last + 1, 0, values.size)
        result: FloatArray = cumulative[stop] - cumulative[start]
        return result

    half = width_s // 2
    if width_s % 2:
        return between(-half, half)
    return (between(-half, half - 1) + between(1 - half, half)) / 2
