"""The filters on the time line, each against the plain loop it stands for."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.simulate.draws import Draws
from wattwitness.simulate.signals import (
    LEAD_S,
    RATE_HZ,
    at_times,
    box_mean,
    decay,
    decay_line,
    grid_size,
    grid_times,
    lagged,
    recursion,
    wander,
)


@pytest.mark.parametrize("stride", [1, 4])
def test_recursion_is_the_loop(stride: int) -> None:
    drive = Draws(1, "drive").normal(1003)
    expected = drive.copy()
    for place in range(stride, drive.size):
        expected[place] += 0.97 * expected[place - stride]
    np.testing.assert_allclose(recursion(drive, 0.97, stride), expected, rtol=1e-12, atol=1e-12)


def test_box_mean_is_the_trailing_mean() -> None:
    values = Draws(1, "box").uniform(50)
    padded = np.concatenate((np.full(6, values[0]), values))
    expected = [padded[place : place + 7].mean() for place in range(50)]
    np.testing.assert_allclose(box_mean(values, 7), expected, rtol=1e-12)


def test_reading_between_grid_points_is_exact_for_means_of_steps() -> None:
    # The mean over the second before t of a step at 0 climbs in a straight line from 0 to 1.
    times = grid_times(grid_size(10.0))
    shown = box_mean(np.where(times > 0.0, 1.0, 0.0), RATE_HZ)
    asked = np.array([-0.5, 0.0, 0.1, 0.333, 0.9, 1.0, 5.0])
    np.testing.assert_allclose(at_times(shown, asked), np.clip(asked, 0.0, 1.0), atol=1e-12)


def test_lag_and_decay_follow_the_exponential() -> None:
    times = grid_times(grid_size(300.0))
    stepped = lagged(np.where(times > 0.0, 1.0, 0.0), 20.0)
    at_20 = float(at_times(stepped, np.array([20.0]))[0])
    assert at_20 == pytest.approx(1.0 - math.exp(-1.0), abs=1e-9)
    fading = decay_line(times.size, 60.0)
    assert fading[LEAD_S * RATE_HZ - 1] == 1.0
    assert float(at_times(fading, np.array([60.0]))[0]) == pytest.approx(math.exp(-1.0), rel=1e-6)
    assert decay(0.0) == 0.0


def test_wander_is_stationary_with_its_spread_and_time() -> None:
    paths = np.array([wander(Draws(seed, "w"), 600, 2.0, 25.0) for seed in range(400)])
    assert paths[:, 0].std() == pytest.approx(2.0, rel=0.1)
    assert paths[:, -1].std() == pytest.approx(2.0, rel=0.1)
    later = np.corrcoef(paths[:, 200], paths[:, 200 + 25 * RATE_HZ])[0, 1]
    assert later == pytest.approx(math.exp(-1.0), abs=0.12)
    assert not np.any(wander(Draws(1, "w"), 10, 0.0, 25.0))
