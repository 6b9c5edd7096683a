"""Ratio of two Poisson rates: 11 in 800 against 21 in 3011 person-years (a general statistics package's documented
example, run and recomputed), and 2 in 17877 against 9 in 16660 (Fay's rate ratios, read in a copy, recomputed).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.study.rates import rate_ratio, shuffled_chance


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ((11, 800.0, 21, 3011.0), (1.971488095, 0.8584264034, 4.2772659437)),
        ((2, 17877.0, 9, 16660.0), (0.2070942, 0.02177406, 1.00054910)),
    ],
)
def test_ratio_with_its_central_exact_interval(
    given: tuple[int, float, int, float], expected: tuple[float, ...]
) -> None:
    """The second is printed to seven digits. The two-sided p-value by minimum likelihood (0.0797 for the first) does
    not go with this interval, and is not used.
    """
    assert rate_ratio(*given) == pytest.approx(expected, rel=3e-7)


def test_no_fault_on_one_side_or_on_both() -> None:
    value, low, high = rate_ratio(0, 6.0, 5, 6.0)
    assert (value, low) == (0.0, 0.0)
    assert 0 < high < 1.1
    assert math.isnan(rate_ratio(0, 6.0, 0, 6.0)[0])


def test_shuffling_rides_by_hand() -> None:
    """Three rides with one fault each, three without: 2 of the 20 ways to deal them are as far apart."""
    after = np.array([False, False, False, True, True, True])
    chance = shuffled_chance(np.array([1.0, 1, 1, 0, 0, 0]), np.ones(6), after, seed=1)
    assert chance == pytest.approx(2 / 20)
    rng = np.random.default_rng(3)
    many = shuffled_chance(rng.poisson(1.0, 40).astype(float), np.ones(40), np.arange(40) > 19, seed=1)
    assert 0 < many <= 1
