"""The line through both powers: gain and zero told apart."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import effort_w, wander
from tests.unit.agreement.rides import LEVEL, pair
from wattwitness.agreement.line import power_line


def test_gain_and_zero_are_told_apart() -> None:
    gains, zeros, held = [], [], []
    for seed in range(20):
        generator = np.random.default_rng(seed)
        true_w = effort_w(generator, 3600, "group")
        expected_w = true_w * (1 + 0.02 * wander(generator, 3600, 20))
        unit_w = np.where(true_w > 0, 1.04 * true_w - 8, 0.0) * (1 + 0.02 * wander(generator, 3600, 20))
        line = power_line(expected_w[true_w > 0], unit_w[true_w > 0], level=LEVEL)
        assert line.gain_pct.value is not None
        assert line.gain_pct.low is not None
        assert line.gain_pct.high is not None
        gains.append(line.gain_pct.value)
        zeros.append(line.zero_w.value)
        held.append(line.gain_pct.low <= 4 <= line.gain_pct.high)
    assert np.mean(gains) == pytest.approx(4.0, abs=0.5)
    assert np.mean(np.array(zeros, dtype=float)) == pytest.approx(-8.0, abs=1.0)
    assert np.mean(held) >= 0.8


def test_noise_of_the_reference_does_not_flatten_it() -> None:
    gains = []
    for seed in range(20):
        generator = np.random.default_rng(seed)
        true_w = 200 + 25 * wander(generator, 3600, 60)
        noisy = [true_w * (1 + 0.1 * generator.standard_normal(3600)) for _ in range(2)]
        gains.append(power_line(noisy[0], noisy[1], level=LEVEL).gain_pct.value)
    assert np.median(np.array(gains, dtype=float)) == pytest.approx(0.0, abs=2.0)


def test_range_it_was_fitted_on() -> None:
    expected_w, unit_w = pair(effort="intervals")
    line = power_line(expected_w, unit_w, level=LEVEL)
    assert 120 < line.low_w < 150
    assert 300 < line.high_w < 350


@pytest.mark.parametrize(
    ("seconds", "effort_is_flat", "slug"), [(200, False, "too_few_windows"), (3600, True, "not_varied")]
)
def test_no_line(seconds: int, effort_is_flat: bool, slug: str) -> None:
    expected_w, unit_w = pair(effort="flat" if effort_is_flat else "group", seconds=seconds)
    line = power_line(expected_w, unit_w, level=LEVEL)
    assert line.gain_pct.not_assessed == line.zero_w.not_assessed == slug
    assert np.isnan(line.low_w)
