"""Variance between rides and the mean over rides, each ride with its own known error: the random-effects model.

Estimators: DerSimonian R, Laird N (1986) Control. Clin. Trials 7:177-188; Paule RC, Mandel J (1982) J. Res. NBS
87:377-385, in the form of DerSimonian R, Kacker R (2007) Contemp. Clin. Trials 28:105-114; restricted maximum
likelihood: Viechtbauer W (2005) J. Educ. Behav. Stat. 30:261-293 (from memory). All arrays (k,).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from wattwitness.model.arrays import FloatArray

ROUNDS = 200
SMALL = 1e-12


class Between(StrEnum):
    """How the variance between rides is estimated."""

    DERSIMONIAN_LAIRD = "dersimonian_laird"
    PAULE_MANDEL = "paule_mandel"
    RESTRICTED_LIKELIHOOD = "restricted_likelihood"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """The weighted ``mean``, its usual ``standard_error``, and ``scale``: the weighted mean square about it, over one
    less than the rides, by which Hartung and Knapp widen (or narrow) the squared error.
    """

    mean: float
    standard_error: float
    scale: float

    @property
    def hartung_knapp(self) -> float:
        """Standard error by Hartung J, Knapp G (2001) Stat. Med. 20:3875-3889 (from memory), for t with k - 1."""
        return self.standard_error * math.sqrt(self.scale)


def pooled(value: FloatArray, variance: FloatArray, between: float) -> Pooled:
    """Inverse-variance mean of at least one ride, with ``between`` the variance between rides."""
    weight = 1 / np.maximum(variance + between, SMALL)
    mean = float((weight * value).sum() / weight.sum())
    scale = float((weight * (value - mean) ** 2).sum() / (value.size - 1)) if value.size > 1 else 1.0
    return Pooled(mean=mean, standard_error=float(weight.sum() ** -0.5), scale=scale)


def between_variance(value: FloatArray, variance: FloatArray, how: Between) -> float:
    """Variance between rides, at least 0. Raises ValueError with fewer than two rides."""
    if value.size < 2:
        raise ValueError("one ride has no variance between rides")
    match how:
        case Between.DERSIMONIAN_LAIRD:
            return _moments(value, variance)
        case Between.PAULE_MANDEL:
            return _paule_mandel(value, variance)
        case Between.RESTRICTED_LIKELIHOOD:
            return _restricted(value, variance)


def cochran_q(value: FloatArray, variance: FloatArray, between: float = 0.0) -> float:
    """Weighted sum of squares about the weighted mean."""
    return pooled(value, variance, between).scale * (value.size - 1)


def _moments(value: FloatArray, variance: FloatArray) -> float:
    weight = 1 / np.maximum(variance, SMALL)
    spare = weight.sum() - (weight**2).sum() / weight.sum()
    return max(float((cochran_q(value, variance) - (value.size - 1)) / spare), 0.0)


def _paule_mandel(value: FloatArray, variance: FloatArray) -> float:
    """The variance at which the weighted mean square is 1: Newton's steps, which come from below and never pass it."""
    between = 0.0
    for _ in range(ROUNDS):
        weight = 1 / np.maximum(variance + between, SMALL)
        mean = (weight * value).sum() / weight.sum()
        excess = float((weight * (value - mean) ** 2).sum()) - (value.size - 1)
        if excess <= 0:
            break
        step = excess / float((weight**2 * (value - mean) ** 2).sum())
        between += step
        if step <= 1e-13 * between:
            break
    return between


def _restricted(value: FloatArray, variance: FloatArray) -> float:
    """Fisher scoring of the restricted likelihood, halved where a step does not climb."""
    between = max(float(np.var(value, ddof=1) - variance.mean()), 0.0)
    best = _restricted_log(value, variance, between)
    for _ in range(ROUNDS):
        weight = 1 / np.maximum(variance + between, SMALL)
        total = weight.sum()
        residual = value - (weight * value).sum() / total
        score = float((weight**2 * residual**2).sum() - total + (weight**2).sum() / total)
        information = float((weight**2).sum() - 2 * (weight**3).sum() / total + ((weight**2).sum() / total) ** 2)
        step = score / information
        for _ in range(40):
            trial = max(between + step, 0.0)
            climbed = _restricted_log(value, variance, trial)
            if climbed >= best:
                break
            step /= 2
        else:
            break
        moved = abs(trial - between)
        between, best = trial, climbed
        if moved <= 1e-12 * max(between, SMALL):
            break
    return between


def _restricted_log(value: FloatArray, variance: FloatArray, between: float) -> float:
    weight = 1 / np.maximum(variance + between, SMALL)
    residual = value - (weight * value).sum() / weight.sum()
    return float(0.5 * (np.log(weight).sum() - np.log(weight.sum()) - (weight * residual**2).sum()))
