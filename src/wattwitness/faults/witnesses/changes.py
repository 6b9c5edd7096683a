"""What a channel did in a stretch against the time around it, with an interval."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.faults.witnesses.ground import Ground, Stretch
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import student_quantile

AROUND_S = 60
"""A stretch is compared with so many seconds before it and after it."""

LEAST_AROUND_S = 8
PIECE_S = 5
"""Seconds follow one another too closely to count each: pieces of this length do."""

LEVEL = 0.95

NOTHING_BESIDE = "nothing_beside"
"""Why there is no change: the stretch is as good as the whole ride, whatever was recorded."""


def around(ground: Ground, stretch: Stretch) -> BoolArray:
    """The seconds before and after ``stretch`` that it is compared with, (n,).

    Outside all candidates where there are enough of them; else whatever lies beside it.
    """
    size, guard = ground.outside.size, ground.smear_s
    beside = np.zeros(size, dtype=bool)
    beside[max(stretch.first - guard - AROUND_S, 0) : max(stretch.first - guard, 0)] = True
    if not stretch.open_end:
        beside[min(stretch.stop + guard, size) : min(stretch.stop + guard + AROUND_S, size)] = True
    calm = beside & ground.outside
    return calm if np.count_nonzero(calm) >= LEAST_AROUND_S else beside


def inside(ground: Ground, stretch: Stretch) -> BoolArray:
    """The seconds of ``stretch`` without those in which a display is still on its way, (n,)."""
    guard = min(ground.smear_s, (stretch.seconds - 1) // 3)
    within = np.zeros(ground.outside.size, dtype=bool)
    within[stretch.first + guard : stretch.stop if stretch.open_end else max(stretch.stop - guard, 1)] = True
    return within


def mean_and_error(values: FloatArray, chosen: BoolArray) -> tuple[float, float, int]:
    """Mean of ``values`` where ``chosen`` (n,), its standard error from pieces of 5 s, and how many pieces.

    NaN where fewer than half of the chosen seconds have a value; the error is NaN with a single piece.
    """
    at = np.flatnonzero(chosen & np.isfinite(values))
    if at.size == 0 or at.size < np.count_nonzero(chosen) / 2:
        return float("nan"), float("nan"), 0
    _, piece = np.unique(at // PIECE_S, return_inverse=True)
    means = np.bincount(piece, values[at]) / np.bincount(piece)
    mean = float(values[at].mean())
    if means.size < 2:
        return mean, float("nan"), 1
    return mean, float(np.std(means, ddof=1)) / math.sqrt(means.size), means.size


def change_in(values: FloatArray, ground: Ground, stretch: Stretch, *, unit: str, rounding: float = 0.0) -> Estimate:
    """Change of the channel ``values`` (n,) in ``stretch`` against the time around it.

    In percent where ``unit`` is ``"%"``, else a difference. ``rounding`` is the channel's step: no mean of so few is
    known better than the standard deviation that it adds to one piece.
    """
    if not around(ground, stretch).any():
        return Estimate.missing(NOTHING_BESIDE, unit, LEVEL)
    within, within_error, pieces = mean_and_error(values, inside(ground, stretch))
    beside, beside_error, others = mean_and_error(values, around(ground, stretch))
    if not pieces or not others:
        return Estimate.missing("no_samples", unit, LEVEL)
    if pieces < 2 or others < 2:
        return Estimate.missing("too_short", unit, LEVEL)
    added = rounding * rounding / 12.0
    error = math.sqrt(within_error**2 + beside_error**2 + added / pieces + added / others)
    reach = student_quantile(LEVEL, min(pieces, others) - 1) * error
    value, scale = within - beside, 1.0
    if unit == "%":
        if not beside > 0:
            return Estimate.missing("nothing_before", unit, LEVEL)
        # error of a ratio: the mean around it errs too, and counts in proportion
        scale = 100.0 / beside
        ratio = within / beside
        reach = student_quantile(LEVEL, min(pieces, others) - 1) * math.sqrt(
            within_error**2 + (ratio * beside_error) ** 2 + added / pieces + ratio**2 * added / others
        )
    return Estimate(
        value=scale * value, low=scale * (value - reach), high=scale * (value + reach), unit=unit, level=LEVEL
    )


def percent_of_log(change: float) -> float:
    """A change of a logarithm in percent."""
    return 100.0 * math.expm1(change)


def why_silent(change: Estimate, whose: str, did: str, channel: str) -> str:
    """Why a channel that was recorded has nothing to say, in a sentence; empty where it has, or where it is missing.

    ``did`` is what ``whose`` recorder did with ``channel``: ``recorded``, ``logged``.
    """
    if change.not_assessed == NOTHING_BESIDE:
        return (
            f"{whose} {did} {channel}, but this stretch is all but the whole ride: nothing lies beside it to "
            f"hold {channel} against."
        )
    if change.not_assessed == "too_short":
        return f"{whose} {did} {channel}, but this stretch, or what lies beside it, is too short to tell by it."
    return ""
