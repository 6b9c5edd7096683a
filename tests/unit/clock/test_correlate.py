"""Cross-correlation with missing samples, against the plain sum and numpy's coefficient."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wattwitness.clock.correlate import fast_length, lags_of, masked_correlation


def test_each_lag_is_pearsons_coefficient_of_the_common_samples() -> None:
    """Every lag against numpy, with a third of the samples missing on either side."""
    rng = np.random.default_rng(1)
    a, b = rng.standard_normal(60), rng.standard_normal(41)
    a[rng.random(60) < 0.3] = np.nan
    b[rng.random(41) < 0.3] = np.nan
    lags, r, count = masked_correlation(a, b)
    for lag, value, pairs in zip(lags, r, count, strict=True):
        index = [(j + lag, j) for j in range(41) if 0 <= j + lag < 60]
        both = [(a[i], b[j]) for i, j in index if np.isfinite(a[i]) and np.isfinite(b[j])]
        assert pairs == len(both)
        if len(both) >= 3:
            assert value == pytest.approx(np.corrcoef(np.array(both).T)[0, 1], abs=1e-9)


def test_a_shifted_copy_is_found_at_its_shift() -> None:
    """Unit sample j on reference sample j + lag."""
    a = np.random.default_rng(2).standard_normal(200)
    lags, r, _ = masked_correlation(a, a[50:150])
    assert lags[np.nanargmax(np.where(_ >= 50, r, np.nan))] == 50
    assert np.nanmax(np.where(_ >= 50, r, np.nan)) == pytest.approx(1.0)


def test_a_side_without_variation_has_no_correlation() -> None:
    """Constant is NaN, never zero."""
    _, r, _ = masked_correlation(np.full(20, 7.0), np.arange(20.0))
    assert np.isnan(r).all()


@given(size=st.integers(1, 5000))
@settings(max_examples=50, deadline=None)
def test_a_fast_length_is_enough_and_has_small_factors(size: int) -> None:
    """At least the size, and nothing but 2, 3 and 5."""
    length = rest = fast_length(size)
    assert size <= length <= 2 * size
    for factor in (2, 3, 5):
        while rest % factor == 0:
            rest //= factor
    assert rest == 1


def test_lags_run_from_the_last_unit_sample_on_the_first_to_the_first_on_the_last() -> None:
    """All overlaps, ascending."""
    assert lags_of(3, 2).tolist() == [-1, 0, 1, 2]
