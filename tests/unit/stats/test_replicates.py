"""Variance of one difference: between subjects plus within, against draws with known components."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.stats.replicates import single_difference_variance


def test_known_components_with_unequal_replicates() -> None:
    generator = np.random.default_rng(1)
    found = []
    for _ in range(300):
        counts = generator.integers(2, 9, 20)
        groups = [2 * generator.standard_normal() + generator.standard_normal(count) for count in counts]
        within = sum(np.sum((group - group.mean()) ** 2) for group in groups) / (counts.sum() - 20)
        means = np.array([group.mean() for group in groups])
        found.append(single_difference_variance(means, counts.astype(float), within))
    assert np.mean(found) == pytest.approx(4 + 1, rel=0.05)


def test_no_component_between_is_not_negative() -> None:
    assert single_difference_variance(np.zeros(5), np.full(5, 4.0), 3.0) == 3.0
