"""Stretches in which the residual stands away from none on one side: found at every length, edges at half depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.residual import Residual
from wattwitness.model.arrays import BoolArray

LEAST_SIGMAS = 5.0
"""How far beyond its chance scatter a stretch has to stand: about one chance in a million."""

REFINED_SIGMAS = 3.5
"""What is left of that when its edges have moved beside a fast change of effort, whose misplaced power they catch."""

LEAST_MISSING_W = 5.0
"""And by at least so many watts on average, whatever percentage that is of little power."""

FIRST_SCALE_S = 5
LONGEST_S = 2400
SCALE_STEP = 1.22
ROUNDS = 3
FLANK_S, FLANK_GUARD_S = 60, 10
LEAST_FLANK_S = 15
ABRUPT_SHARE = 0.5
"""Just outside, the residual is back by so much of the depth: what creeps over minutes is a drift, no episode."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """Seconds ``first`` to ``last`` (excluded), with relative ``depth`` and its chance standard deviation ``sd``."""

    first: int
    last: int
    depth: float
    sd: float


def excursions(residual: Residual, sign: int, *, depth: float, duration_s: float) -> list[Excursion]:
    """All stretches where the residual is below (``sign`` -1) or above (+1) none by ``depth`` for ``duration_s``.

    The one that lost most is taken first, and what overlaps it is dropped. None is longer than half the ride.
    """
    size = residual.used.size
    firsts, lasts, scores = [], [], []
    scale = float(max(min(FIRST_SCALE_S, duration_s), 3.0))
    while scale <= min(LONGEST_S, size // 2):
        length = round(scale)
        step = max(1, length // 12)
        first = np.arange(0, size - length + 1, step)
        mean, sd = residual.mean_and_sd(first, first + length)
        power = residual.sums[1, first + length] - residual.sums[1, first]
        passes = (sign * mean >= 0.85 * depth) & (np.abs(mean) >= LEAST_SIGMAS * sd)
        passes &= np.abs(mean) * power >= LEAST_MISSING_W * length
        firsts.append(first[passes])
        lasts.append(first[passes] + length)
        scores.append((mean**2 * power)[passes])
        scale = max(scale * SCALE_STEP, scale + 1)
    found: list[Excursion] = []
    if not firsts:
        return found
    first, last, score = np.concatenate(firsts), np.concatenate(lasts), np.concatenate(scores)
    order = np.argsort(-score)
    first, last = first[order], last[order]
    free = np.ones(size, dtype=bool)
    open_ = np.ones(first.size, dtype=bool)
    while open_.any():
        place = int(np.argmax(open_))
        refined = refine(residual, sign, int(first[place]), int(last[place]), free)
        open_[place] = False
        if refined is None:
            continue
        begin, end = min(refined.first, int(first[place])), max(refined.last, int(last[place]))
        open_ &= (last <= begin) | (first >= end)
        free[refined.first : refined.last] = False
        if _tells(residual, sign, refined, depth, duration_s):
            found.append(refined)
    return found


def refine(residual: Residual, sign: int, first: int, last: int, free: BoolArray) -> Excursion | None:
    """Move both edges to half depth: where the sum of what lies beyond half of it is largest.

    For a stretch of one depth in white noise that is the most likely place of an edge (Hinkley 1970, Biometrika
    57:1-17; from memory), and for an edge of any symmetric shape it is half way. ``free`` (n,): seconds not yet taken.
    """
    for _ in range(ROUNDS):
        mean, sd = _depth(residual, first, last)
        if not np.isfinite(sd) or sign * mean <= 0:
            return None
        reach = max(30, (last - first) // 2)
        beyond = sign * (residual.left_w - mean / 2 * residual.foretold_w)
        middle = (first + last) // 2
        low, high = _free_around(free, middle, max(first - reach, 0), min(last + reach, free.size))
        before = np.cumsum(beyond[low:middle][::-1])
        after = np.cumsum(beyond[middle:high])
        if before.size == 0 or after.size == 0:
            return None
        moved = middle - 1 - int(np.argmax(before)), middle + 1 + int(np.argmax(after))
        if moved == (first, last):
            break
        first, last = moved
    mean, sd = _depth(residual, first, last)
    return Excursion(first=first, last=last, depth=mean, sd=sd)


def _free_around(free: BoolArray, middle: int, low: int, high: int) -> tuple[int, int]:
    """The free stretch around ``middle`` within ``low`` to ``high``."""
    taken_before = np.flatnonzero(~free[low:middle])
    taken_after = np.flatnonzero(~free[middle:high])
    return (
        low + int(taken_before[-1]) + 1 if taken_before.size else low,
        middle + int(taken_after[0]) if taken_after.size else high,
    )


def _depth(residual: Residual, first: int, last: int) -> tuple[float, float]:
    mean, sd = residual.mean_and_sd(np.array([first]), np.array([last]))
    return float(mean[0]), float(sd[0])


def _tells(residual: Residual, sign: int, found: Excursion, depth: float, duration_s: float) -> bool:
    """Whether a refined stretch still is deep, long, sure and abrupt enough."""
    length = found.last - found.first
    power = float(residual.foretold_w[found.first : found.last].sum())
    if sign * found.depth < depth or length < duration_s or abs(found.depth) < REFINED_SIGMAS * found.sd:
        return False
    if abs(found.depth) * power < LEAST_MISSING_W * length:
        return False
    return all(
        flank is None or sign * (found.depth - flank) >= ABRUPT_SHARE * abs(found.depth)
        for flank in flanks(residual, found.first, found.last)
    )


def flanks(residual: Residual, first: int, last: int) -> tuple[float | None, float | None]:
    """Relative residual in the minute before and after a stretch; ``None`` where next to nothing is there."""
    return (
        _mean_of(residual, first - FLANK_GUARD_S - FLANK_S, first - FLANK_GUARD_S),
        _mean_of(residual, last + FLANK_GUARD_S, last + FLANK_GUARD_S + FLANK_S),
    )


def _mean_of(residual: Residual, first: int, last: int) -> float | None:
    cut = slice(max(first, 0), max(min(last, residual.used.size), 0))
    foretold = float(residual.foretold_w[cut].sum())
    if residual.used[cut].sum() < LEAST_FLANK_S or foretold < 25.0 * LEAST_FLANK_S:
        return None
    return float(residual.left_w[cut].sum()) / foretold
