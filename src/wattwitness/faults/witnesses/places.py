"""The same comparison of a stretch with the time around it, made everywhere outside the candidates."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.witnesses.changes import AROUND_S
from wattwitness.faults.witnesses.ground import Ground, RunningMeans, Stretch
from wattwitness.model.arrays import FloatArray, IntArray

MOST_SECONDS = 240
"""Longer stretches are judged by pieces of this length: a ride holds too few of longer ones."""


def places(ground: Ground, seconds: int) -> tuple[IntArray, int]:
    """Starts of stretches of about ``seconds`` outside all candidates, their surroundings too, and their length."""
    length = max(min(seconds, MOST_SECONDS, ground.outside.size // 12), 5)
    first = np.arange(AROUND_S, ground.outside.size - length - AROUND_S, max(length // 4, 3))
    whole = length + 2 * AROUND_S
    return first[ground.ordinary.count(first - AROUND_S, first + length + AROUND_S) >= 0.85 * whole], length


def against_around(held: RunningMeans, first: IntArray, stop: IntArray) -> FloatArray:
    """Mean over each stretch less the mean of the minutes on both sides of it."""
    beside = np.stack([held.mean(first - AROUND_S, first), held.mean(stop, stop + AROUND_S)])
    known = np.isfinite(beside)
    count = known.sum(axis=0)
    around = np.where(known, beside, 0.0).sum(axis=0) / np.maximum(count, 1)
    return np.asarray(np.where(count > 0, held.mean(first, stop) - around, np.nan))


def here(held: RunningMeans, stretch: Stretch, ground: Ground) -> float:
    """The same for ``stretch`` itself, edges left out; where nothing comes after it, against what came before."""
    smear = min(ground.smear_s, (stretch.seconds - 1) // 3)
    inner = held.mean(stretch.first + smear, stretch.stop if stretch.open_end else stretch.stop - smear)
    before = held.mean(max(stretch.first - smear - AROUND_S, 0), max(stretch.first - smear, 0))
    after = held.mean(stretch.stop + smear, stretch.stop + smear + AROUND_S)
    beside = [float(side) for side in ((before,) if stretch.open_end else (before, after)) if np.isfinite(side)]
    return float(inner) - sum(beside) / len(beside) if beside else float("nan")


def robust_spread(values: FloatArray) -> float:
    """Standard deviation about the median by the median absolute deviation."""
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def log_density(value: float, spread: float) -> float:
    """Logarithm of Student's t with four degrees of freedom, scaled to ``spread``."""
    scaled = value / spread
    return float(np.log(0.375 / spread) - 2.5 * np.log1p(scaled * scaled / 4.0))


def log_broad(value: float) -> float:
    """Logarithm of what a fault or a change of effort may be, knowing nothing: most often small, at times large."""
    return -abs(value) / 0.5
