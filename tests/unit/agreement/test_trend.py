"""The bias on power, cadence and time together: slopes found, and a rider's mix told from a trend."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import effort_w, wander
from tests.unit.agreement.rides import LEVEL
from wattwitness.agreement.trend import band_trend
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate

TIME_S = np.arange(3600.0)


def varied(seed: int) -> tuple[FloatArray, FloatArray]:
    """Power and cadence that both vary, each in its own time."""
    generator = np.random.default_rng(seed)
    return effort_w(generator, 3600, "intervals"), 85 + 8 * wander(generator, 3600, 90)


def noise(seed: int) -> FloatArray:
    """A wander of 1 %."""
    return 0.01 * wander(np.random.default_rng(seed + 100), 3600, 15)


def holds(estimate: Estimate, truth: float) -> bool:
    """Whether the interval holds the truth."""
    return estimate.low is not None and estimate.high is not None and estimate.low <= truth <= estimate.high


def test_three_slopes_at_once() -> None:
    held = []
    for seed in range(20):
        power_w, cadence_rpm = varied(seed)
        bias = 0.02 * (power_w - 220) / 100 - 0.01 * (cadence_rpm - 85) / 10 + 0.03 * TIME_S / 3600
        trend = band_trend(TIME_S, cadence_rpm, power_w, power_w * (1 + bias + noise(seed)), level=LEVEL)
        held += [holds(trend.per_100_w, 2.0), holds(trend.per_10_rpm, -1.0), holds(trend.per_hour, 3.0)]
    assert np.mean(held) >= 0.85


def test_noise_of_the_reference_makes_no_slope() -> None:
    slopes = []
    for seed in range(10):
        power_w, cadence_rpm = varied(seed)
        generator = np.random.default_rng(seed + 50)
        expected_w = power_w * (1 + 0.05 * generator.standard_normal(3600))
        slopes.append(band_trend(TIME_S, cadence_rpm, expected_w, power_w, level=LEVEL).per_100_w.value)
    assert np.mean(np.array(slopes, dtype=float)) == pytest.approx(0.0, abs=0.1)


def test_a_mix_of_efforts_is_told() -> None:
    """The unit warms up: it reads 6 % low at first and is right later. The rider does the easy part first."""
    generator = np.random.default_rng(7)
    power_w = np.where(TIME_S < 1800, 150.0, 250.0) + 30 * wander(generator, 3600, 60)
    unit_w = power_w * (0.94 + 0.06 * TIME_S / 3600 + noise(7))
    cadence_rpm = 85 + 8 * wander(generator, 3600, 90)
    trend = band_trend(TIME_S, cadence_rpm, power_w, unit_w, level=LEVEL)
    assert trend.alone_per_100_w.value is not None
    assert trend.alone_per_100_w.value > 1.0
    assert holds(trend.per_100_w, 0.0)
    assert trend.mixed
    assert "per 100 W" in trend.why
    assert "mix of efforts" in trend.why


def test_a_trend_that_the_mix_hides() -> None:
    """The unit reads more with power and less with time; the rider goes harder and harder: no trend in the table."""
    generator = np.random.default_rng(11)
    power_w = 150 + 100 * TIME_S / 3600 + 40 * wander(generator, 3600, 60)
    bias = 0.05 * (power_w - 200) / 100 - 0.07 * TIME_S / 3600
    cadence_rpm = 85 + 8 * wander(generator, 3600, 90)
    trend = band_trend(TIME_S, cadence_rpm, power_w, power_w * (1 + bias + noise(11)), level=LEVEL)
    assert holds(trend.per_100_w, 5.0)
    assert trend.mixed
    assert "hides" in trend.why


def test_wander_alone_is_seldom_called_a_mix() -> None:
    found = []
    for seed in range(60):
        power_w, cadence_rpm = varied(seed)
        unit_w = power_w * (1 + 0.02 * wander(np.random.default_rng(seed + 200), 3600, 40))
        found.append(band_trend(TIME_S, cadence_rpm, power_w, unit_w, level=LEVEL).mixed)
    assert np.mean(found) <= 0.15


def test_a_true_trend_is_no_mix() -> None:
    power_w, cadence_rpm = varied(3)
    trend = band_trend(TIME_S, cadence_rpm, power_w, power_w * (1 + 0.03 * (power_w - 220) / 100), level=LEVEL)
    assert trend.per_100_w.value == pytest.approx(3.0, abs=0.3)
    assert trend.alone_per_100_w.value == pytest.approx(3.0, abs=0.3)
    assert "table by power" not in trend.why


def test_a_ramp_cannot_tell_power_from_time() -> None:
    power_w = effort_w(np.random.default_rng(5), 3600, "ramp")
    unit_w = power_w * (1 + 0.05 * TIME_S / 3600 + noise(5))
    cadence_rpm = 85 + 8 * wander(np.random.default_rng(6), 3600, 90)
    trend = band_trend(TIME_S, cadence_rpm, power_w, unit_w, level=LEVEL)
    assert trend.per_100_w.not_assessed == trend.per_hour.not_assessed == "collinear"
    assert trend.per_10_rpm.assessed
    assert trend.alone_per_100_w.assessed
    assert trend.mixed
    assert "cannot be told" in trend.why


def test_what_is_held_has_no_slope() -> None:
    power_w = effort_w(np.random.default_rng(8), 3600, "flat")
    trend = band_trend(TIME_S, np.full(3600, 90.0), power_w, power_w * (1 + noise(8)), level=LEVEL)
    assert trend.per_100_w.not_assessed == trend.alone_per_10_rpm.not_assessed == "not_varied"
    assert trend.per_hour.assessed


def test_without_cadence_and_without_time() -> None:
    power_w, _ = varied(9)
    missing = np.full(3600, np.nan)
    trend = band_trend(TIME_S, missing, power_w, power_w * (1 + noise(9)), level=LEVEL)
    assert trend.per_10_rpm.not_assessed == "no_cadence"
    assert trend.per_100_w.assessed
    short = band_trend(TIME_S[:500], missing[:500], power_w[:500], power_w[:500], level=LEVEL)
    assert short.per_hour.not_assessed == "too_short"
    nothing = band_trend(TIME_S, missing, missing, power_w, level=LEVEL)
    assert nothing.per_100_w.not_assessed == "no_common_seconds"
