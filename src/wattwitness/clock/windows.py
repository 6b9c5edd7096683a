"""Windows along the ride: how both series, as changes, correlate near the lag the path gave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.bands import CLIP, smoothed_present
from wattwitness.clock.segments import Stretch
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Changes:
    """A channel without its slow level, scaled, shape (n,), 0 where missing; ``has`` says where it is not."""

    values: FloatArray
    has: BoolArray


def changes(values: FloatArray, slow_s: int) -> Changes:
    """Take the triangular mean of half-width ``slow_s`` off ``values`` (NaN where missing) and cut at four robust
    standard deviations (1.4826 times the median absolute change), so that a few surges do not rule the ride."""
    has = np.isfinite(values)
    filled = np.where(has, values, 0.0)
    level, weight = smoothed_present(filled, has, slow_s)
    left = np.where(has & (weight > 0), filled - level, 0.0)
    if not has.any():
        return Changes(values=left, has=has)
    scale = max(1.4826 * float(np.median(np.abs(left[has]))), 0.25 * float(np.std(left[has])))
    if scale <= 0:
        return Changes(values=np.zeros_like(left), has=has)
    return Changes(values=np.clip(left / scale, -CLIP, CLIP), has=has)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """W windows. ``cross`` (W, 2K+1): Σ a[i]·b[i - lag - k] for k = -K..K, over the window's reference seconds i, and
    ``count`` the pairs in it; ``lag`` (W,) the whole second of the path, ``at`` (W,) the mean reference second,
    ``stretch`` (W,) which stretch; ``own_a``, ``own_b`` (2K+1,): mean products of each side with itself over all
    windows; ``energy`` (W,): root of the product of both sides' sums of squares; ``samples`` pairs in all."""

    cross: FloatArray
    count: FloatArray
    lag: IntArray
    at: FloatArray
    stretch: IntArray
    own_a: FloatArray
    own_b: FloatArray
    energy: FloatArray
    samples: int

    @property
    def reach(self) -> int:
        """K."""
        return (self.cross.shape[1] - 1) // 2


def windows_along(
    a: Changes, b: Changes, stretches: Sequence[Stretch], *, width: int, reach: int
) -> Windows:
    """Cut every stretch into windows of about ``width`` seconds and correlate each at ``reach`` seconds around."""
    starts, lags, owner = _cut(stretches, width)
    size = a.values.size
    lag_at = np.zeros(size, dtype=np.int64)
    inside = np.zeros(size, dtype=np.bool_)
    edges: list[int] = []
    for start, stop, lag in zip(*starts, lags, strict=True):
        lag_at[start:stop] = lag
        inside[start:stop] = True
        edges.extend((start, stop))
    where = np.arange(size)
    left = np.where(inside & a.has, a.values, 0.0)
    has_left = (inside & a.has).astype(np.float64)
    bounds = np.array(starts, dtype=np.int64)
    shifts = np.arange(-reach, reach + 1)
    cross, count = np.zeros((len(lags), shifts.size)), np.zeros((len(lags), shifts.size))
    right_squares = np.zeros(len(lags))
    for column, k in enumerate(shifts):
        j = where - lag_at - k
        there = (j >= 0) & (j < b.values.size)
        j = np.clip(j, 0, b.values.size - 1)
        right, has_right = b.values[j] * there, b.has[j] & there
        cross[:, column] = _sums(left * right, bounds)
        count[:, column] = _sums(has_left * has_right, bounds)
        if k == 0:
            right_squares = _sums(np.where(inside, right, 0.0) ** 2, bounds)
            matched = right
            matched_has = has_right & inside
    energy = np.sqrt(_sums(left**2, bounds) * right_squares)
    return Windows(
        cross=cross,
        count=count,
        lag=np.array(lags, dtype=np.int64),
        at=_centres(has_left, bounds),
        stretch=np.array(owner, dtype=np.int64),
        own_a=_own(left, has_left > 0, reach),
        own_b=_own(np.where(matched_has, matched, 0.0), matched_has, reach),
        energy=energy,
        samples=int((has_left * matched_has).sum()),
    )


def _cut(stretches: Sequence[Stretch], width: int) -> tuple[tuple[list[int], list[int]], list[int], list[int]]:
    """Starts and stops of all windows, the lag in the middle of each, and its stretch."""
    starts: list[int] = []
    stops: list[int] = []
    lags: list[int] = []
    owner: list[int] = []
    for number, one in enumerate(stretches):
        pieces = max(1, round((one.stop - one.start) / width))
        edges = np.linspace(one.start, one.stop, pieces + 1).astype(int)
        for start, stop in zip(edges[:-1], edges[1:], strict=True):
            if stop > start:
                starts.append(int(start))
                stops.append(int(stop))
                lags.append(int(np.median(one.lag_at[start - one.start : stop - one.start])))
                owner.append(number)
    return (starts, stops), lags, owner


def _sums(values: FloatArray, bounds: IntArray) -> FloatArray:
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray(total[bounds[1]] - total[bounds[0]])


def _centres(weight: FloatArray, bounds: IntArray) -> FloatArray:
    """Mean second of the samples of each window; its middle where it has none."""
    count = _sums(weight, bounds)
    moment = _sums(weight * np.arange(weight.size), bounds)
    return np.where(count > 0, moment / np.maximum(count, 1), bounds.mean(axis=0))


def _own(values: FloatArray, has: BoolArray, reach: int) -> FloatArray:
    """Mean product of a series with itself at lags -K..K; lags without pairs lie on the line between their
    neighbours (a series sampled every third second has pairs at every third lag only)."""
    half = np.zeros(reach + 1)
    pairs = np.zeros(reach + 1)
    ones = has.astype(np.float64)
    for k in range(reach + 1):
        half[k] = values[k:] @ values[: values.size - k]
        pairs[k] = ones[k:] @ ones[: ones.size - k]
    known = pairs > 0.02 * max(pairs[0], 1.0)
    mean = np.divide(half, pairs, out=np.zeros_like(half), where=known)
    if known.any():
        mean = np.interp(np.arange(reach + 1), np.flatnonzero(known), mean[known])
    return np.concatenate([mean[:0:-1], mean])
