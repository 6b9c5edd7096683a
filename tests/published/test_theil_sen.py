"""The line by the median of pairwise slopes against its author's example."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import theilslopes

from wattwitness.stats.theil_sen import theil_sen

# Sen PK (1968) JASA 63:1379-1389, worked example. Data, slope, intercept and the corrected interval read in the tests
# of a public statistics package; recomputed. Sen's own printed interval differs and is a known misprint.
SEN_X = np.array([1.0, 2, 3, 4, 10, 12, 18])
SEN_Y = np.array([9.0, 15, 19, 20, 45, 55, 78])


def test_sens_example() -> None:
    line = theil_sen(SEN_X, SEN_Y, 0.93)
    assert line.slope == pytest.approx(4.0, abs=1e-12)
    assert line.intercept == pytest.approx(6.0, abs=1e-12)
    assert line.slope_low == pytest.approx(26 / 7, abs=1e-12)
    assert line.slope_high == pytest.approx(35 / 8, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_it_is_what_a_library_of_statistics_gives(seed: int) -> None:
    generator = np.random.default_rng(seed)
    x = np.round(generator.standard_normal(40), 1)
    y = 2 * x + generator.standard_normal(40)
    line, theirs = theil_sen(x, y, 0.9), theilslopes(y, x, 0.9, method="joint")  # type: ignore[call-overload]  # the stubs know other names
    assert line.slope == pytest.approx(theirs.slope)
    assert line.intercept == pytest.approx(theirs.intercept)
    assert line.slope_low == pytest.approx(theirs.low_slope)
    assert line.slope_high == pytest.approx(theirs.high_slope)


def test_x_that_does_not_vary_is_refused() -> None:
    with pytest.raises(ValueError, match="varies"):
        theil_sen(np.ones(4), np.arange(4.0), 0.95)
