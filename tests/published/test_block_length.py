"""The block length of the stationary bootstrap against the value a published library holds itself to.

Politis & White (2004), Patton, Politis & White (2009); no printed value was found. Read: the regression test of arch
8.0.0 (tests/bootstrap/test_block_length.py), 13.635665 for this very series; and that library as oracle on others.
"""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.stats.bootstrap import stationary_block_length


def autoregression(shocks: FloatArray, coefficient: float) -> FloatArray:
    """First-order autoregression driven by ``shocks``."""
    series = shocks.copy()
    for index in range(1, series.size):
        series[index] += coefficient * series[index - 1]
    return series


def test_published_regression_value() -> None:
    shocks = np.random.RandomState(0).standard_normal(10100)
    assert stationary_block_length(autoregression(shocks, 0.3)[100:]) == pytest.approx(13.635665, rel=1e-7)


@pytest.mark.parametrize(("size", "coefficient"), [(600, 0.5), (3600, 0.9), (3600, 0.99), (10800, 0.97), (1800, -0.4)])
def test_against_arch(size: int, coefficient: float) -> None:
    from arch.bootstrap import optimal_block_length

    series = autoregression(np.random.default_rng(size).standard_normal(size), coefficient)
    expected = float(optimal_block_length(series)["stationary"].iloc[0])
    assert stationary_block_length(series) == pytest.approx(max(expected, 1.0), rel=1e-6)
