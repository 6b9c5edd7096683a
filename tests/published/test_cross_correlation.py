"""The masked cross-correlation against published examples, one with a delay that is known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.reference import table
from wattwitness.clock.correlate import masked_correlation


def test_twenty_pairs() -> None:
    """Library example of the routine g13bcc (data and results read on its help pages, recomputed): r(0) = 0.0568.

    The example divides by the whole series' variation at every lag, the masked form by that of the overlap, so the
    other values differ; both are farthest from zero where the second series follows the first by 4.
    """
    pairs, expected = table("xcorr_small.csv"), table("xcorr_small_expected.csv")
    lags, correlation, common = masked_correlation(pairs["x"], pairs["y"])
    assert correlation[lags == 0][0] == pytest.approx(expected["r_xy"][0], abs=5e-5)
    assert common[lags == 0][0] == 20
    near = np.abs(lags) <= 10
    assert lags[near][np.argmin(correlation[near])] == -expected["lag"][np.argmin(expected["r_xy"])] == -4


def test_gas_furnace() -> None:
    """Box GEP, Jenkins GM (1976) Time Series Analysis, series J, r(0..7) (from memory, recomputed), to two digits.

    The outlet's carbon dioxide follows the gas rate: the correlation is farthest from zero five samples later.
    """
    series = table("box_jenkins_series_J.csv")
    gas, outlet = list(series.values())[-2:]
    lags, correlation, _ = masked_correlation(gas, outlet)
    published = [-0.48, -0.60, -0.73, -0.84, -0.92, -0.95, -0.91, -0.83]
    seen = [float(correlation[lags == -lag][0]) for lag in range(8)]
    np.testing.assert_allclose(seen, published, atol=0.012)
    near = np.abs(lags) <= 40
    assert lags[near][np.argmin(correlation[near])] == -5


def test_gaps_are_left_out_and_not_taken_as_zero() -> None:
    """Against numpy's correlation coefficient over the samples that both have."""
    generator = np.random.default_rng(5)
    first, second = generator.normal(size=(2, 60))
    second[3:] += 0.8 * first[:-3]
    first[10:14], second[30:33] = np.nan, np.nan
    lags, correlation, common = masked_correlation(first, second)
    for lag in (-7, -3, 0, 4):
        a = first[max(lag, 0) : 60 + min(lag, 0)]
        b = second[max(-lag, 0) : 60 - max(lag, 0)]
        both = np.isfinite(a) & np.isfinite(b)
        assert common[lags == lag][0] == both.sum()
        assert correlation[lags == lag][0] == pytest.approx(np.corrcoef(a[both], b[both])[0, 1], abs=1e-9)
