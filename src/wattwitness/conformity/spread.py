"""How probable a spread between rides is at or below a limit."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import FloatArray


def chance_spread_within(
    limit: float, bias: FloatArray, standard_error: FloatArray, error_degrees: float = math.inf
) -> float:
    """Probability that the standard deviation between rides is at most ``limit``, from k rides (k,), percent.

    The confidence distribution of the generalised Q statistic: Viechtbauer W (2007) Stat. Med. 26:37-52 (from memory).
    Q at the true spread is chi-squared with k - 1 degrees of freedom, and falls as the spread supposed grows. Where the
    rides' errors are themselves estimated, with ``error_degrees`` of freedom together, Q is held against the variance
    ratio instead, with Satterthwaite's degrees for error and spread together. NaN with fewer than two rides.
    """
    from scipy.special import chdtrc, fdtrc

    if bias.size < 2:
        return float("nan")
    q = generalised_q(limit, bias, standard_error)
    usual = float(np.mean(standard_error**2))
    if math.isinf(error_degrees) or usual <= 0:
        return float(chdtrc(bias.size - 1, q))
    effective = error_degrees * ((limit**2 + usual) / usual) ** 2
    return float(fdtrc(bias.size - 1, min(effective, 1e9), q / (bias.size - 1)))


def generalised_q(spread: float, bias: FloatArray, standard_error: FloatArray) -> float:
    """Weighted sum of squares about the weighted mean if the spread between rides were ``spread``; shapes (k,)."""
    weight = 1 / np.maximum(standard_error**2 + spread**2, 1e-300)
    mean = float((weight * bias).sum() / weight.sum())
    return float((weight * (bias - mean) ** 2).sum())


def spread_quantile(
    share: float, bias: FloatArray, standard_error: FloatArray, error_degrees: float = math.inf
) -> float:
    """The spread that this ``share`` of the confidence distribution lies below: 0 where even none explains it all."""
    low, high = 0.0, 10 * float(np.std(bias) + np.max(standard_error)) + 1e-6
    if chance_spread_within(low, bias, standard_error, error_degrees) >= share:
        return 0.0
    while chance_spread_within(high, bias, standard_error, error_degrees) < share and high < 1e6:
        high *= 4
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (
            (middle, high)
            if chance_spread_within(middle, bias, standard_error, error_degrees) < share
            else (low, middle)
        )
    return (low + high) / 2
