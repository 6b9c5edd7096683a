"""The bias of the ride: its value, its intervals, and what it says when it cannot say."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import effort_w, wander
from tests.unit.agreement.rides import LEVEL, pair
from wattwitness.agreement.overall import METERS_IN_USE_PCT, overall_bias
from wattwitness.model.agreement import OverallBias
from wattwitness.model.arrays import FloatArray


def bias(expected_w: FloatArray, unit_w: FloatArray, uncertainty_pct: float | None = 1.0) -> OverallBias:
    """The overall bias at 95 %."""
    return overall_bias(expected_w, unit_w, level=LEVEL, reference_uncertainty_pct=uncertainty_pct, seed=1)


def test_value_is_the_ratio_of_sums_over_common_seconds() -> None:
    expected_w = np.array([100.0, 0, 200, np.nan, 300] * 40)
    unit_w = np.array([90.0, 10, np.nan, 500, 330] * 40)
    assert bias(expected_w, unit_w).bias_pct.value == pytest.approx(100 * (430 / 400 - 1))


def test_low_reads_negative() -> None:
    found = bias(*pair(bias_pct=-4.3))
    assert found.bias_pct.value == pytest.approx(-4.3, abs=0.5)
    assert found.bias_pct.low is not None
    assert found.bias_pct.high is not None
    assert found.bias_pct.value is not None
    assert found.bias_pct.low < found.bias_pct.value < found.bias_pct.high < 0


def test_naive_is_the_narrowest() -> None:
    found = bias(*pair())
    naive, bootstrap, cosines, with_reference = (
        (estimate.high or 0.0) - (estimate.low or 0.0)
        for estimate in (found.naive_pct, found.bootstrap_pct, found.bias_pct, found.bias_with_reference_pct)
    )
    assert 0 < naive < min(bootstrap, cosines)
    assert with_reference > max(bootstrap, cosines)


def test_naive_is_that_of_independent_seconds() -> None:
    """For a reference without scatter the ratio is a mean, and its interval the textbook's."""
    generator = np.random.default_rng(1)
    expected_w = np.full(400, 200.0)
    unit_w = expected_w * (1 + 0.05 * generator.standard_normal(400))
    found = bias(expected_w, unit_w).naive_pct
    error = 100 * (unit_w / 200).std(ddof=1) / np.sqrt(400)
    assert found.high is not None
    assert found.value is not None
    assert found.high - found.value == pytest.approx(1.96592 * error, rel=1e-4)


def test_reference_uncertainty_adds_as_variance() -> None:
    expected_w, unit_w = pair()
    found = bias(expected_w, unit_w, 2.0)
    own, together = found.bias_pct, found.bias_with_reference_pct
    assert own.high is not None
    assert own.value is not None
    assert together.high is not None
    expected = np.hypot(own.high - own.value, 1.959964 * 2.0 * (1 + own.value / 100))
    assert together.high - own.value == pytest.approx(expected, rel=1e-6)
    assert found.reference_uncertainty_origin == "given"


def test_without_it_the_spread_of_meters_in_use() -> None:
    found = bias(*pair(), None)
    assert found.reference_uncertainty_pct == METERS_IN_USE_PCT == 3.2
    assert found.reference_uncertainty_origin.startswith("default: ")


def test_wander_is_described() -> None:
    generator = np.random.default_rng(2)
    expected_w = np.full(3600, 200.0)
    level = np.repeat(generator.standard_normal(60), 60)
    found = bias(expected_w, expected_w * (1 + 0.02 * level))
    assert found.wander_pct == pytest.approx(100 * 0.02 * level.std(), rel=0.1)
    assert 10 < found.wander_time_s < 90


def test_a_drift_makes_the_ride_short() -> None:
    expected_w = np.full(3600, 200.0)
    noise = 0.02 * np.random.default_rng(3).standard_normal(3600)
    assert bias(expected_w, expected_w * (1 + np.linspace(0, 0.05, 3600) + noise)).short_for_wander
    assert not bias(expected_w, expected_w * (1 + noise)).short_for_wander


def test_bootstrap_repeats_with_its_seed() -> None:
    expected_w, unit_w = pair()
    one, two = (
        overall_bias(expected_w, unit_w, level=LEVEL, reference_uncertainty_pct=0.0, seed=seed).bootstrap_pct
        for seed in (1, 2)
    )
    assert one == bias(expected_w, unit_w, 0.0).bootstrap_pct
    assert one != two


def test_a_perfect_unit_has_no_width() -> None:
    expected_w, _ = pair()
    found = bias(expected_w, expected_w)
    assert (found.bias_pct.low, found.bias_pct.value, found.bias_pct.high) == pytest.approx((0, 0, 0), abs=1e-12)
    assert not found.short_for_wander


@pytest.mark.parametrize(
    ("expected_w", "unit_w", "slug"),
    [
        (np.zeros(0), np.zeros(0), "no_common_seconds"),
        (np.array([200.0, np.nan] * 300), np.array([np.nan, 200.0] * 300), "no_common_seconds"),
        (np.full(59, 200.0), np.full(59, 200.0), "too_short"),
        (np.zeros(600), np.full(600, 200.0), "no_power_by_reference"),
    ],
)
def test_nothing_measured_is_never_a_number(expected_w: FloatArray, unit_w: FloatArray, slug: str) -> None:
    found = bias(expected_w, unit_w)
    for estimate in (found.bias_pct, found.bootstrap_pct, found.naive_pct, found.bias_with_reference_pct):
        assert estimate.value is None
        assert estimate.not_assessed == slug
    assert np.isnan(found.wander_time_s)


def test_spot_readings_are_enough() -> None:
    """Four readings a minute of a display, for half an hour."""
    expected_w, unit_w = pair(seconds=1800)
    spots = np.full(1800, np.nan)
    spots[::15] = unit_w[::15]
    found = bias(expected_w, spots).bias_pct
    assert found.low is not None
    assert found.high is not None
    assert found.low < 5.0 < found.high
    assert found.high - found.low < 3.0


def test_dead_unit() -> None:
    found = bias(pair()[0], np.zeros(3600)).bias_pct
    assert found.value == pytest.approx(-100.0)


def test_a_zero_error_is_no_wander() -> None:
    """A unit 4 % low that also adds 9 W, on intervals: its bias goes with power, but that of this ride is sure."""
    held, widths = [], []
    for seed in range(30):
        generator = np.random.default_rng(seed)
        power_w = effort_w(generator, 3600, "intervals")
        true_w = 0.96 * power_w + 9
        unit_w = true_w * (1 + 0.01 * wander(generator, 3600, 20))
        found = bias(power_w, unit_w).bias_pct
        assert found.low is not None
        assert found.high is not None
        held.append(found.low <= 100 * (true_w.sum() / power_w.sum() - 1) <= found.high)
        widths.append(found.high - found.low)
    assert np.mean(held) >= 0.85
    assert np.mean(widths) < 1.2
    without = bias(*pair(effort="intervals")).bias_pct
    assert without.low is not None
    assert without.high is not None
    assert np.mean(widths) < 1.6 * (without.high - without.low)
