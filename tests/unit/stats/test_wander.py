"""What a ride tells of how its error wanders."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import wander
from wattwitness.model.arrays import FloatArray
from wattwitness.stats.wander import Wander, fit_wander

HOUR = 3600


def fitted(error: FloatArray) -> Wander:
    """Wander of an error on a constant 200 W."""
    return fit_wander(200 * error, np.full(error.size, 200.0), np.ones(error.size, dtype=bool))


def test_correlation_time_is_found() -> None:
    for tau_s in (40.0, 120.0):
        times = [
            fitted(0.02 * wander(np.random.default_rng(seed), HOUR, tau_s)).correlation_time_s() for seed in range(20)
        ]
        assert np.median(times) == pytest.approx(tau_s, rel=0.25)


def test_white_noise_has_no_correlation_time() -> None:
    times = [
        fitted(0.04 * np.random.default_rng(seed).standard_normal(HOUR)).correlation_time_s() for seed in range(20)
    ]
    assert np.mean(np.isnan(times)) >= 0.9


def test_probabilities_add_up_and_no_error_does_not_wander() -> None:
    found = fitted(np.zeros(HOUR))
    assert found.probability.sum() == pytest.approx(1.0)
    assert found.probability_beyond(HOUR / 50) == 0.0
    assert np.isnan(found.correlation_time_s())


def test_too_little_leaves_every_shape_possible() -> None:
    present = np.zeros(HOUR, dtype=bool)
    present[:60] = True
    found = fit_wander(np.random.default_rng(1).standard_normal(HOUR), np.full(HOUR, 200.0), present)
    assert found.probability.min() == pytest.approx(found.probability.max())


def test_spectrum_is_that_of_the_covariance_of_cell_means() -> None:
    """By direct sums of exp(-|t|/tau) over two cells, second by second in fine steps."""
    found = fitted(0.02 * wander(np.random.default_rng(1), HOUR, 60.0))
    index = 8
    tau_s, cell_s = float(found.tau_s[index]), found.cell_s
    covariances = np.fft.irfft(found.spectrum[index])
    fine_s = (np.arange(400) + 0.5) * cell_s / 400

    def covariance(lag: int) -> float:
        return float(np.exp(-np.abs(fine_s[:, None] - fine_s[None, :] - lag * cell_s) / tau_s).mean())

    for lag in (1, 2, 5):
        assert covariances[lag] == pytest.approx(covariance(lag) / covariance(0), rel=1e-4)
    assert covariances[0] == pytest.approx(1.0)


def test_coasting_and_gaps_do_not_hide_it() -> None:
    times = []
    for seed in range(15):
        generator = np.random.default_rng(seed)
        power = np.where(wander(generator, HOUR, 20) > 0.8, 0.0, 220.0)
        present = np.ones(HOUR, dtype=bool)
        present[1000:1900] = False
        error = np.where(present, power * 0.02 * wander(generator, HOUR, 60), 0.0)
        times.append(fit_wander(error, np.where(present, power, 0.0), present).correlation_time_s())
    assert np.nanmedian(times) == pytest.approx(60.0, rel=0.4)
