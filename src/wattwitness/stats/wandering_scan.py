"""One more column added to a linear model with wandering errors: every candidate for it, under every shape at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.stats.mixtures import mixture_quantiles
from wattwitness.stats.wandering import (
    SMALLEST_ERROR,
    WanderingFit,
    WanderingProducts,
    fit_wandering,
)

PASSES = 2
"""So often the size of the error is looked at again; it has settled by then."""


@dataclass(frozen=True, kw_only=True, eq=False)
class WanderingScan:
    """A model ``base`` with each of S candidate columns added in turn, under each of J shapes of the error.

    ``without`` is that model with none added, for itself; ``base`` has its priors weighed as with one added.
    ``log_evidence`` (J, S) compares with that of the base; the candidates are equally likely beforehand.
    ``amplitude`` and ``amplitude_variance`` (J, S) are those of the candidate's coefficient; ``taken`` (J, p, S) is how
    much each base coefficient gives way for a candidate's coefficient of one; ``growth`` (J, S) the variance of the
    error over that of the base.
    """

    without: WanderingFit
    base: WanderingFit
    candidates: tuple[str, ...]
    log_evidence: FloatArray
    amplitude: FloatArray
    amplitude_variance: FloatArray
    taken: FloatArray
    growth: FloatArray

    @cached_property
    def evidence(self) -> float:
        """Log marginal likelihood of the base with one of the candidates."""
        top = float(self.log_evidence.max())
        mean = float(np.exp(self.log_evidence - top).sum()) / len(self.candidates)
        return top + math.log(mean)

    @cached_property
    def probability(self) -> FloatArray:
        """Of each shape and candidate, (J, S)."""
        weight = np.exp(self.log_evidence - self.log_evidence.max())
        return np.asarray(weight / weight.sum(), dtype=np.float64)

    @cached_property
    def of_candidates(self) -> FloatArray:
        """Probability of each candidate, (S,)."""
        return np.asarray(self.probability.sum(axis=0), dtype=np.float64)

    @cached_property
    def shapes(self) -> tuple[FloatArray, FloatArray]:
        """Probability of each shape and the size of the error under it, over all candidates, (J,) each."""
        share = self.probability.sum(axis=1)
        grown = np.sum(self.probability * self.growth, axis=1) / np.maximum(share, 1e-300)
        return np.asarray(share), np.asarray(self.base.size * grown)

    def interval(self, name: str, times: float | FloatArray, level: float) -> tuple[float, float, float]:
        """Value, low and high of base coefficient ``name`` plus the candidate's times ``times`` (or (S,))."""
        at = self.base.names.index(name)
        factor = times - self.taken[:, at]
        centre = self.base.coefficients[:, at, None] + factor * self.amplitude
        variance = self.base.covariance[:, at, at, None] * self.growth + factor**2 * self.amplitude_variance
        return self._quantiles(centre, variance, level)

    def amplitude_interval(self, times: float | FloatArray, level: float) -> tuple[float, float, float]:
        """Value, low and high of the candidate's coefficient, ``times`` a number or (S,)."""
        factor = np.broadcast_to(times, self.amplitude.shape)
        return self._quantiles(factor * self.amplitude, factor**2 * self.amplitude_variance, level)

    def coefficients_with(self, candidate: int) -> tuple[FloatArray, float]:
        """Base coefficients (p,) and the candidate's own, averaged over shapes, with that candidate added."""
        weight = self.probability[:, candidate]
        weight = weight / weight.sum() if weight.sum() > 0 else np.full(weight.size, 1 / weight.size)
        own = self.amplitude[:, candidate]
        base = self.base.coefficients - self.taken[:, :, candidate] * own[:, None]
        return np.asarray(weight @ base, dtype=np.float64), float(weight @ own)

    def _quantiles(self, centre: FloatArray, variance: FloatArray, level: float) -> tuple[float, float, float]:
        shares = np.array([0.5, 0.5 - level / 2, 0.5 + level / 2])
        scale = np.sqrt(np.maximum(variance, 0.0))
        value, low, high = mixture_quantiles(
            self.probability.ravel(), centre.ravel(), scale.ravel(), self.base.degrees, shares
        )
        return float(value), min(float(low), float(value)), max(float(high), float(value))


