"""How an error wanders: the shape of its slow correlation, learnt from the ride itself.

The relative error of a meter is modelled as a first-order (Ornstein-Uhlenbeck) wander plus white noise. The model is
never asked for the size of the error, only for its shape: which correlation times the ride leaves possible, and how
much of the variance is white. The intervals of ``longrun`` average over all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats
from wattwitness.stats.cosine_transform import cosine_coefficients

CELLS = 180
"""Cells the ride is cut into: 20 s for an hour. What is faster than a cell may look as white as it likes: with finer
cells a fast wander hides a slow one beside it (an error of 2 % over 5 s and 0.5 % over 10 min was covered by 0.84
instead of 0.91). No ride costs more than these."""

SHOWN = 0.9
"""A correlation time is given when wander, not white noise, makes most of the mean's uncertainty with this
probability."""

LEAST_CELLS = 8
"""With fewer cells nothing is learnt: every shape stays as likely as any other."""

NO_ERROR = 1e-9
"""Relative errors no larger than this are rounding: two copies of one power do not wander."""

TAU_STEPS = 20
WHITE_SHARES = np.array([0.0, 0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95, 0.99, 1.0])

NO_WANDER = 0.5
"""Prior probability that there is no wander at all, only white noise."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wander:
    """Shapes of the error's correlation that the ride leaves possible, with their probabilities.

    ``cell_s`` is the cell length, ``cells`` their number N over ``seconds``. ``tau_s`` (K,) are the correlation times
    tried, log-spaced; ``probability`` (K, M) goes with ``tau_s`` and ``WHITE_SHARES`` (M,) and sums to one.
    ``spectrum`` (K, N + 1) is the transform of the circulant that embeds the unit-variance covariance of cell means;
    ``slow_share`` (K, M) the part of the wander, as against white noise, in the variance of the ride's mean.
    """

    seconds: int
    cell_s: int
    cells: int
    tau_s: FloatArray
    probability: FloatArray
    spectrum: FloatArray
    slow_share: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("tau_s", "probability", "spectrum", "slow_share"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    def probability_beyond(self, tau_s: float) -> float:
        """Probability that the error wanders with a correlation time beyond ``tau_s`` and that this matters."""
        matters = np.where(self.slow_share > 0.5, self.probability, 0.0).sum(axis=1)
        below = np.cumsum(matters) - matters / 2
        return float(matters.sum() - np.interp(np.log(tau_s), np.log(self.tau_s), below, left=0.0, right=matters.sum()))

    def correlation_time_s(self) -> float:
        """Posterior median of the integral correlation time, seconds; NaN unless the ride shows a slow wander.

        For a first-order wander the integral of its autocorrelation over positive lags is its time constant.
        """
        matters = np.where(self.slow_share > 0.5, self.probability, 0.0).sum(axis=1)
        if matters.sum() < SHOWN:
            return float("nan")
        middle = (np.cumsum(matters) - matters / 2) / matters.sum()
        return float(np.exp(np.interp(0.5, middle, np.log(self.tau_s))))


def fit_wander(error: FloatArray, scale: FloatArray, present: BoolArray) -> Wander:
    """Learn the shape of ``error / scale`` from cell means along the ride.

    ``error`` and ``scale`` have shape (n,), one a second, finite everywhere, and count only where ``present``; n is
    at least 60. ``scale`` says how large an error is to be expected (the power): cells where it is under a quarter of
    its mean tell nothing of a relative error and are passed over, as are cells with less than half of the
    samples a cell usually has; cells either side of a gap are taken as neighbours.

    The likelihood is Whittle's on the cosine transform (type II) of the cell means, which all but diagonalises a
    first-order process; its size is profiled out (with a 1/size prior), so only the shape counts. The prior gives
    even chances to white noise alone; what is left is flat on the grid, log-uniform in the correlation time from half a
    cell to half the ride.
    Whittle P (1953) Ark. Mat. 2:423-434 (from memory).
    """
    seconds = error.size
    cell_s = max(2, round(seconds / CELLS))
    cells = -(-seconds // cell_s)
    tau_s = np.geomspace(cell_s / 2, seconds / 2, TAU_STEPS)
    variance, first_lag, decay = _cell_covariance(tau_s, cell_s)
    power = cosine_coefficients(_cell_errors(error, scale, present, cell_s))[1:] ** 2
    probability = _posterior(power, variance, first_lag, decay)
    slow = 1 + 2 * first_lag / variance / (1 - decay)
    white = WHITE_SHARES[None, :]
    slow_share = (1 - white) * slow[:, None] / ((1 - white) * slow[:, None] + white)
    return Wander(
        seconds=seconds,
        cell_s=cell_s,
        cells=cells,
        tau_s=tau_s,
        probability=probability,
        spectrum=_circulant_spectrum(variance, first_lag, decay, cells),
        slow_share=slow_share,
    )


def _cell_errors(error: FloatArray, scale: FloatArray, present: BoolArray, cell_s: int) -> FloatArray:
    """Relative error of each cell that can tell, less their mean."""
    starts = np.arange(0, error.size, cell_s)
    errors = np.add.reduceat(np.where(present, error, 0.0), starts)
    scales = np.add.reduceat(np.where(present, scale, 0.0), starts)
    counts = np.add.reduceat(present.astype(np.float64), starts)
    typical = scales.sum() / max(counts.sum(), 1.0)
    usual = float(np.median(counts[counts > 0])) if counts.any() else 0.0
    tells = (counts > 0) & (counts >= usual / 2) & (scales > 0.25 * typical * counts)
    relative = errors[tells] / scales[tells]
    return np.asarray(relative - relative.mean() if relative.size else relative, dtype=np.float64)


def _cell_covariance(tau_s: FloatArray, cell_s: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Variance, lag-one covariance and decay per cell of the cell means of a unit-variance first-order process."""
    per_cell = cell_s / tau_s
    decay = np.exp(-per_cell)
    variance = 2 * (per_cell - 1 + decay) / per_cell**2
    return variance, ((1 - decay) / per_cell) ** 2, decay


def _posterior(power: FloatArray, variance: FloatArray, first_lag: FloatArray, decay: FloatArray) -> FloatArray:
    """Probability of each correlation time (K,) and white share (M,), shape (K, M)."""
    shape = (variance.size, WHITE_SHARES.size)
    if power.size < LEAST_CELLS:
        return np.full(shape, 1.0 / (shape[0] * shape[1]))
    if power.mean() < NO_ERROR**2:
        nothing_slow = np.zeros(shape)
        nothing_slow[0, -1] = 1.0
        return nothing_slow
    cosine = np.cos(np.pi * np.arange(1, power.size + 1) / (power.size + 1))
    decays, firsts = decay[:, None], (first_lag / variance)[:, None]
    slow = 1 + 2 * firsts * (cosine - decays) / (1 - 2 * decays * cosine + decays**2)
    white = WHITE_SHARES[None, :, None]
    density = (1 - white) * slow[:, None, :] + white
    fit = -0.5 * (power.size * np.log((power / density).sum(axis=2)) + np.log(density).sum(axis=2))
    prior = np.full(WHITE_SHARES.size, (1 - NO_WANDER) / (WHITE_SHARES.size - 1))
    prior[-1] = NO_WANDER
    probability = prior * np.exp(fit - fit.max())
    return np.asarray(probability / probability.sum(), dtype=np.float64)


def _circulant_spectrum(variance: FloatArray, first_lag: FloatArray, decay: FloatArray, cells: int) -> FloatArray:
    """Transform (K, cells + 1) of the covariances at lags 0..cells, mirrored, variance scaled to one."""
    lags = np.arange(cells + 1)
    covariance = (first_lag / variance)[:, None] * decay[:, None] ** np.maximum(lags - 1, 0)
    covariance[:, 0] = 1.0
    return np.fft.rfft(np.concatenate([covariance, covariance[:, cells - 1 : 0 : -1]], axis=1)).real
