"""The stationary bootstrap of a ratio of sums, with its block length chosen from the data."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.stats.autocovariance import autocovariances, lag_window_sum

MOST_BLOCKS = 300
"""More blocks a resample than this change nothing but the time it takes: longer blocks are used instead."""


def stationary_block_length(values: FloatArray) -> float:
    """Return the mean block length, in samples, of the stationary bootstrap for the mean of ``values`` (n,), n >= 10.

    Politis & White (2004) Econometric Reviews 23:53-70, corrected by Patton, Politis & White (2009) 28:372-375:
    b = (2 G^2 / D)^(1/3) n^(1/3), D = 2 g(0)^2, by a flat-top lag window whose width is twice the first lag from
    which max(5, log10 n) autocorrelations in a row stay under 2 sqrt(log10(n)/n). (The paper's words take the lag
    before that one; the programs in use, and the value this is tested against, take the first.) Never under 1 nor
    over min(3 sqrt n, n/3). A constant series gives 1.
    """
    size = values.size
    run = max(5, int(math.log10(size)))
    most = math.ceil(math.sqrt(size)) + run
    covariances = autocovariances(values, min(most + run, size - 1))
    if covariances[0] <= 0:
        return 1.0
    small = np.abs(covariances[1:] / covariances[0]) < 2 * math.sqrt(math.log10(size) / size)
    runs = np.flatnonzero(np.convolve(small, np.ones(run), mode="valid") >= run)
    width = min(2 * (int(runs[0]) + 1) if runs.size else most, most, covariances.size - 1)
    lags = np.arange(width + 1)
    flat_top = np.clip(2 * (1 - lags / width), 0.0, 1.0)
    long_run = float(lag_window_sum(covariances[: width + 1], flat_top))
    slope = float(lag_window_sum(covariances[: width + 1] * lags, flat_top))
    if long_run <= 0:
        return 1.0
    length = (slope**2 / long_run**2) ** (1 / 3) * size ** (1 / 3)
    return float(np.clip(length, 1.0, math.ceil(min(3 * math.sqrt(size), size / 3))))


def stationary_bootstrap_ratio(
    numerator: FloatArray, denominator: FloatArray, *, block_s: float, resamples: int, seed: int
) -> FloatArray:
    """Return ``resamples`` values of sum(numerator)/sum(denominator) over resampled blocks, sorted.

    Both have shape (n,), one a second, 0 where missing (which leaves gaps in their place). Blocks start anywhere, run
    round the end, and have geometric lengths of mean ``block_s``: Politis & Romano (1994) J. Am. Stat. Assoc.
    89:1303-1313. Block sums are differences of cumulative sums, so a resample costs its blocks, not its seconds.
    Resamples whose denominator is not positive are left out.
    """
    size = numerator.size
    starts, lengths = _blocks(size, max(block_s, size / MOST_BLOCKS), resamples, np.random.default_rng(seed))
    sums = [_block_sums(values, starts, lengths) for values in (numerator, denominator)]
    usable = sums[1] > 0
    return np.sort(sums[0][usable] / sums[1][usable])


def _blocks(size: int, block_s: float, resamples: int, generator: np.random.Generator) -> tuple[IntArray, IntArray]:
    """Starts and lengths of blocks, shape (resamples, blocks); each row's lengths add up to ``size``."""
    expected = size / block_s
    count = math.ceil(expected + 6 * math.sqrt(expected) + 10)
    starts = generator.integers(0, size, (resamples, count))
    ends = np.minimum(np.cumsum(generator.geometric(1 / block_s, (resamples, count)), axis=1), size)
    ends[:, -1] = size
    return starts, np.diff(ends, axis=1, prepend=0)


def _block_sums(values: FloatArray, starts: IntArray, lengths: IntArray) -> FloatArray:
    """Sum of ``values`` over all blocks of each row, running round the end."""
    cumulative = np.concatenate([[0.0], np.cumsum(np.concatenate([values, values]))])
    return np.asarray((cumulative[starts + lengths] - cumulative[starts]).sum(axis=1), dtype=np.float64)
