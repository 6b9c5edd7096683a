"""Each ride's own error variance, which is itself estimated from a dozen pieces of that ride.

Rides of one unit with one reference wander alike, so their variances inform each other: each is drawn towards the
common one by as much as their scatter allows. Smyth GK (2004) Stat. Appl.
Genet. Mol. Biol. 3:3, eq. 6-10 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import FloatArray


def drawn_together(variance: FloatArray, degrees: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Variances (k,) and their degrees of freedom after sharing what they have in common.

    Infinite degrees (a variance that is known) are kept as they are. With fewer than two to learn from, nothing moves.
    """
    from scipy.special import digamma, polygamma

    usable = (variance > 0) & np.isfinite(degrees) & (degrees > 0)
    if usable.sum() < 2:
        return variance.copy(), degrees.copy()
    half = degrees[usable] / 2
    logs = np.log(variance[usable]) - digamma(half) + np.log(half)
    scatter = float(np.var(logs, ddof=1) - polygamma(1, half).mean())
    if scatter > 0:
        prior = 2 * _inverse_trigamma(scatter)
        centre = math.exp(float(logs.mean()) + float(digamma(prior / 2)) - math.log(prior / 2))
    else:
        prior, centre = math.inf, math.exp(float(logs.mean()))
    shared, known = variance.copy(), degrees.copy()
    if math.isinf(prior):
        shared[usable] = centre
        known[usable] = degrees[usable].sum()
    else:
        shared[usable] = (prior * centre + degrees[usable] * variance[usable]) / (prior + degrees[usable])
        known[usable] = np.minimum(prior + degrees[usable], degrees[usable].sum())
    return shared, known


def _inverse_trigamma(value: float) -> float:
    """Return x with trigamma(x) = ``value`` > 0, by Newton's steps on 1 / trigamma (Smyth 2004, appendix)."""
    from scipy.special import polygamma

    if value > 1e7:
        return 1 / math.sqrt(value)
    if value < 1e-6:
        return 1 / value
    x = 0.5 + 1 / value
    for _ in range(50):
        now = float(polygamma(1, x))
        step = now * (1 - now / value) / float(polygamma(2, x))
        x += step
        if -step / x < 1e-8:
            break
    return x