def either_scan(one: WanderingScan, other: WanderingScan) -> WanderingScan:
    """Both scans of the same candidates as one, each by its evidence.

    The columns of ``other`` are among those of ``one``; one that is not there has coefficient zero in it. Both must
    leave the same columns free.
    """
    place = [one.base.names.index(name) for name in other.base.names]
    shapes, columns = other.base.coefficients.shape[0], len(one.base.names)
    coefficients, doubt = np.zeros((shapes, columns)), np.zeros((shapes, columns))
    covariance = np.zeros((shapes, columns, columns))
    taken = np.zeros((shapes, columns, len(one.candidates)))
    coefficients[:, place], doubt[:, place], taken[:, place] = other.base.coefficients, other.base.doubt, other.taken
    rows = np.array(place)
    covariance[:, rows[:, None], rows[None, :]] = other.base.covariance
    base = WanderingFit(
        names=one.base.names,
        log_evidence=np.concatenate([one.base.log_evidence, other.base.log_evidence]),
        coefficients=np.concatenate([one.base.coefficients, coefficients]),
        covariance=np.concatenate([one.base.covariance, covariance]),
        doubt=np.concatenate([one.base.doubt, doubt]),
        size=np.concatenate([one.base.size, other.base.size]),
        degrees=one.base.degrees,
    )
    return WanderingScan(
        without=one.without,
        base=base,
        candidates=one.candidates,
        log_evidence=np.concatenate([one.log_evidence, other.log_evidence]),
        amplitude=np.concatenate([one.amplitude, other.amplitude]),
        amplitude_variance=np.concatenate([one.amplitude_variance, other.amplitude_variance]),
        taken=np.concatenate([one.taken, taken]),
        growth=np.concatenate([one.growth, other.growth]),
    )


def scan_wandering(
    products: WanderingProducts,
    response: str,
    columns: Sequence[str],
    candidates: Sequence[str],
    *,
    candidate_sd: float,
    prior_sd: Mapping[str, float] | None = None,
) -> WanderingScan:
    """Add each of ``candidates`` in turn to the model of ``response`` by ``columns`` (see ``fit_wandering``).

    A candidate's coefficient is expected around zero with ``candidate_sd``, which is what a model pays for it. All
    priors are weighed against the error that is left with the likeliest candidate: against what is left without it,
    which a large change along the ride makes many times as large, they would pull that very change towards nothing.
    """
    without = fit_wandering(products, response, columns, prior_sd=prior_sd)
    scan = _with_candidates(products, without, without, without.size, response, candidates, candidate_sd)
    for _ in range(PASSES):
        shapes = np.arange(without.size.size)
        left = scan.base.size * scan.growth[shapes, np.argmax(scan.log_evidence, axis=1)]
        base = fit_wandering(products, response, columns, prior_sd=prior_sd, size_for_priors=left)
        scan = _with_candidates(products, without, base, left, response, candidates, candidate_sd)
    return scan


def _with_candidates(
    products: WanderingProducts,
    without: WanderingFit,
    base: WanderingFit,
    size: FloatArray,
    response: str,
    candidates: Sequence[str],
    candidate_sd: float,
) -> WanderingScan:
    """The scan with priors weighed against an error of variance ``size`` (J,), as those of ``base`` have been."""
    columns = base.names
    at, (own,) = products.places(columns), products.places([response])
    new = products.places(candidates)
    inverse = base.covariance / base.size[:, None, None]
    between = products.product[:, at][:, :, new]
    taken = inverse @ between
    information = np.einsum("jss->js", products.product[:, new][:, :, new]) - np.einsum("jps,jps->js", between, taken)
    ridge = size[:, None] / candidate_sd**2
    information = np.maximum(information, 0.0) + ridge
    cross = products.product[:, new, own] - np.einsum("jps,jp->js", between, base.coefficients)
    left = base.size * base.degrees
    smaller = np.maximum(left[:, None] - cross**2 / information, products.count * SMALLEST_ERROR**2)
    growth = smaller / left[:, None]
    evidence = base.log_evidence[:, None] + 0.5 * np.log(ridge / information) - base.degrees / 2 * np.log(growth)
    return WanderingScan(
        without=without,
        base=base,
        candidates=tuple(candidates),
        log_evidence=evidence,
        amplitude=cross / information,
        amplitude_variance=base.size[:, None] * growth / information,
        taken=taken,
        growth=growth,
    )
