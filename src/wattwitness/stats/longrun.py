"""Intervals for means, ratios and slopes along a ride whose error wanders slowly.

Seconds are not independent: an error that moves over minutes leaves an hour with few independent pieces. The size of
the slow part is read off a few equal-weighted cosines along the ride and the interval takes Student's t with as many
degrees of freedom (Lazarus, Lewis, Stock & Watson 2018, J. Bus. Econ. Stat. 36:541-559, "equal-weighted cosine" test;
from memory). Plain cosines see too little of a wander that is not much faster than they are, and on a mask of
scattered seconds, or beside an estimated ratio, they are neither equal nor independent. Each is therefore set against
what it would be under every shape of correlation that the ride leaves possible (``Wander``); where the wander is fast
this changes nothing. In the manner of Mueller (2014), J. Bus. Econ. Stat. 32:311-322 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray, frozen_floats
from wattwitness.stats.quantiles import student_quantile
from wattwitness.stats.wander import WHITE_SHARES, Wander

COSINES = 6
"""Cosines, and so degrees of freedom, of every interval."""

WORST_CONDITION = 1e8
"""Beyond this a fit's coefficients are rounding."""

SECONDS_PER_COSINE = 50
CELLS_PER_COSINE = 5 / 3
SAMPLES_PER_COSINE = 4
"""A piece with less than any of these for each cosine takes the missing ones from the whole ride. The shapes of wander
are known in cells, which are longer in longer rides: more cosines than a piece has cells cannot be told apart in them,
and what single seconds do would be taken for a huge wander.
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittedSeconds:
    """Some seconds of a ride and a line fitted to them with instruments.

    ``at`` (m,) are the seconds; ``instruments`` and ``regressors`` (p, m) are those of
    sum_t instruments_t (y_t - regressors_t . coefficients) = 0; ``error`` (m,) is what the fit leaves over and
    ``scale`` (m,) how large an error is to be expected. The ratio of two sums is the case of one instrument, 1.
    """

    at: IntArray
    instruments: FloatArray
    regressors: FloatArray
    coefficients: FloatArray
    error: FloatArray
    scale: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("instruments", "regressors", "coefficients", "error", "scale"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    @property
    def determined(self) -> bool:
        """Whether the seconds set every coefficient; if not, only what does not hang on the others can be used."""
        lengths = [np.linalg.norm(rows, axis=1) for rows in (self.instruments, self.regressors)]
        if not all(np.all(length > 0) for length in lengths):
            return False
        cosine = self.instruments @ self.regressors.T / np.outer(*lengths)
        return bool(np.linalg.cond(cosine) < WORST_CONDITION)

    def coefficient_weights(self, which: int) -> FloatArray:
        """The weight (m,) of each second's error in the error of coefficient ``which`` of a determined fit."""
        weights = np.linalg.solve((self.instruments @ self.regressors.T).T, np.eye(len(self.instruments))[which])
        return np.asarray(weights @ self.instruments, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LongRun:
    """The wander of a ride and, for each of its possible shapes, the size the whole ride's cosines give it (K, M).

    ``density`` is the usual number of samples a second: 1, or less for spot readings.
    """

    wander: Wander
    size: FloatArray
    density: float

    def __post_init__(self) -> None:
        """Copy and freeze the array."""
        object.__setattr__(self, "size", frozen_floats(self.size))


def fit_seconds(
    at: IntArray, instruments: FloatArray, regressors: FloatArray, answer: FloatArray, scale: FloatArray
) -> FittedSeconds:
    """Fit ``answer`` (m,) on ``regressors`` (p, m) with ``instruments`` (p, m); see ``FittedSeconds``."""
    coefficients = np.linalg.lstsq(instruments @ regressors.T, instruments @ answer, rcond=None)[0]
    return FittedSeconds(
        at=at,
        instruments=instruments,
        regressors=regressors,
        coefficients=np.asarray(coefficients, dtype=np.float64),
        error=answer - coefficients @ regressors,
        scale=scale,
    )


def cosines(count: int, seconds: int) -> FloatArray:
    """Return the first ``count`` cosines over ``seconds`` consecutive samples, shape (count, seconds)."""
    waves = np.ones((count + 1, seconds))
    waves[1:2] = np.cos(np.pi * (np.arange(seconds) + 0.5) / seconds)
    for index in range(2, count + 1):
        waves[index] = 2 * waves[1] * waves[index - 1] - waves[index - 2]
    return waves[1:]


def long_run(wander: Wander, fit: FittedSeconds, density: float) -> LongRun:
    """Size up the wander for every shape in ``wander`` by a fit to the whole ride."""
    functionals = _functionals(fit, np.ones(fit.at.size), COSINES)
    size, _ = _sizes(_gram(wander, fit.at, functionals * fit.scale), functionals[1:] @ fit.error)
    return LongRun(wander=wander, size=size, density=density)


def half_width(run: LongRun, fit: FittedSeconds, weights: FloatArray, level: float) -> float:
    """Return the half-width of the interval of an estimate whose error is sum(``weights`` * error), weights (m,).

    The cosines run over the seconds of ``fit`` laid end to end; how far apart those were in the ride is kept in what
    the cosines are expected to be. A fit of few seconds bears fewer cosines than ``COSINES``: the whole ride's size
    stands in for the missing ones.
    """
    samples = fit.at.size
    each_s = max(SECONDS_PER_COSINE, CELLS_PER_COSINE * run.wander.cell_s)
    count = min(COSINES, int(samples / run.density / each_s), samples // SAMPLES_PER_COSINE)
    functionals = _functionals(fit, weights, count)
    own, unit_variance = _sizes(_gram(run.wander, fit.at, functionals * fit.scale), functionals[1:] @ fit.error)
    size = (count * own + (COSINES - count) * run.size) / COSINES
    variance = float(np.sum(run.wander.probability * size * unit_variance))
    return student_quantile(level, COSINES) * float(np.sqrt(max(variance, 0.0)))


def _functionals(fit: FittedSeconds, weights: FloatArray, count: int) -> FloatArray:
    """The weights of each second's error in the estimate, and in ``count`` contrasts, shape (1 + count, m).

    A contrast is the weights times a cosine, less what the fit takes out of it, so that it has the same value on what
    the fit leaves over as on the true errors.
    """
    waves = cosines(count, weights.size) * weights
    taken = np.linalg.lstsq((fit.instruments @ fit.regressors.T).T, (waves @ fit.regressors.T).T, rcond=None)[0]
    return np.vstack([weights, waves - taken.T @ fit.instruments])


def _gram(wander: Wander, at: IntArray, weights: FloatArray) -> FloatArray:
    """Covariance of the functionals under each shape of unit size, shape (K, M, F, F), for ``weights`` (F, m)."""
    cell = at // wander.cell_s
    sums = np.array([np.bincount(cell, row, minlength=wander.cells) for row in weights])
    transform = np.fft.rfft(sums, 2 * wander.cells, axis=1)
    fold = np.full(wander.cells + 1, 2.0)
    fold[[0, -1]] = 1.0
    cross = np.real(transform[:, None, :] * transform[None, :, :].conj()) * (fold / (2 * wander.cells))
    slow = np.moveaxis(cross @ wander.spectrum.T, 2, 0)
    white = wander.cell_s * (weights @ weights.T)
    share = WHITE_SHARES[None, :, None, None]
    return np.asarray((1 - share) * slow[:, None] + share * white, dtype=np.float64)


def _sizes(gram: FloatArray, contrasts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Size of the error the contrasts show under each shape, and the unit-size variance of the estimate, (K, M)."""
    unit_variance = gram[..., 0, 0]
    if contrasts.size == 0:
        return np.zeros_like(unit_variance), unit_variance
    inner = gram[..., 1:, 1:]
    trace = np.trace(inner, axis1=2, axis2=3)
    if not np.all(trace > 0):
        return np.zeros_like(unit_variance), unit_variance
    ridge = (1e-9 * trace)[..., None, None] * np.eye(contrasts.size)
    solved = np.linalg.solve(inner + ridge, np.broadcast_to(contrasts[:, None], (*trace.shape, contrasts.size, 1)))
    return np.asarray(solved[..., 0] @ contrasts / contrasts.size, dtype=np.float64), unit_variance
