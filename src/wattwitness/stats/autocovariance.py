"""Autocovariances of a series, and the long-run covariance that a lag window makes of them."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray


def autocovariances(values: FloatArray, lags: int) -> FloatArray:
    """Return the autocovariances of ``values`` (n,) at lags 0..``lags``, divisor n, mean removed; shape (lags + 1,)."""
    centred = values - values.mean()
    transform = np.fft.rfft(centred, 1 << (2 * values.size - 1).bit_length())
    return np.asarray(np.fft.irfft(np.abs(transform) ** 2)[: lags + 1] / values.size, dtype=np.float64)


def lag_window_sum(covariances: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the long-run covariance: lag 0, and each later lag on both sides, by ``weights``.

    ``covariances`` has shape (L + 1,) for one series, or (L + 1, k, k) for k series, [l, i, j] = cov(x_i(t), x_j(t-l));
    ``weights`` (L + 1,) are those of the lag window, 1 at lag 0: Bartlett's 1 - l/(L + 1) gives the estimator of
    Newey & West (1987) Econometrica 55:703-708, equation 5; a flat top that of Politis & Romano (1995).
    """
    one_sided = np.tensordot(weights[1:], covariances[1:], axes=1)
    return np.asarray(weights[0] * covariances[0] + one_sided + np.transpose(one_sided), dtype=np.float64)
