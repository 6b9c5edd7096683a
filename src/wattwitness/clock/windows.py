"""Windows along the ride: how both series correlate near the lag the path gave, each window counting alike."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.bands import smoothed_present
from wattwitness.clock.correlate import fast_length
from wattwitness.clock.path import NO_LAG
from wattwitness.clock.segments import Stretch, lags_along
from wattwitness.model.arrays import FloatArray, IntArray

LEAST_FILLED = 0.3
"""A window with fewer common samples than this share of its seconds (of the usual count, where sparse) is left out."""


def differences(values: FloatArray) -> FloatArray:
    """Change from second to second, shape as given, NaN where either second is missing: a linear filter that leaves no
    slow level whose spectrum could leak.
    """
    change = np.full(values.shape, np.nan)
    change[1:] = np.diff(values)
    return change


def without_level(values: FloatArray, slow_s: int) -> FloatArray:
    """``values`` less their triangular mean of half-width ``slow_s``, for series too sparse to take differences of."""
    has = np.isfinite(values)
    level, _ = smoothed_present(np.where(has, values, 0.0), has, slow_s)
    return np.where(has, values - level, np.nan)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """W windows, K the reach in seconds.

    ``cross`` (W, 2K+1): Σ a[i]·b[i - lag - k] for k = -K..K over the window's reference seconds i, ``own_a`` and
    ``own_b`` the same of each side with itself, all divided by the root of the product of both sides' mean squares in
    the window (a linear scaling, so that one surge does not rule the ride); ``pairs`` (W, 2K+1) the products in each
    sum; ``lag`` (W,) whole second of the path; ``at`` (W,) mean reference second; ``stretch`` (W,) which stretch;
    ``used`` (W,) whether it has enough to say; ``scale``: mean of the divisor's inverse, to size rounding;
    ``samples``: pairs in all.
    """

    cross: FloatArray
    own_a: FloatArray
    own_b: FloatArray
    pairs: FloatArray
    lag: IntArray
    at: FloatArray
    stretch: IntArray
    used: FloatArray
    scale: float
    samples: int

    @property
    def reach(self) -> int:
        """K."""
        return (int(self.cross.shape[1]) - 1) // 2


def windows_along(a: FloatArray, b: FloatArray, stretches: Sequence[Stretch], *, width: int, reach: int) -> Windows:
    """Cut every stretch into windows of about ``width`` seconds and correlate each at ``reach`` seconds around.

    ``a`` (n,) on the reference's seconds, ``b`` (m,) on the unit's, NaN where missing.
    """
    bounds, lags, owner = _cut(stretches, width)
    longest = int((bounds[1] - bounds[0]).max(initial=1))
    inside = np.arange(longest) < (bounds[1] - bounds[0])[:, None]
    lag = np.array(lags, dtype=np.int64)
    here, ones_here = _pieces(a, bounds[0], longest, reach)
    there, ones_there = _pieces(b, bounds[0] - lag, longest, reach)
    middle = slice(reach, reach + longest)
    left, has_left = here[:, middle] * inside, ones_here[:, middle] * inside
    matched, has_matched = there[:, middle] * inside, ones_there[:, middle] * inside
    cross, pairs = _correlated(left, there, reach), np.rint(_correlated(has_left, ones_there, reach))
    own_a, own_b = _correlated(left, here, reach), _correlated(matched, there, reach)
    both = (has_left * has_matched).sum(axis=1)
    usual = float(np.median(both[both > 0])) if np.any(both > 0) else 0.0
    power = own_a[:, reach] * own_b[:, reach]
    used = (both >= LEAST_FILLED * usual) & (both >= 5) & (power > 1e-12)
    weight = np.where(used, both / np.sqrt(np.where(used, power, 1.0)), 0.0)[:, None]
    samples = int((both * used).sum())
    return Windows(
        cross=cross * weight,
        own_a=weight * (own_a + own_a[:, ::-1]) / 2,
        own_b=weight * (own_b + own_b[:, ::-1]) / 2,
        pairs=pairs * used[:, None],
        lag=lag,
        at=_centres(has_left, bounds),
        stretch=np.array(owner, dtype=np.int64),
        used=used.astype(np.float64),
        scale=float((weight[:, 0] * both).sum()) / max(samples, 1),
        samples=samples,
    )


def _pieces(values: FloatArray, starts: IntArray, length: int, reach: int) -> tuple[FloatArray, FloatArray]:
    """From each start, ``length`` seconds with ``reach`` more on both sides, (W, length + 2·reach), 0 where missing,
    and which are there.
    """
    index = starts[:, None] + np.arange(-reach, length + reach)
    inside = (index >= 0) & (index < values.size)
    taken = values[np.clip(index, 0, max(values.size - 1, 0))]
    has = inside & np.isfinite(taken)
    return np.where(has, taken, 0.0), has.astype(np.float64)


def _correlated(inner: FloatArray, outer: FloatArray, reach: int) -> FloatArray:
    """Σ inner[i]·outer[i + reach - k] for k = -reach..reach, row by row, (W, 2·reach + 1)."""
    length = fast_length(outer.shape[1])
    product = np.conj(np.fft.rfft(inner, length)) * np.fft.rfft(outer, length)
    return np.asarray(np.fft.irfft(product, length)[:, : 2 * reach + 1][:, ::-1])


def _cut(stretches: Sequence[Stretch], width: int) -> tuple[IntArray, list[int], list[int]]:
    """Starts and stops of all windows (2, W), the lag in the middle of each, and its stretch."""
    starts: list[int] = []
    stops: list[int] = []
    lags: list[int] = []
    owner: list[int] = []
    for number, one in enumerate(stretches):
        pieces = max(1, round((one.stop - one.start) / width))
        edges = np.linspace(one.start, one.stop, pieces + 1).astype(int).tolist()
        for start, stop in itertools.pairwise(edges):
            if stop > start:
                starts.append(start)
                stops.append(stop)
                lags.append(int(np.median(one.lag_at[start - one.start : stop - one.start])))
                owner.append(number)
    return np.array([starts, stops], dtype=np.int64), lags, owner


def _centres(weight: FloatArray, bounds: IntArray) -> FloatArray:
    """Mean second of the samples of each window; its middle where it has none."""
    count = weight.sum(axis=1)
    moment = weight @ np.arange(weight.shape[1])
    return np.asarray(np.where(count > 0, bounds[0] + moment / np.maximum(count, 1), bounds.mean(axis=0)))


def without_coasting(
    a: FloatArray, b: FloatArray, stretches: Sequence[Stretch], *, before_s: int, after_s: int, still_below: float
) -> tuple[FloatArray, FloatArray]:
    """Both cadences (n,), (m,) with missing samples around each time either stood still.

    Meters differ in how long they hold a cadence after the pedals stop, and a smoothed one is still falling when the
    pedals turn again: neither is the lag of a clock. Seconds from ``before_s`` before to ``after_s`` after a value
    below ``still_below`` on either side go, on both.
    """
    lag_at = lags_along(stretches, a.size)
    seconds = np.arange(a.size)
    j = np.where(lag_at != NO_LAG, seconds - lag_at, -1)
    matched = (j >= 0) & (j < b.size)
    still = np.isfinite(a) & (a < still_below)
    still[matched] |= np.isfinite(b[j[matched]]) & (b[j[matched]] < still_below)
    count = np.concatenate([[0], np.cumsum(still)])
    near = count[np.minimum(seconds + before_s + 1, a.size)] - count[np.maximum(seconds - after_s, 0)] > 0
    left = np.where(near, np.nan, a)
    gone = np.zeros(b.size, dtype=np.bool_)
    gone[j[matched & near]] = True
    return left, np.where(gone, np.nan, b)
