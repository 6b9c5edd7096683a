"""The stationary bootstrap: its law where that is known, and against a slow, literal one."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import wander
from wattwitness.stats.bootstrap import _blocks, stationary_block_length, stationary_bootstrap_ratio


def test_blocks_fill_the_ride_and_have_the_mean_length() -> None:
    starts, lengths = _blocks(5000, 40.0, 500, np.random.default_rng(1))
    assert (lengths.sum(axis=1) == 5000).all()
    assert (starts >= 0).all()
    assert (starts < 5000).all()
    inner = lengths[:, :60]
    assert inner.mean() == pytest.approx(40.0, rel=0.03)
    assert inner.std() == pytest.approx(np.sqrt(40.0 * 39.0), rel=0.05)


def test_spread_is_that_of_the_law() -> None:
    """Politis & Romano (1994), lemma 1: n times the variance of the resampled mean is
    R(0) + 2 sum ((1 - i/n)(1 - p)^i + (i/n)(1 - p)^(n - i)) R(i), with circular autocovariances equal to that below."""
    values = 100 + wander(np.random.default_rng(2), 900, 15)
    block_s, size = 30.0, values.size
    means = stationary_bootstrap_ratio(values, np.ones(size), block_s=block_s, resamples=20000, seed=3)
    centred = values - values.mean()
    circular = np.array([np.mean(centred * np.roll(centred, lag)) for lag in range(size)])
    lags = np.arange(1, size)
    keep = 1 - 1 / block_s
    law = (circular[0] + 2 * np.sum((1 - lags / size) * keep**lags * circular[1:])) / size
    assert means.var() == pytest.approx(law, rel=0.05)
    assert means.mean() == pytest.approx(values.mean(), abs=4 * np.sqrt(law / 20000))


def test_a_seed_repeats() -> None:
    values = wander(np.random.default_rng(4), 500, 5) + 10
    first, second = (
        stationary_bootstrap_ratio(values, np.ones(500), block_s=8.0, resamples=50, seed=9) for _ in range(2)
    )
    assert (first == second).all()


def test_missing_seconds_leave_both_sums_alone() -> None:
    numerator, denominator = np.full(600, 3.0), np.full(600, 2.0)
    numerator[100:300] = denominator[100:300] = 0.0
    ratios = stationary_bootstrap_ratio(numerator, denominator, block_s=10.0, resamples=200, seed=1)
    assert ratios == pytest.approx(np.full(ratios.size, 1.5))


def test_block_length_of_nothing_and_of_a_long_memory() -> None:
    assert stationary_block_length(np.full(100, 4.0)) == 1.0
    white = stationary_block_length(np.random.default_rng(5).standard_normal(3600))
    slow = stationary_block_length(wander(np.random.default_rng(5), 3600, 60))
    assert white < 10 < slow <= np.ceil(3 * np.sqrt(3600))
