"""Centred means with gaps."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.stats.moving import centred_mean, sample_density


def test_even_width_is_symmetric() -> None:
    impulse = np.zeros(101)
    impulse[50] = 1.0
    mean = centred_mean(impulse, 30)
    assert mean[20:81] == pytest.approx(mean[20:81][::-1])
    assert mean[50] == pytest.approx(1 / 30)
    assert mean[35] == pytest.approx(1 / 60)
    assert mean[34] == 0.0
    assert mean.sum() == pytest.approx(1.0)


def test_odd_width() -> None:
    values = np.arange(20.0)
    mean = centred_mean(values, 5)
    assert mean[2:-2] == pytest.approx(values[2:-2])


def test_missing_seconds_carry_no_weight() -> None:
    values = np.full(120, 200.0)
    values[50:60] = np.nan
    assert centred_mean(values, 30) == pytest.approx(np.full(120, 200.0))


def test_less_than_half_a_window_is_missing() -> None:
    values = np.full(200, 200.0)
    values[50:110] = np.nan
    mean = centred_mean(values, 30)
    assert np.isfinite(mean[:50]).all()
    assert np.isnan(mean[52:108]).all()


def test_spot_readings_by_their_own_density() -> None:
    spots = np.full(600, np.nan)
    spots[::15] = 150.0
    assert np.isnan(centred_mean(spots, 30)).all()
    density = sample_density(np.isfinite(spots))
    assert density == pytest.approx(1 / 15)
    assert centred_mean(spots, 30, density=density) == pytest.approx(np.full(600, 150.0))


def test_density_does_not_count_gaps() -> None:
    present = np.ones(3600, dtype=bool)
    present[500:2500] = False
    assert sample_density(present) == 1.0
    assert sample_density(np.zeros(10, dtype=bool)) == 0.0
