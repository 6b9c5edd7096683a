"""Intervals from cosines: exact identities, and coverage by an error whose law is known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import wander
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.stats.longrun import (
    COSINES,
    LongRun,
    coefficient_functionals,
    cosine_mean_interval,
    cosines,
    long_run,
    ratio_half_width,
)
from wattwitness.stats.quantiles import student_quantile
from wattwitness.stats.wander import fit_wander

HOUR = 3600


def ratio_run(unit: FloatArray, scale: FloatArray, present: BoolArray) -> tuple[LongRun, FloatArray]:
    """The run of a ride, and what its ratio leaves over."""
    error = np.where(present, unit - unit[present].sum() / scale[present].sum() * scale, 0.0)
    return long_run(fit_wander(error, scale, present), error, scale, present), error


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
    coefficients = np.linalg.solve(instruments @ regressors.T, instruments @ answer)
    functionals = coefficient_functionals(instruments, regressors, 1, 4)
    assert functionals[0] @ errors == pytest.approx(coefficients[1] + 2.0)
    assert functionals[1:] @ (answer - coefficients @ regressors) == pytest.approx(functionals[1:] @ errors)


def test_white_noise_gives_the_plain_cosine_interval() -> None:
    """Where nothing wanders the half-width is t(6) sqrt(mean square of the scaled cosine sums / n)."""
    generator = np.random.default_rng(2)
    scale, present = np.full(HOUR, 200.0), np.ones(HOUR, dtype=bool)
    unit = scale * (1 + 0.03 * generator.standard_normal(HOUR))
    run, error = ratio_run(unit, scale, present)
    sums = np.sqrt(2 / HOUR) * cosines(COSINES, HOUR) @ error
    plain = student_quantile(0.95, COSINES) * np.sqrt(np.mean(sums**2) / HOUR) / 200
    assert ratio_half_width(run, error, scale, present, 0.95) == pytest.approx(plain, rel=0.15)


@pytest.mark.parametrize("tau_s", [20.0, 120.0])
def test_mean_covers_as_often_as_it_says(tau_s: float) -> None:
    generator = np.random.default_rng(3)
    ones, present = np.ones(HOUR), np.ones(HOUR, dtype=bool)
    held = []
    for _ in range(200):
        values = 1.0 + wander(generator, HOUR, tau_s)
        centred = values - values.mean()
        run = long_run(fit_wander(centred, ones, present), centred, ones, present)
        mean, low, high = cosine_mean_interval(run, values, ones, present, 0.95)
        assert mean == pytest.approx(values.mean())
        held.append(low <= 1.0 <= high)
    assert 0.90 <= np.mean(held) <= 0.99


def test_scattered_seconds_keep_their_distance_in_time() -> None:
    """Ten seconds here and there are worth more than as many in a row: the interval knows."""
    generator = np.random.default_rng(4)
    scale, present = np.full(HOUR, 200.0), np.ones(HOUR, dtype=bool)
    unit = scale * (1 + 0.02 * wander(generator, HOUR, 60))
    run, _ = ratio_run(unit, scale, present)
    together, apart = np.zeros(HOUR, dtype=bool), np.zeros(HOUR, dtype=bool)
    together[1000:1040] = True
    apart[::90] = True

    def half(mask: BoolArray) -> float:
        error = np.where(mask, unit - unit[mask].sum() / scale[mask].sum() * scale, 0.0)
        return ratio_half_width(run, error, scale, mask, 0.95)

    assert half(apart) < 0.5 * half(together)


def test_level_widens() -> None:
    generator = np.random.default_rng(5)
    scale, present = np.full(HOUR, 200.0), np.ones(HOUR, dtype=bool)
    run, error = ratio_run(scale * (1 + 0.02 * wander(generator, HOUR, 20)), scale, present)
    ratio = ratio_half_width(run, error, scale, present, 0.99) / ratio_half_width(run, error, scale, present, 0.95)
    assert ratio == pytest.approx(student_quantile(0.99, COSINES) / student_quantile(0.95, COSINES))


def test_no_error_no_width() -> None:
    scale, present = np.full(HOUR, 200.0), np.ones(HOUR, dtype=bool)
    run, error = ratio_run(1.05 * scale, scale, present)
    assert ratio_half_width(run, error, scale, present, 0.95) == pytest.approx(0.0, abs=1e-12)
