"""Running maxima and ranges, and stretches of a mask."""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray


def running_maximum(values: FloatArray, reach: int) -> FloatArray:
    """Largest of ``values`` (n,) within ``reach`` places on either side; the ends stand for what lies beyond."""
    if not values.size:
        return values.copy()
    padded = np.pad(values, reach, mode="edge")
    return np.asarray(sliding_window_view(padded, 2 * reach + 1).max(axis=1), dtype=np.float64)


def running_range(values: FloatArray, reach: int) -> FloatArray:
    """Largest less smallest of ``values`` (n,) within ``reach`` places on either side."""
    return running_maximum(values, reach) + running_maximum(-values, reach)


def running_sums(*series: FloatArray | BoolArray) -> FloatArray:
    """Sums before each place of k series (n,), shape (k, n + 1), so that a stretch's sum is a difference of two."""
    sums = np.zeros((len(series), series[0].size + 1))
    for row, values in zip(sums, series, strict=True):
        np.cumsum(values, out=row[1:])
    return sums


def stretches(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """First places and ends (excluded) of the stretches where ``mask`` (n,) holds."""
    steps = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    return np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)


def near(mask: BoolArray, reach: int) -> BoolArray:
    """Where ``mask`` (n,) holds within ``reach`` places."""
    if not mask.any():
        return mask.copy()
    return np.asarray(np.convolve(mask, np.ones(2 * reach + 1), mode="full")[reach : reach + mask.size] > 0.5)
