"""The heart of this ride: its response, gain and drift, and how far it strays from them, fitted outside candidates.

Heart rate = level + gain · followed power + drift · time + a start that dies away + errors that follow one another:
a wander of seconds and a slow one of minutes, both Gaussian. Everything but the response is linear and has a Gaussian
prior; the response is averaged over a net of time constants and delays, each weighed by how well it fits (JCGM
101:2008, 6: the state of knowledge is carried, not a best value). Data are means of ``block_s`` seconds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.witnesses.heart_response import TICK_S, Responses, everywhere, followed, near
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray

LEAST_BLOCKS = 30
"""Fewer blocks of heart rate outside candidates teach nothing of a heart."""

PLAUSIBLE_BPM = (30.0, 230.0)
START_DIES_S = 90.0
SLOW_TAU_S = 600.0
QUICK_TAUS_S = (15.0, 40.0, 90.0)
SLOW_SHARES = (0.1, 0.5, 1.5)
WHITE_SHARE = 0.05
"""Variance of what does not follow on, beside the wander's: rounding and beats."""

LEAST_SD_BPM = 1.5
"""However well a ride fits: over 25 riders first-order fits left 2.5 bpm (an abstract of 2019)."""

PRIOR_MEAN = np.array([0.0, 0.35, 8.0, 0.0])
PRIOR_SD = np.array([200.0, 0.15, 8.0, 20.0])
"""Level (about the ride's mean) in bpm, gain in bpm/W, drift in bpm/h, start in bpm: common practice, no source."""

KEPT_WEIGHT = 1e-3
MOST_KEPT = 40
FEW = 6.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeartFit:
    """The heart over b blocks, from second ``begins_s`` on.

    ``bpm`` (b,) NaN where missing, ``known`` (b,) those fitted to. ``responses`` (g) with ``weight`` (g,) summing to 1
    and ``state`` (ticks, g) what each makes of ``power_w``. ``coefficients`` (g, 4) and their ``covariance`` (g, 4, 4).
    Errors have the variance ``sd_bpm``² times (``quick_tau_s``, ``slow_share``).
    """

    begins_s: int
    block_s: int
    bpm: FloatArray
    known: BoolArray
    power_w: FloatArray
    responses: Responses
    weight: FloatArray
    state: FloatArray
    coefficients: FloatArray
    covariance: FloatArray
    sd_bpm: float
    quick_tau_s: float
    slow_share: float

    def columns(self, blocks: IntArray, state: FloatArray) -> FloatArray:
        """Regressors at ``blocks`` (k,) from followed power ``state`` (k, g): shape (g, k, 4)."""
        return _columns(blocks, self.block_s, self.bpm.size, state)

    def correlation(self, rows: IntArray, columns: IntArray) -> FloatArray:
        """Covariance of the errors of two sets of blocks in units of ``sd_bpm``²."""
        return _errors(rows, columns, self.block_s, self.quick_tau_s, self.slow_share)


