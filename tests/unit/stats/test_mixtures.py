"""Quantiles of mixtures of Student distributions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from wattwitness.stats.mixtures import mixture_quantiles

SHARES = np.array([0.025, 0.5, 0.975])


def test_one_member_is_students_own_table() -> None:
    # Student's t with 10 degrees of freedom: 2.228 (any table).
    found = mixture_quantiles(np.ones(1), np.array([3.0]), np.array([2.0]), 10, SHARES)
    np.testing.assert_allclose(found, 3 + 2 * np.array([-2.228139, 0.0, 2.228139]), atol=1e-5)


def test_a_mixture_has_the_shares_it_says() -> None:
    weight, centre, scale = np.array([0.2, 0.5, 0.3]), np.array([-1.0, 0.0, 4.0]), np.array([1.0, 0.1, 2.0])
    found = mixture_quantiles(weight, centre, scale, 7, SHARES)
    for share, at in zip(SHARES, found, strict=True):
        assert weight @ stats.t.cdf((at - centre) / scale, 7) == pytest.approx(share, abs=1e-9)


def test_what_weighs_nothing_does_not_count() -> None:
    one = mixture_quantiles(np.array([1.0]), np.array([1.0]), np.array([1.0]), 5, SHARES)
    two = mixture_quantiles(np.array([1.0, 1e-9]), np.array([1.0, 1e6]), np.array([1.0, 1.0]), 5, SHARES)
    np.testing.assert_allclose(one, two)
