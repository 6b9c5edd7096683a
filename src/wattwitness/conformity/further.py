"""How many more rides would decide, and with what chance, averaged over what is not known yet.

Rides to come are drawn from what the rides so far say of mean and spread (a preposterior analysis); each draw is judged
by the same rule as the real ones. The reference's error is the same in all of them and is not drawn away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wattwitness.conformity.probability import student_below, student_quantile
from wattwitness.conformity.rules import GUARD_LEVEL, RuleSettings
from wattwitness.conformity.spread import generalised_q
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.claim import DecisionRule, FurtherRides

DRAWS = 400
NODES = 200
USUAL_SPREAD_PCT, USUAL_SPREAD_LOG_SD = 1.0, 0.6
"""What is known of a spread between rides before any: 0.5 to 1.5 % between sessions of good ergometers, now and then
several times that; common practice, with no source. It enters how many more rides are needed, never a verdict."""

WANTED = 0.8
"""A number of rides is named when it decides at least this often."""

TRIED = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40, 60)
"""More rides than the last are no plan."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RidesSoFar:
    """Bias of k rides and its standard error, percent (k,), and the reference's standard uncertainty."""

    bias: FloatArray
    standard_error: FloatArray
    reference: float

    @property
    def typical(self) -> float:
        """Standard error of a usual ride."""
        return float(np.sqrt(np.mean(self.standard_error**2)))


def further_for_trueness(limit: float, rides: RidesSoFar, settings: RuleSettings, *, seed: int) -> FurtherRides:
    """For a bias whose size must not exceed ``limit`` percent."""
    if rides.bias.size < 2:
        return FurtherRides(value=None, chance=None, reason=ONE_RIDE)
    draws = _draws(rides, seed)
    in_the_end = float(_firm(limit, draws.mean, np.zeros(DRAWS), np.inf, rides.reference, settings).mean())
    if in_the_end < WANTED:
        return FurtherRides(
            value=None,
            chance=in_the_end,
            reason=(
                f"However many rides are added, the chance of a firm verdict stays at {100 * in_the_end:.0f} %: the "
                f"reference's own uncertainty of {rides.reference:.2g} % is the same in all of them."
            ),
        )
    return fewest(lambda more: _chance_trueness(limit, rides, draws, settings, more))


def further_for_spread(limit: float, rides: RidesSoFar, settings: RuleSettings, *, seed: int) -> FurtherRides:
    """For a standard deviation between rides that must not exceed ``limit`` percent."""
    if rides.bias.size < 2:
        return FurtherRides(value=None, chance=None, reason=ONE_RIDE)
    return fewest(lambda more: _chance_spread(limit, rides, _draws(rides, seed), settings.risk, more))


def fewest(chance_of: Callable[[int], float]) -> FurtherRides:
    """The fewest more rides that decide with a chance of ``WANTED``."""
    chance, before = 0.0, 0
    for tried in TRIED:
        chance = chance_of(tried)
        if chance >= WANTED:
            more, chance = _between(chance_of, before, tried, chance)
            rides = "one more ride decides" if more == 1 else f"{more} more rides decide"
            return FurtherRides(value=more, chance=chance, reason=f"With a chance of {100 * chance:.0f} %, {rides} it.")
        before = tried
    return FurtherRides(
        value=None,
        chance=chance,
        reason=f"Even {TRIED[-1]} more rides like these decide it with a chance of {100 * chance:.0f} % only.",
        more_than=TRIED[-1],
    )


def _between(chance_of: Callable[[int], float], fewer: int, enough: int, chance: float) -> tuple[int, float]:
    """The fewest rides above ``fewer`` that are enough, by halving, and their chance."""
    while enough - fewer > 1:
        middle = (fewer + enough) // 2
        found = chance_of(middle)
        if found >= WANTED:
            enough, chance = middle, found
        else:
            fewer = middle
    return enough, chance


ONE_RIDE = "One ride says nothing of how the rides differ, so it cannot be said how many would decide."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Draws:
    """What may be true (DRAWS,): mean and spread between rides; and standard numbers for rides to come."""

    mean: FloatArray
    spread: FloatArray
    normal: FloatArray
    seed: int


