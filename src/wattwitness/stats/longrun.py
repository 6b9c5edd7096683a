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

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray, frozen_floats
from wattwitness.stats.moving import sample_density
from wattwitness.stats.quantiles import student_quantile
from wattwitness.stats.wander import WHITE_SHARES, Wander

COSINES = 6
"""Cosines, and so degrees of freedom, of every interval."""

SECONDS_PER_COSINE = 50
SAMPLES_PER_COSINE = 4
"""A piece with less than this for each cosine takes the missing ones from the whole ride."""


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


def cosine_count(run: LongRun, samples: int) -> int:
    """How many cosines of its own a piece of ``samples`` bears."""
    return min(COSINES, int(samples / run.density / SECONDS_PER_COSINE), samples // SAMPLES_PER_COSINE)


def cosines(count: int, seconds: int) -> FloatArray:
    """Return the first ``count`` cosines over ``seconds`` consecutive samples, shape (count, seconds)."""
    middle = (np.arange(seconds) + 0.5) / seconds
    return np.cos(np.pi * np.arange(1, count + 1)[:, None] * middle)


def long_run(wander: Wander, error: FloatArray, scale: FloatArray, present: BoolArray) -> LongRun:
    """Size up the wander of the whole ride for every shape in ``wander``.

    Shapes (n,), finite; ``error`` sums to zero over ``present``, since it is what a fitted ratio leaves over.
    """
    at = np.flatnonzero(present)
    functionals = coefficient_functionals(np.ones((1, at.size)), scale[None, at], 0, COSINES)
    gram = _gram(wander, at, functionals * scale[at])
    size, _ = _sizes(gram, functionals[1:] @ error[at])
    return LongRun(wander=wander, size=size, density=sample_density(present))


def ratio_half_width(run: LongRun, error: FloatArray, scale: FloatArray, mask: BoolArray, level: float) -> float:
    """Return the half-width of the interval of sum(unit) / sum(scale) over the seconds in ``mask``.

    ``error`` (n,) is unit - ratio * scale with the ratio of these very seconds, so that it sums to zero over them;
    ``scale`` (n,) is the reference. The cosines run over the seconds in ``mask`` laid end to end; how far apart those
    were in the ride is kept in what the cosines are expected to be.
    """
    at = np.flatnonzero(mask)
    functionals = coefficient_functionals(np.ones((1, at.size)), scale[None, at], 0, cosine_count(run, at.size))
    return linear_half_width(run, at, functionals, error[at], scale[at], level)


def cosine_mean_interval(
    run: LongRun, values: FloatArray, scale: FloatArray, mask: BoolArray, level: float
) -> tuple[float, float, float]:
    """Return the mean of ``values`` over ``mask`` with the low and high end of its interval.

    Shapes (n,), finite where ``mask``. ``scale`` says where deviations are expected to be large (ones if unknown).
    """
    at = np.flatnonzero(mask)
    mean = float(values[at].mean())
    ones = np.ones((1, at.size))
    functionals = coefficient_functionals(ones, ones, 0, cosine_count(run, at.size))
    half = linear_half_width(run, at, functionals, values[at] - mean, scale[at], level)
    return mean, mean - half, mean + half


def linear_half_width(
    run: LongRun, at: IntArray, functionals: FloatArray, error: FloatArray, scale: FloatArray, level: float
) -> float:
    """Return the half-width of the interval of a linear function of the error.

    ``at`` (m,) are the seconds used; ``functionals`` (1 + B, m) the weights of the error in the estimate's own error
    (first row) and in B contrasts, ``error`` (m,) what the fit left over, on which each contrast takes the same value
    as on the true error; ``scale`` (m,) the expected size of the error. With fewer contrasts than ``COSINES`` the
    whole ride's size stands in for the missing ones.
    """
    contrasts = functionals.shape[0] - 1
    gram = _gram(run.wander, at, functionals * scale)
    own, unit_variance = _sizes(gram, functionals[1:] @ error)
    size = (contrasts * own + (COSINES - contrasts) * run.size) / COSINES
    probability = run.wander.probability
    variance = float(np.sum(probability * size * unit_variance))
    return student_quantile(level, COSINES) * float(np.sqrt(max(variance, 0.0)))


def coefficient_functionals(instruments: FloatArray, regressors: FloatArray, which: int, count: int) -> FloatArray:
    """Return the functionals of one coefficient of a line fitted with instruments, shape (1 + ``count``, m).

    ``instruments`` and ``regressors`` have shape (p, m); the coefficients b solve
    sum_t instruments_t (y_t - regressors_t . b) = 0. The first row holds the weight of each second's error in
    coefficient ``which``; the others are that row times a cosine, less what the fit takes out of it, so that each has
    the same value on the fit's residuals as on the true errors. A ratio of sums is the case of one instrument, 1.
    """
    inverse = np.linalg.inv(instruments @ regressors.T)
    weights = inverse[which] @ instruments
    waves = cosines(count, weights.size) * weights
    return np.vstack([weights, waves - (waves @ regressors.T) @ inverse @ instruments])


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
