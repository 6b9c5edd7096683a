"""How often a study after the plan would come to each verdict.

Whole studies are drawn: a reference's error, the same in all rides of a study, a bias for each ride, and an error of
each ride's own statistics. Each is judged as a real study is, by ``study.consistency`` and ``conformity.rules``; as all
rides of a plan are equally long, both come down to the mean and the variance of the rides, which is what is drawn.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.conformity.probability import student_quantile
from wattwitness.conformity.rules import GUARD_LEVEL, RuleSettings
from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.model.claim import DecisionRule
from wattwitness.model.plan import VerdictChances

STUDIES = 1500
NODES = 250
"""Equally probable values that stand for a distribution: a probability good to two parts in a thousand."""

CONFORMS, UNDECIDED, FAILS = 1, 0, -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is known before the first ride, percent: the unit's true bias (``mean`` and ``sd`` of what it may be), the
    spread between rides (anything from ``spread_low`` to ``spread_high`` equally likely), the standard error of one
    ride, and the reference's standard uncertainty.
    """

    ride_se: float
    reference: float
    bias_mean: float = 0.0
    bias_sd: float = 0.0
    spread_low: float = 1.0
    spread_high: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Studies:
    """Standard numbers for m studies (m,): the unit's bias, the spread, the reference's error and the rides' mean."""

    bias: FloatArray
    spread: FloatArray
    reference: FloatArray
    mean: FloatArray


def trueness_chances(
    limit: float, rides: int, expected: Expected, settings: RuleSettings, *, bias: float | None, seed: int
) -> VerdictChances:
    """Chance of each verdict on a bias that must not exceed ``limit`` percent, after ``rides`` rides (two or more).

    ``bias``: the unit's true one; ``None`` averages over what it may be.
    """
    drawn = _studies(expected, seed)
    true = drawn.bias if bias is None else np.full(STUDIES, bias)
    ride_sd = np.hypot(drawn.spread, expected.ride_se)
    squares = np.random.default_rng([seed, rides]).chisquare(rides - 1, STUDIES) / (rides - 1)
    # The reference reads too high by its error, so the unit looks too low by as much.
    mean = true - expected.reference * drawn.reference + ride_sd / math.sqrt(rides) * drawn.mean
    error = np.sqrt(np.maximum(ride_sd**2 * squares, expected.ride_se**2) / rides)
    words = judged(limit, mean, error, rides - 1.0, expected.reference, settings)
    return _chances(words, rides, bias)


def endless_chances(limit: float, expected: Expected, settings: RuleSettings, *, seed: int) -> VerdictChances:
    """The same after endlessly many rides: only the reference's error is left."""
    drawn = _studies(expected, seed)
    mean = drawn.bias - expected.reference * drawn.reference
    words = judged(limit, mean, np.zeros(STUDIES), math.inf, expected.reference, settings)
    return _chances(words, 0, None)


def consistency_chances(
    limit: float, rides: int, expected: Expected, settings: RuleSettings, *, seed: int
) -> VerdictChances:
    """Chance of each verdict on a spread between rides that must not exceed ``limit`` percent.

    With equal errors the generalised Q statistic is the rides' sum of squares over the variance of one of them.
    """
    from scipy.special import chdtrc

    drawn = _studies(expected, seed)
    squares = np.random.default_rng([seed, rides]).chisquare(rides - 1, STUDIES)
    q = (drawn.spread**2 + expected.ride_se**2) * squares / max(limit**2 + expected.ride_se**2, 1e-300)
    probability = np.asarray(chdtrc(rides - 1, q))
    words = np.where(probability >= 1 - settings.risk, CONFORMS, np.where(probability <= settings.risk, FAILS, 0))
    return _chances(words, rides, None)


def judged(
    limit: float, mean: FloatArray, error: FloatArray, degrees: float, reference: float, settings: RuleSettings
) -> IntArray:
    """The verdict of ``conformity.rules.decide`` on many studies (m,): 1 conforms, 0 undecided, -1 does not."""
    if settings.rule is DecisionRule.SIMPLE_ACCEPTANCE:
        return np.where(np.abs(mean) <= limit, CONFORMS, FAILS)
    if settings.rule is DecisionRule.GUARD_BAND:
        guard = settings.guard_factor * _expanded(error, degrees, reference)
        return np.where(np.abs(mean) <= limit - guard, CONFORMS, np.where(np.abs(mean) > limit + guard, FAILS, 0))
    below = _below(-limit - mean, error, degrees, reference)
    above = 1 - _below(limit - mean, error, degrees, reference)
    within = 1 - below - above
    outside = np.maximum(below, above)
    risk = settings.risk
    return np.where(within >= 1 - risk, CONFORMS, np.where(outside >= 1 - risk, FAILS, UNDECIDED))


def _below(place: FloatArray, error: FloatArray, degrees: float, reference: float) -> FloatArray:
    """Probability that a normal error of ``reference`` and Student's t of ``error`` together lie below ``place``."""
    from scipy.special import ndtr, stdtr

    if not np.any(error > 0):
        return np.asarray(ndtr(place / reference)) if reference > 0 else (place >= 0).astype(np.float64)
    if reference <= 0:
        return np.asarray(stdtr(degrees, place / error))
    found = np.empty(place.size)
    smooth = error <= reference
    shares = (np.arange(NODES) + 0.5) / NODES
    t_nodes, z_nodes = student_quantile(shares, degrees), student_quantile(shares, math.inf)
    found[smooth] = ndtr((place[smooth, None] - error[smooth, None] * t_nodes) / reference).mean(axis=1)
    rough = ~smooth
    found[rough] = stdtr(degrees, (place[rough, None] - reference * z_nodes) / error[rough, None]).mean(axis=1)
    return found


def _expanded(error: FloatArray, degrees: float, reference: float) -> FloatArray:
    """Expanded uncertainty (m,), as ``conformity.rules.expanded`` has it."""
    from scipy.special import ndtri, stdtrit

    combined = np.hypot(error, reference)
    with np.errstate(divide="ignore", invalid="ignore"):
        effective = np.where(error > 0, degrees * (combined / np.where(error > 0, error, 1.0)) ** 4, np.inf)
    normal = float(ndtri(0.5 + GUARD_LEVEL / 2))
    factor = np.where(effective < 1e6, stdtrit(np.minimum(effective, 1e6), 0.5 + GUARD_LEVEL / 2), normal)
    return np.asarray(np.where(combined > 0, factor * combined, 0.0))


def _studies(expected: Expected, seed: int) -> _Studies:
    """The same standard numbers for every plan of one seed, so that plans are held against each other fairly."""
    rng = np.random.default_rng(seed)
    shares = (np.arange(STUDIES) + 0.5) / STUDIES
    return _Studies(
        bias=expected.bias_mean + expected.bias_sd * rng.normal(size=STUDIES),
        spread=rng.permutation(expected.spread_low + (expected.spread_high - expected.spread_low) * shares),
        reference=rng.normal(size=STUDIES),
        mean=rng.normal(size=STUDIES),
    )


def _chances(words: IntArray, rides: int, bias: float | None) -> VerdictChances:
    return VerdictChances(
        rides=rides,
        true_bias_pct=bias,
        conforms=float((words == CONFORMS).mean()),
        does_not_conform=float((words == FAILS).mean()),
        undecided=float((words == UNDECIDED).mean()),
    )