def fit_heart(heart_bpm: FloatArray, power_w: FloatArray, usable: BoolArray, begins_s: int) -> HeartFit | None:
    """Fit the heart to ``heart_bpm`` (n,) where ``usable`` (n,), driven by ``power_w`` (n,), none of it missing.

    ``None`` where there is too little heart rate, or it never changes.
    """
    block_s = 15 if heart_bpm.size <= 4000 else 20
    bpm = _block_means(heart_bpm, block_s)
    known = np.isfinite(bpm) & (_block_means(np.where(usable, 1.0, 0.0), block_s, plausible=False) > 0.99)
    if np.count_nonzero(known) < LEAST_BLOCKS or float(np.ptp(bpm[known])) < 2.0:
        return None
    at = np.flatnonzero(known)
    responses = everywhere()
    state = followed(power_w, responses, 0, None)
    quick, slow = 40.0, 0.5
    solved = _solve(bpm, at, block_s, responses, state, quick, slow)
    quick, slow = _error_shape(bpm, at, block_s, state, int(np.argmax(solved.weight)))
    solved = _solve(bpm, at, block_s, responses, state, quick, slow)
    if 1.0 / float(np.sum(solved.weight**2)) < FEW:
        responses = near(responses, int(np.argmax(solved.weight)))
        state = followed(power_w, responses, 0, None)
        solved = _solve(bpm, at, block_s, responses, state, quick, slow)
    order = np.argsort(solved.weight)[::-1][:MOST_KEPT]
    kept = order[solved.weight[order] >= KEPT_WEIGHT * solved.weight[order[0]]]
    return HeartFit(
        begins_s=begins_s,
        block_s=block_s,
        bpm=bpm,
        known=known,
        power_w=power_w,
        responses=responses.chosen(kept),
        weight=solved.weight[kept] / float(solved.weight[kept].sum()),
        state=state[:, kept],
        coefficients=solved.coefficients[kept],
        covariance=solved.covariance[kept],
        sd_bpm=solved.sd_bpm,
        quick_tau_s=quick,
        slow_share=slow,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    weight: FloatArray
    coefficients: FloatArray
    covariance: FloatArray
    sd_bpm: float


def _solve(
    bpm: FloatArray, at: IntArray, block_s: int, responses: Responses, state: FloatArray, quick: float, slow: float
) -> _Solved:
    """Linear coefficients, their covariance and the weight of every response, under one shape of the errors."""
    columns = at_blocks(state, at, block_s)
    fixed = _columns(at, block_s, bpm.size, columns[:, :1])[0][:, [0, 2, 3]]
    centre, size = float(bpm[at].mean()), at.size
    lower = np.linalg.cholesky(_errors(at, at, block_s, quick, slow))
    white = np.linalg.solve(lower, np.concatenate([fixed, bpm[at, None] - centre, columns], axis=1))
    base, target, driven = white[:, :3], white[:, 3], white[:, 4:]
    normal = np.empty((driven.shape[1], 4, 4))
    rest = np.array([0, 2, 3])
    normal[:, rest[:, None], rest[None, :]] = base.T @ base
    normal[:, 1, rest] = normal[:, rest, 1] = (base.T @ driven).T
    normal[:, 1, 1] = np.sum(driven * driven, axis=0)
    right = np.empty((driven.shape[1], 4))
    right[:, rest], right[:, 1] = base.T @ target, driven.T @ target
    variance = _variance(normal, right, target, size)
    precision = np.diag(PRIOR_SD**-2.0)
    inverse = np.linalg.inv(normal / variance + precision)
    coefficients = np.einsum("gij,gj->gi", inverse, right / variance + precision @ PRIOR_MEAN)
    misfit = (
        float(target @ target)
        - 2 * np.einsum("gi,gi->g", right, coefficients)
        + np.einsum("gi,gij,gj->g", coefficients, normal, coefficients)
    ) / variance
    from_prior = np.sum(((coefficients - PRIOR_MEAN) / PRIOR_SD) ** 2, axis=1)
    log_weight = -0.5 * (misfit + from_prior) + 0.5 * np.linalg.slogdet(inverse)[1] + responses.prior
    weight = np.exp(log_weight - log_weight.max())
    coefficients = coefficients.copy()
    coefficients[:, 0] += centre
    return _Solved(
        weight=weight / weight.sum(),
        coefficients=coefficients,
        covariance=np.asarray(inverse),
        sd_bpm=float(np.sqrt(variance)),
    )


def _variance(normal: FloatArray, right: FloatArray, target: FloatArray, size: int) -> float:
    """Variance of the errors at the response that fits best."""
    steady = normal + 1e-9 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(normal.shape[1])
    fitted = np.linalg.solve(steady, right[:, :, None])[:, :, 0]
    left = float(target @ target) - np.einsum("gi,gi->g", right, fitted)
    return max(float(left.min()) / max(size - 8, 1), LEAST_SD_BPM**2)


def _error_shape(bpm: FloatArray, at: IntArray, block_s: int, state: FloatArray, place: int) -> tuple[float, float]:
    """Time of the quick wander and share of the slow one that make the best response's residuals likeliest.

    Restricted likelihood (Patterson & Thompson 1971, Biometrika 58:545; from memory).
    """
    columns = _columns(at, block_s, bpm.size, at_blocks(state[:, place : place + 1], at, block_s))[0]
    both = np.concatenate([columns, bpm[at, None] - bpm[at].mean()], axis=1)
    best, found = -np.inf, (QUICK_TAUS_S[1], SLOW_SHARES[1])
    for quick in QUICK_TAUS_S:
        for slow in SLOW_SHARES:
            lower = np.linalg.cholesky(_errors(at, at, block_s, quick, slow))
            white = np.linalg.solve(lower, both)
            triangle = np.linalg.qr(white, mode="r")
            inner = np.abs(np.diag(triangle))
            degrees = at.size - 4
            likely = -degrees * np.log(inner[-1]) - np.log(np.diag(lower)).sum() - np.log(inner[:-1]).sum()
            if likely > best:
                best, found = float(likely), (quick, slow)
    return found


def at_blocks(state: FloatArray, blocks: IntArray, block_s: int, first_tick: int = 0) -> FloatArray:
    """Followed power (ticks, g) from tick ``first_tick`` on as means over ``blocks`` (k,): shape (k, g)."""
    each = block_s // TICK_S
    place = blocks[:, None] * each + np.arange(each) - first_tick
    return np.asarray(state[np.clip(place, 0, state.shape[0] - 1)].mean(axis=1))


def _columns(blocks: IntArray, block_s: int, size: int, state: FloatArray) -> FloatArray:
    hours = (blocks - size / 2) * block_s / 3600.0
    dying = np.exp(-(blocks + 0.5) * block_s / START_DIES_S)
    shape = state.T.shape
    return np.stack([np.ones(shape), state.T, np.broadcast_to(hours, shape), np.broadcast_to(dying, shape)], axis=2)


def _errors(rows: IntArray, columns: IntArray, block_s: int, quick_tau_s: float, slow_share: float) -> FloatArray:
    """Covariance of errors of two sets of blocks: quick wander of variance 1, slow wander, and white."""
    apart = np.abs(rows[:, None] - columns[None, :])
    lag_s = np.arange(int(apart.max()) + 1) * float(block_s)
    by_lag = np.exp(-lag_s / quick_tau_s) + slow_share * np.exp(-lag_s / SLOW_TAU_S)
    by_lag[0] += WHITE_SHARE
    return np.asarray(by_lag[apart])


def _block_means(values: FloatArray, block_s: int, *, plausible: bool = True) -> FloatArray:
    """Means of whole blocks; NaN where fewer than a third of the seconds hold a value that a heart can have."""
    whole = values[: values.size // block_s * block_s].reshape(-1, block_s)
    fine = np.isfinite(whole)
    if plausible:
        fine &= (np.nan_to_num(whole) >= PLAUSIBLE_BPM[0]) & (np.nan_to_num(whole) <= PLAUSIBLE_BPM[1])
    count = fine.sum(axis=1)
    sums = np.where(fine, whole, 0.0).sum(axis=1)
    return np.asarray(np.where(count >= block_s / 3, sums / np.maximum(count, 1), np.nan))
