"""Intervals from cosines: exact identities, and coverage by an error whose law is known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import wander
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.stats.longrun import (
    COSINES,
    FittedSeconds,
    LongRun,
    _functionals,
    cosines,
    fit_seconds,
    half_width,
    long_run,
)
from wattwitness.stats.quantiles import student_quantile
from wattwitness.stats.wander import fit_wander

HOUR = 3600


def ratio_fit(unit: FloatArray, scale: FloatArray, mask: BoolArray) -> FittedSeconds:
    """The ratio of sums over ``mask``."""
    at = np.flatnonzero(mask)
    return fit_seconds(at, np.ones((1, at.size)), scale[None, at], unit[at], scale[at])


def ratio_run(unit: FloatArray, scale: FloatArray) -> tuple[LongRun, FittedSeconds]:
    """The run of a ride without gaps, and the fit of its ratio."""
    present = np.ones(unit.size, dtype=bool)
    fit = ratio_fit(unit, scale, present)
    return long_run(fit_wander(fit.error, scale, present), fit, 1.0), fit


def ratio_half_width(run: LongRun, fit: FittedSeconds, level: float = 0.95) -> float:
    """Half-width of the interval of the ratio."""
    return half_width(run, fit, fit.coefficient_weights(0), level)


def test_cosines_are_orthogonal() -> None:
    waves = cosines(6, 1000)
    assert waves @ waves.T == pytest.approx(500 * np.eye(6), abs=1e-9)
    assert waves.sum(axis=1) == pytest.approx(np.zeros(6), abs=1e-9)


def test_contrasts_do_not_see_the_fitted_coefficients() -> None:
    """The value of each contrast on the residuals is that on the true errors, whatever the fit took out."""
    generator = np.random.default_rng(1)
    regressors = np.vstack([np.full(500, 3.0), generator.standard_normal(500), np.arange(500.0)])
    instruments = regressors + 0.3 * generator.standard_normal(regressors.shape)
    errors = generator.standard_normal(500)
    answer = np.array([1.0, -2.0, 0.01]) @ regressors + errors
    fit = fit_seconds(np.arange(500), instruments, regressors, answer, np.ones(500))
    weights = fit.coefficient_weights(1)
    assert weights @ errors == pytest.approx(fit.coefficients[1] + 2.0)
    contrasts = _functionals(fit, weights, 4)[1:]
    assert contrasts @ fit.error == pytest.approx(contrasts @ errors)


def test_white_noise_gives_the_plain_cosine_interval() -> None:
    """Where nothing wanders the half-width is t(6) sqrt(mean square of the scaled cosine sums / n)."""
    ratios = []
    for seed in range(20):
        scale = np.full(HOUR, 200.0)
        run, fit = ratio_run(scale * (1 + 0.03 * np.random.default_rng(seed).standard_normal(HOUR)), scale)
        sums = np.sqrt(2 / HOUR) * cosines(COSINES, HOUR) @ fit.error
        plain = student_quantile(0.95, COSINES) * np.sqrt(np.mean(sums**2) / HOUR) / 200
        ratios.append(ratio_half_width(run, fit) / plain)
    assert np.median(ratios) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("tau_s", [20.0, 120.0])
def test_mean_covers_as_often_as_it_says(tau_s: float) -> None:
    generator = np.random.default_rng(3)
    ones = np.ones(HOUR)
    held = []
    for _ in range(200):
        run, fit = ratio_run(1.0 + wander(generator, HOUR, tau_s), ones)
        held.append(abs(fit.coefficients[0] - 1.0) <= ratio_half_width(run, fit))
    assert 0.90 <= np.mean(held) <= 0.99


def test_scattered_seconds_keep_their_distance_in_time() -> None:
    """Forty seconds here and there are worth more than as many in a row: the interval knows."""
    scale = np.full(HOUR, 200.0)
    unit = scale * (1 + 0.02 * wander(np.random.default_rng(4), HOUR, 60))
    run, _ = ratio_run(unit, scale)
    together, apart = np.zeros(HOUR, dtype=bool), np.zeros(HOUR, dtype=bool)
    together[1000:1040] = True
    apart[::90] = True
    in_a_row, here_and_there = (ratio_half_width(run, ratio_fit(unit, scale, mask)) for mask in (together, apart))
    assert here_and_there < 0.5 * in_a_row


def test_level_widens() -> None:
    scale = np.full(HOUR, 200.0)
    run, fit = ratio_run(scale * (1 + 0.02 * wander(np.random.default_rng(5), HOUR, 20)), scale)
    ratio = ratio_half_width(run, fit, 0.99) / ratio_half_width(run, fit, 0.95)
    assert ratio == pytest.approx(student_quantile(0.99, COSINES) / student_quantile(0.95, COSINES))


def test_no_error_no_width() -> None:
    scale = np.full(HOUR, 200.0)
    run, fit = ratio_run(1.05 * scale, scale)
    assert ratio_half_width(run, fit) == pytest.approx(0.0, abs=1e-12)
