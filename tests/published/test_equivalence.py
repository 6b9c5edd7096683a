"""Two one-sided tests against Lakens-type summary cases (read in a package's tests, recomputed)."""

from __future__ import annotations

import math

import pytest

from wattwitness.study.equivalence import MeanKnown, change


def mean(value: float, sd: float, count: int) -> MeanKnown:
    return MeanKnown(mean=value, standard_error=sd / math.sqrt(count), degrees=count - 1)


def test_two_samples_by_welch() -> None:
    """m1 = 5.25, m2 = 5.22, sd 0.95 and 0.83, n 95 and 89, bounds 0.384: the larger p-value, degrees, 90 % interval."""
    moved = change(mean(5.22, 0.83, 89), mean(5.25, 0.95, 95))
    assert moved.degrees == pytest.approx(181.1344, abs=5e-5)
    assert moved.chance_beyond(-0.384, 0.384) == pytest.approx(0.003838994, abs=5e-9)
    assert moved.interval(0.90) == pytest.approx((-0.1870843, 0.2470843), abs=5e-8)


def test_one_sample() -> None:
    """m = 0.54 against 0.5, sd 1.2, n = 100, bounds 0.36."""
    against = MeanKnown(mean=0.5, standard_error=0.0, degrees=math.inf)
    moved = change(against, mean(0.54, 1.2, 100))
    assert moved.chance_beyond(-0.36, 0.36) == pytest.approx(0.004474619, abs=5e-9)
    assert moved.interval(0.90) == pytest.approx((-0.1592469, 0.2392469), abs=5e-8)
    assert moved.interval(0.95) == pytest.approx((-0.198106, 0.278106), abs=5e-7)


def test_known_errors() -> None:
    """Effect 0.12, standard error 0.09, bounds 0.2, normal: not equivalent."""
    against = MeanKnown(mean=0.0, standard_error=0.0, degrees=math.inf)
    moved = change(against, MeanKnown(mean=0.12, standard_error=0.09, degrees=math.inf))
    assert moved.chance_beyond(-0.2, 0.2) == pytest.approx(0.1870314, abs=5e-8)
