"""Spread between rides: covered as often as claimed, and nothing told of one ride."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.study.consistency import random_effects
from wattwitness.study.ride_errors import drawn_together

DEGREES = 8.0


def rides(rng: np.random.Generator, count: int, spread: float, error: float = 0.3) -> tuple[FloatArray, FloatArray]:
    bias = -4 + spread * rng.normal(size=count) + error * rng.normal(size=count)
    return bias, error * np.sqrt(rng.chisquare(DEGREES, count) / DEGREES)


def test_nothing_is_told_of_one_ride_but_its_own_bias() -> None:
    found = random_effects(np.array([-4.0]), np.array([0.3]), np.array([8.0]))
    assert found.mean_bias_pct.value == -4.0
    assert found.between_ride_sd_pct.not_assessed == "one_ride"
    assert found.next_ride_pct.not_assessed == "one_ride"
    assert random_effects(np.zeros(0), np.zeros(0), np.zeros(0)).mean_bias_pct.not_assessed == "no_ride"


def test_equal_rides_have_no_spread_and_an_interval() -> None:
    found = random_effects(np.full(5, -17.0), np.full(5, 0.3), np.full(5, DEGREES))
    assert found.between_ride_sd_pct.value == 0.0
    assert found.mean_bias_pct.high is not None
    assert found.mean_bias_pct.high > -17.0
    assert found.mean_bias_pct.value == pytest.approx(-17.0)


@pytest.mark.parametrize(("count", "spread"), [(5, 0.0), (5, 0.9), (12, 0.15), (12, 0.9)])
def test_intervals_cover(count: int, spread: float) -> None:
    """At 95 % of 150 studies 131 or more cover, but for one chance in a hundred thousand."""
    rng = np.random.default_rng(6)
    covered = np.zeros(3)
    for _ in range(150):
        bias, error = rides(rng, count, spread)
        found = random_effects(bias, error, np.full(count, DEGREES))
        following = -4 + spread * rng.normal() + 0.3 * rng.normal()
        truths = (
            (found.between_ride_sd_pct, spread),
            (found.next_ride_pct, following),
            (found.mean_bias_pct, -4.0),
        )
        for place, (estimate, truth) in enumerate(truths):
            assert estimate.low is not None
            assert estimate.high is not None
            covered[place] += estimate.low <= truth <= estimate.high
    assert np.all(covered >= 131)


def test_variances_of_like_rides_are_drawn_together_and_known_ones_are_kept() -> None:
    rng = np.random.default_rng(7)
    true = 0.09
    own = true * rng.chisquare(6.0, 40) / 6.0
    shared, degrees = drawn_together(own, np.full(40, 6.0))
    assert np.abs(np.log(shared / true)).mean() < 0.3 * np.abs(np.log(own / true)).mean()
    assert np.all(degrees > 6.0)
    unlike = np.array([0.01, 1.0, 100.0, 0.0001])
    kept, _ = drawn_together(unlike, np.full(4, 200.0))
    assert kept == pytest.approx(unlike, rel=0.05)
    known, infinite = drawn_together(np.array([1.0, 2.0]), np.full(2, np.inf))
    assert known.tolist() == [1.0, 2.0]
    assert np.all(np.isinf(infinite))
