"""Bands by power and by cadence, and who may say which band a second belongs to."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import effort_w, wander
from tests.unit.agreement.rides import LEVEL, pair
from wattwitness.agreement.bands import cadence_bands, power_bands
from wattwitness.model.arrays import FloatArray


def two_levels(low_w: float, high_w: float, seconds: int = 3600) -> FloatArray:
    """Four minutes at one power, four at the other."""
    return np.where((np.arange(seconds) // 240) % 2 == 0, low_w, high_w)


def test_edges_are_multiples_of_the_width() -> None:
    expected_w, unit_w = pair()
    bands = power_bands(expected_w, unit_w, width_w=40, level=LEVEL)
    assert all(band.low_w % 40 == 0 and band.high_w == band.low_w + 40 for band in bands)
    assert [band.low_w for band in bands] == sorted({band.low_w for band in bands})
    assert sum(band.seconds for band in bands) == pytest.approx(3600, abs=1)


def test_each_level_has_its_own_bias() -> None:
    expected_w = two_levels(175.0, 325.0)
    unit_w = np.where(expected_w < 250, 1.02, 0.97) * expected_w
    by_low = {band.low_w: band for band in power_bands(expected_w, unit_w, width_w=50, level=LEVEL)}
    assert by_low[150.0].bias_pct.value == pytest.approx(2.0, abs=0.3)
    assert by_low[300.0].bias_pct.value == pytest.approx(-3.0, abs=0.3)


def test_levels_on_an_edge_with_a_noisy_reference() -> None:
    """A rider held at 200 and 300 W: the noise of the reference must not choose who is off."""
    off = []
    for seed in range(12):
        generator = np.random.default_rng(seed)
        true_w = two_levels(200.0, 300.0) * (1 + 0.02 * generator.standard_normal(3600))
        expected_w = true_w * (1 + 0.04 * generator.standard_normal(3600))
        bands = power_bands(expected_w, true_w, width_w=50, level=LEVEL)
        off.append({band.low_w: band.bias_pct.value for band in bands})
    for low_w in (150.0, 200.0, 250.0, 300.0):
        values = [found[low_w] for found in off if found.get(low_w) is not None]
        assert np.mean(np.array(values, dtype=float)) == pytest.approx(0.0, abs=0.2)


def test_levels_on_an_edge_with_a_noisy_unit() -> None:
    values: list[float] = []
    for seed in range(12):
        generator = np.random.default_rng(seed)
        true_w = two_levels(200.0, 300.0) * (1 + 0.02 * generator.standard_normal(3600))
        unit_w = true_w * (1 + 0.04 * generator.standard_normal(3600))
        bands = power_bands(true_w, unit_w, width_w=50, level=LEVEL)
        values += [band.bias_pct.value for band in bands if band.low_w == 200.0 and band.bias_pct.value is not None]
    assert np.mean(values) == pytest.approx(0.0, abs=0.2)


def test_a_unit_at_fault_stays_in_the_band_of_the_effort() -> None:
    """A unit that halves its display for five minutes at 275 W spoils the band of 275 W and no other."""
    expected_w = two_levels(175.0, 275.0) * (1 + 0.01 * np.random.default_rng(1).standard_normal(3600))
    unit_w = expected_w.copy()
    unit_w[1300:1420] *= 0.5
    assert expected_w[1300:1420].min() > 250
    by_low = {band.low_w: band.bias_pct.value for band in power_bands(expected_w, unit_w, width_w=50, level=LEVEL)}
    spoilt, sound = by_low[250.0], by_low[150.0]
    assert spoilt is not None
    assert sound is not None
    assert spoilt < -2.0
    assert abs(sound) < 0.3


def test_a_minute_is_needed() -> None:
    expected_w = np.full(1200, 225.0)
    expected_w[600:650] = 525.0
    bands = power_bands(expected_w, expected_w, width_w=100, level=LEVEL)
    short = [band for band in bands if 0 < band.seconds < 60]
    assert short
    assert all(band.bias_pct.not_assessed == "too_few_seconds" for band in short)
    assert all(np.isfinite(band.reference_w) for band in short)


def test_coasting_enters_the_lowest_band() -> None:
    expected_w = np.where((np.arange(3600) // 300) % 2 == 0, 0.0, 225.0)
    lowest = power_bands(expected_w, expected_w, width_w=50, level=LEVEL)[0]
    assert (lowest.low_w, lowest.high_w) == (0.0, 50.0)
    assert lowest.seconds > 1500
    assert lowest.bias_pct.not_assessed == "too_little_power"


def test_cadence_bands() -> None:
    generator = np.random.default_rng(3)
    cadence_rpm = np.where((np.arange(3600) // 300) % 2 == 0, 65.0, 95.0) + wander(generator, 3600, 5)
    expected_w = effort_w(generator, 3600, "steady")
    unit_w = np.where(cadence_rpm < 80, 1.0, 1.06) * expected_w
    by_low = {
        band.low_rpm: band.bias_pct.value
        for band in cadence_bands(cadence_rpm, expected_w, unit_w, width_rpm=10, level=LEVEL)
    }
    assert by_low[60.0] == pytest.approx(0.0, abs=0.3)
    assert by_low[90.0] == pytest.approx(6.0, abs=0.3)


def test_cadence_missing_is_no_band() -> None:
    expected_w, unit_w = pair()
    assert cadence_bands(np.full(3600, np.nan), expected_w, unit_w, width_rpm=10, level=LEVEL) == ()


def test_nothing_common_gives_no_bands() -> None:
    nothing = np.full(100, np.nan)
    assert power_bands(nothing, nothing, width_w=50, level=LEVEL) == ()


def test_spot_readings_enter_by_the_reference() -> None:
    expected_w = two_levels(175.0, 325.0)
    spots = np.full(3600, np.nan)
    spots[7::15] = 1.05 * expected_w[7::15]
    bands = power_bands(expected_w, spots, width_w=50, level=LEVEL)
    assert {150.0, 300.0} <= {band.low_w for band in bands}
    assert [band.bias_pct.value for band in bands] == pytest.approx([5.0] * len(bands))