def _draws(rides: RidesSoFar, seed: int) -> _Draws:
    """Spread by its restricted likelihood and what is usual, the mean given the spread."""
    rng = np.random.default_rng(seed)
    log_spread = np.linspace(np.log(0.01), np.log(30.0), 200)
    weight = 1 / (rides.standard_error[None, :] ** 2 + np.exp(2 * log_spread)[:, None])
    mean = (weight * rides.bias).sum(axis=1) / weight.sum(axis=1)
    misfit = (weight * (rides.bias - mean[:, None]) ** 2).sum(axis=1)
    log_likely = 0.5 * (np.log(weight).sum(axis=1) - np.log(weight.sum(axis=1)) - misfit)
    log_likely -= 0.5 * ((log_spread - np.log(USUAL_SPREAD_PCT)) / USUAL_SPREAD_LOG_SD) ** 2
    share = np.cumsum(np.exp(log_likely - log_likely.max()))
    at = np.searchsorted(share / share[-1], (np.arange(DRAWS) + 0.5) / DRAWS)
    sampled = mean[at] + rng.normal(size=DRAWS) / np.sqrt(weight.sum(axis=1)[at])
    return _Draws(mean=sampled, spread=np.exp(log_spread[at]), normal=rng.permutation(_normals()), seed=seed)


def _normals() -> FloatArray:
    """Standard normal numbers at equal shares."""
    return student_quantile((np.arange(DRAWS) + 0.5) / DRAWS, np.inf)


def _chance_trueness(limit: float, rides: RidesSoFar, draws: _Draws, settings: RuleSettings, more: int) -> float:
    """Share of draws in which ``more`` rides make the verdict firm."""
    rng = np.random.default_rng([draws.seed, more])
    ride_sd = np.sqrt(draws.spread**2 + rides.typical**2)
    new_mean = draws.mean + ride_sd / np.sqrt(more) * draws.normal
    new_squares = ride_sd**2 * (rng.chisquare(more - 1, DRAWS) if more > 1 else 0.0)
    k, mean = rides.bias.size, float(rides.bias.mean())
    squares = ((rides.bias - mean) ** 2).sum() + new_squares + k * more / (k + more) * (new_mean - mean) ** 2
    total = k + more
    error = np.sqrt(np.maximum(squares / (total - 1), rides.typical**2) / total)
    pooled = (k * mean + more * new_mean) / total
    return float(_firm(limit, pooled, error, float(total - 1), rides.reference, settings).mean())


def _firm(
    limit: float, mean: FloatArray, error: FloatArray, degrees: float, reference: float, settings: RuleSettings
) -> BoolArray:
    """Where the rule would give a firm verdict (m,)."""
    if settings.rule is DecisionRule.SIMPLE_ACCEPTANCE:
        return np.ones(mean.size, dtype=bool)
    if settings.rule is DecisionRule.GUARD_BAND:
        combined = np.sqrt(error**2 + reference**2)
        with np.errstate(divide="ignore", invalid="ignore"):
            effective = np.where(error > 0, degrees * (combined / error) ** 4, np.inf)
        guard = settings.guard_factor * combined * _quantiles(0.5 + GUARD_LEVEL / 2, np.minimum(effective, 1e6))
        return np.asarray((np.abs(mean) <= limit - guard) | (np.abs(mean) > limit + guard))
    above = 1 - _below(limit, mean, error, degrees, reference)
    below = _below(-limit, mean, error, degrees, reference)
    risk = settings.risk
    return np.asarray((above + below <= risk) | (np.maximum(above, below) >= 1 - risk))


def _quantiles(share: float, degrees: FloatArray) -> FloatArray:
    from scipy.special import stdtrit

    return np.asarray(stdtrit(degrees, share))


def _below(limit: float, mean: FloatArray, error: FloatArray, degrees: float, reference: float) -> FloatArray:
    """Probability of a true bias below ``limit`` for each of m means and errors."""
    from scipy.special import ndtr

    if not np.any(error > 0):
        return np.asarray(ndtr((limit - mean) / reference) if reference > 0 else (mean <= limit).astype(np.float64))
    shares = (np.arange(NODES) + 0.5) / NODES
    if reference <= 0:
        return student_below((limit - mean) / error, degrees)
    places = mean[:, None] + error[:, None] * student_quantile(shares, degrees)
    smooth = np.asarray(ndtr((limit - places) / reference).mean(axis=1))
    coarse = mean[:, None] + reference * student_quantile(shares, np.inf)
    rough = student_below((limit - coarse) / error[:, None], degrees).mean(axis=1)
    return np.where(error < reference, smooth, rough)


def _chance_spread(limit: float, rides: RidesSoFar, draws: _Draws, risk: float, more: int) -> float:
    """Share of draws in which ``more`` rides settle whether the spread is within ``limit``."""
    from scipy.special import chdtrc

    rng = np.random.default_rng([draws.seed, more])
    ride_sd = np.sqrt(draws.spread**2 + rides.typical**2)
    error = np.concatenate([rides.standard_error, np.full(more, rides.typical)])
    firm = 0
    for centre, sd in zip(draws.mean, ride_sd, strict=True):
        bias = np.concatenate([rides.bias, centre + sd * rng.normal(size=more)])
        chance = float(chdtrc(bias.size - 1, generalised_q(limit, bias, error)))
        firm += chance >= 1 - risk or chance <= risk
    return firm / DRAWS
