"""Cross-correlation against published values, and the delay of a prewhitened series.

The published coefficient divides by the spread of the whole series: r(k) = Σ (x[t] - x̄)(y[t + k] - ȳ) / (n·s_x·s_y).
Ours normalises the overlap (Padfield); the sums behind both are the same, so the published ones are put together from
it here: with missing samples padded around, every lag of the short series lies inside the long one.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.reference import table
from wattwitness.clock.correlate import masked_correlation
from wattwitness.model.arrays import FloatArray

# 20 pairs: data and result pages of the library routine g13bcc (cross-correlations of two series), as read in stored
# public text; recomputed from these 20 pairs.
X = "0.02 0.05 0.08 0.03 -0.05 0.11 -0.01 -0.08 -0.08 -0.11 -0.18 -0.19 -0.09 0.03 0.10 0.15 -0.14 0.07 0.09 0.16"
Y = "3.18 3.21 3.26 3.25 3.08 3.01 3.06 3.17 3.12 3.04 3.26 3.45 3.33 3.70 3.31 3.81 3.33 2.96 3.28 3.10"
R_XY = (
    "0.0568 0.0438 -0.3762 -0.4864 -0.6294 -0.3871 -0.1690 -0.0678 "
    "0.0962 0.0788 0.2910 0.0950 0.0547 0.1855 0.0243 0.0034"
)
R_YX = (
    "0.0568 -0.0151 0.3955 0.3417 0.5486 0.2291 0.3190 0.1980 "
    "0.0438 -0.1428 -0.1376 -0.0387 -0.0380 -0.1551 -0.1536 -0.0696"
)


def numbers(text: str) -> FloatArray:
    return np.array(text.split(), dtype=np.float64)


def published_form(x: FloatArray, y: FloatArray, most: int) -> FloatArray:
    """r(0..most): y later than x by k. From the correlation of the overlap, its means and its spreads."""
    n = x.size
    lags, r, count = masked_correlation(y, x)
    answer = np.empty(most + 1)
    for k in range(most + 1):
        at = int(np.flatnonzero(lags == k)[0])
        assert count[at] == n - k
        # Undo the overlap's own means and spreads: back to the sum of products about the means of the whole.
        a, b = x[: n - k] - x.mean(), y[k:] - y.mean()
        covariance = r[at] * np.sqrt(((a - a.mean()) ** 2).sum() * ((b - b.mean()) ** 2).sum())
        answer[k] = (covariance + (n - k) * a.mean() * b.mean()) / (n * x.std() * y.std())
    return answer


@pytest.mark.parametrize(("first", "second", "expected"), [(X, Y, R_XY), (Y, X, R_YX)])
def test_cross_correlations_of_twenty_pairs(first: str, second: str, expected: str) -> None:
    """Lags 0 to 15 both ways, all four printed digits."""
    assert published_form(numbers(first), numbers(second), 15) == pytest.approx(numbers(expected), abs=6e-5)


def test_series_j_and_its_delay() -> None:
    """Box GEP, Jenkins GM (1976) Time Series Analysis, series J: gas rate and carbon dioxide, 296 pairs, 9 s apart.

    The raw correlations (from memory, agreeing with recomputation) peak at lag 5; after prewhitening by an AR(3) the
    first lag beyond two standard errors is 3, a delay of 27 s (from memory, recomputed): why changes are searched.
    """
    columns = table("box_jenkins_series_J.csv")
    gas, co2 = columns["gas_rate"], columns["co2"]
    raw = published_form(gas, co2, 7)
    assert np.round(raw, 2).tolist() == [-0.48, -0.60, -0.73, -0.84, -0.92, -0.95, -0.91, -0.83]
    assert int(np.argmin(raw)) == 5
    weights = np.array([1.0, -1.97, 1.37, -0.34])
    white_gas, white_co2 = (np.convolve(series - series.mean(), weights)[3:296] for series in (gas, co2))
    white = published_form(white_gas, white_co2, 7)
    significant = np.abs(white) > 2 / np.sqrt(white_gas.size)
    assert int(np.flatnonzero(significant)[0]) == 3
    assert int(np.argmax(np.abs(white))) == 5
