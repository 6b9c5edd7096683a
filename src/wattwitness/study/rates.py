"""Two rates of faults held against each other."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray

MOST_SHUFFLES = 5000


def rate_ratio(
    count: int, hours: float, count_before: int, hours_before: float, *, level: float = 0.95
) -> tuple[float, float, float]:
    """Rate over rate before, with its central exact interval; NaN value where neither had any fault.

    Given all faults together, those in the first are binomial: Przyborowski J, Wilenski H (1940) Biometrika
    31:313-323; interval by Clopper and Pearson. Raises ValueError where hours are not above 0.
    """
    if not (hours > 0 and hours_before > 0):
        raise ValueError("a rate needs hours to be counted over")
    from scipy.special import betaincinv

    total = count + count_before
    tail = (1 - level) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, total - count + 1, tail))
    high = 1.0 if count == total else float(betaincinv(count + 1, total - count, 1 - tail))
    value = math.nan if total == 0 else _odds(count / total) * hours_before / hours
    return value, _odds(low) * hours_before / hours, _odds(high) * hours_before / hours


def shuffled_chance(faults: FloatArray, hours: FloatArray, after: BoolArray, *, seed: int) -> float:
    """Probability of at least so great a difference of rates if rides had been dealt to the groups at random.

    Shapes (k,): faults and hours of each ride, and whether it is of the second group. Faults cluster in rides, so rides
    are shuffled, not faults; all ways to deal them where they are few, else ``MOST_SHUFFLES`` at random, the observed
    one counted among them (Phipson B, Smyth GK (2010) Stat. Appl. Genet. Mol. Biol. 9:39; from memory).
    """
    size, count = int(after.sum()), after.size
    observed = abs(_difference(faults, hours, after))
    ways = math.comb(count, size)
    rng = np.random.default_rng(seed)
    reached = tried = 0
    if ways <= MOST_SHUFFLES:
        for chosen in combinations(range(count), size):
            dealt = np.zeros(count, dtype=bool)
            dealt[list(chosen)] = True
            reached += abs(_difference(faults, hours, dealt)) >= observed - 1e-12
            tried += 1
        return reached / tried
    for _ in range(MOST_SHUFFLES):
        dealt = rng.permutation(after)
        reached += abs(_difference(faults, hours, dealt)) >= observed - 1e-12
    return (reached + 1) / (MOST_SHUFFLES + 1)


def _difference(faults: FloatArray, hours: FloatArray, second: BoolArray) -> float:
    return float(faults[second].sum() / hours[second].sum() - faults[~second].sum() / hours[~second].sum())


def _odds(share: float) -> float:
    return math.inf if share >= 1 else share / (1 - share)
