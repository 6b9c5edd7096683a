"""How probable it is that what is claimed holds, given an estimate and the reference's own uncertainty.

Conformance probability: JCGM 106:2012, clause 7. What is judged lies at the estimate, give or take Student's t for the
statistics of the rides, and a normal error of the reference that is the same in every ride.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray

NODES = 2000
"""Equally probable values that stand for a distribution: enough for a probability to three digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of a bias, percent: the ``mean`` over rides, its ``standard_error`` with ``degrees`` of freedom
    (infinite: normal), and the standard uncertainty ``reference`` of an error common to all rides.
    """

    mean: float
    standard_error: float
    degrees: float
    reference: float


def chance_below(limit: float | FloatArray, known: Known) -> FloatArray:
    """Probability that the true bias is at or below ``limit`` (any shape, percent)."""
    from scipy.special import ndtr

    limits = np.asarray(limit, dtype=np.float64)
    statistics, reference = known.standard_error, known.reference
    if statistics <= 0 and reference <= 0:
        return np.asarray((known.mean <= limits).astype(np.float64))
    if statistics <= 0:
        return np.asarray(ndtr((limits - known.mean) / reference))
    if reference <= 0:
        return student_below((limits - known.mean) / statistics, known.degrees)
    shares = (np.arange(NODES) + 0.5) / NODES
    if reference >= statistics:
        places = known.mean + statistics * student_quantile(shares, known.degrees)
        return np.asarray(ndtr((limits[..., None] - places) / reference).mean(axis=-1))
    places = known.mean + reference * student_quantile(shares, np.inf)
    return np.asarray(student_below((limits[..., None] - places) / statistics, known.degrees).mean(axis=-1))


def chance_within(limit: float, known: Known) -> float:
    """Probability that the size of the true bias is at most ``limit`` (percent): the conformance probability."""
    below = chance_below(np.array([-limit, limit]), known)
    return float(np.clip(below[1] - below[0], 0.0, 1.0))


def student_below(value: FloatArray, degrees: float) -> FloatArray:
    """Student's t distribution function; normal where ``degrees`` are infinite."""
    from scipy.special import ndtr, stdtr

    return np.asarray(ndtr(value) if np.isinf(degrees) else stdtr(degrees, value))


def student_quantile(share: float | FloatArray, degrees: float) -> FloatArray:
    """Quantile of Student's t; normal where ``degrees`` are infinite."""
    from scipy.special import ndtri, stdtrit

    return np.asarray(ndtri(share) if np.isinf(degrees) else stdtrit(degrees, share))
