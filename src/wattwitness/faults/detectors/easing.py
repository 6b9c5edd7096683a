"""The rider lets go for a while: both numbers fall from a level that was held, and come back to it.

Named so that nobody takes it for a fault. The rests of an interval session are the ride's plan and not told: a fall
like which there are others in the ride. Nor are the many falls of a ride that never keeps to anything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import normal_quantile

BIN_S = 5
HELD_BINS = 18
"""A level counts as held when the minute and a half before the fall kept to it ..."""


BACK_BINS = 8
LONGEST_BINS = 72
"""What takes longer is a rest that was meant."""

LEAST_BINS = 4
LEAST_FALL = 0.12
LEAST_W = 60.0
KEPT_WITHIN = 0.12
KEPT_SHARE = 0.85
"""... in so many of its bins, within so much."""

BACK_WITHIN = 0.12
LEAST_SIGMAS = 4.0
LIKE_LEVEL, LIKE_LENGTH = 0.08, 1.2
FEWEST_FALLS = 3
"""A fall to the same power for the same time as another one, within these ratios, was meant, if there are so many."""

MOST_PER_HOUR = 2.0
"""With more falls than this that are like no others nothing stands out."""

LEAST_SHOWN_W = 10.0
"""From less than this a unit's number has nowhere to fall."""

SHARED = 0.5
"""The unit has to show at least so much of the fall."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """Seconds ``first`` to ``last`` (excluded), the effort in them, its relative change, and the scatter of that."""

    first: int
    last: int
    eased_w: float
    change: float
    sd: float


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """Falls of the effort from a held level and back, seen by both meters, that stand out from the ride's plan."""
    level = view.settings.level
    return tuple(
        Candidate(
            kind=EpisodeKind.DROP,
            start_s=max(fall.first - view.late_s, 0.0),
            end_s=fall.last - view.late_s,
            depth_pct=_depth(fall, level),
            certainty=1.0 - math.erfc(abs(fall.change) / fall.sd / math.sqrt(2.0)),
            rider=True,
        )
        for fall in odd_falls(view.ride.expected_w, view.hours)
        if _shared(view, fall)
    )


def odd_falls(effort_w: FloatArray, hours: float) -> list[Fall]:
    """Falls of ``effort_w`` (n,), one a second, from a held level and back, like which there are no others in the ride.

    None where such falls are many: then nothing stands out.
    """
    falls = _falls(effort_w)
    odd = [
        fall
        for fall in falls
        if len(falls) < FEWEST_FALLS or not any(_alike(fall, other) for other in falls if other is not fall)
    ]
    return odd if len(odd) <= max(MOST_PER_HOUR * hours, 2.0) else []


def _depth(fall: Fall, level: float) -> Estimate:
    half = 100.0 * normal_quantile(level) * fall.sd
    value = 100.0 * fall.change
    return Estimate(value=value, low=max(value - half, -100.0), high=value + half, unit="%", level=level)


def _falls(effort_w: FloatArray) -> list[Fall]:
    """Every fall from a held level and back to it."""
    count = effort_w.size // BIN_S
    if count < HELD_BINS + LEAST_BINS + BACK_BINS:
        return []
    bins = _bin_means(effort_w, count)
    before = sliding_window_view(bins, HELD_BINS)[:-1]
    level = np.median(before, axis=1)
    kept = np.mean(np.abs(before - level[:, None]) <= KEPT_WITHIN * level[:, None], axis=1) >= KEPT_SHARE
    scatter = 1.4826 * np.median(np.abs(before - level[:, None]), axis=1) / np.maximum(level, 1.0)
    low = (bins[HELD_BINS:] < (1.0 - LEAST_FALL) * level) & kept & (level >= LEAST_W)
    found: list[Fall] = []
    busy = 0
    for start in np.flatnonzero(low):
        place = int(start) + HELD_BINS
        if place < busy:
            continue
        fall = _followed(effort_w, bins, place, float(level[start]), float(scatter[start]))
        if fall is not None:
            found.append(fall)
            busy = fall.last // BIN_S + 1
    return found


def _bin_means(effort_w: FloatArray, count: int) -> FloatArray:
    """Means over ``BIN_S`` seconds, the last known one where nothing is."""
    cut = effort_w[: count * BIN_S].reshape(count, BIN_S)
    known = np.isfinite(cut)
    seen = known.sum(axis=1)
    means = np.where(seen > 0, np.where(known, cut, 0.0).sum(axis=1) / np.maximum(seen, 1), 0.0)
    last = np.maximum.accumulate(np.where(seen > 0, np.arange(count), 0))
    return np.asarray(means[last])


def _followed(effort_w: FloatArray, bins: FloatArray, place: int, level: float, scatter: float) -> Fall | None:
    """The fall that begins in bin ``place`` from ``level``, if the effort comes back to that."""
    after = bins[place : place + LONGEST_BINS + BACK_BINS]
    high = after >= (1.0 - LEAST_FALL / 2.0) * level
    back = np.flatnonzero(high[:-1] & high[1:])
    if not back.size:
        return None
    length = int(back[0])
    returned = bins[place + length : place + length + BACK_BINS]
    if not length + 1 >= LEAST_BINS or length > LONGEST_BINS or returned.size < BACK_BINS // 2:
        return None
    if abs(float(np.median(returned)) / level - 1.0) > BACK_WITHIN:
        return None
    eased = float(np.median(after[:length])) if length else float(after[0])
    first, last = _half_way(effort_w, place * BIN_S, (place + length) * BIN_S, (level + eased) / 2.0)
    inside = effort_w[first:last]
    inside = inside[np.isfinite(inside)]
    if last - first < LEAST_BINS * BIN_S or not inside.size:
        return None
    eased_w = float(inside.mean())
    change = eased_w / level - 1.0
    sd = 1.5 * max(scatter, 0.02) / math.sqrt(max(length, 1))
    if -change < max(LEAST_FALL, LEAST_SIGMAS * sd):
        return None
    return Fall(first=first, last=last, eased_w=eased_w, change=change, sd=sd)


def _half_way(effort_w: FloatArray, first: int, last: int, half_w: float) -> tuple[int, int]:
    """Edges where the effort is half way between both levels."""
    middle = (first + last) // 2
    low, high = max(first - 20, 0), min(last + 20, effort_w.size)
    below = np.nan_to_num(half_w - effort_w, nan=0.0)
    before = np.cumsum(below[low:middle][::-1])
    after = np.cumsum(below[middle:high])
    if not before.size or not after.size:
        return first, last
    return middle - 1 - int(np.argmax(before)), middle + 1 + int(np.argmax(after))


def _alike(one: Fall, other: Fall) -> bool:
    """Whether two falls are to about the same power, and as long."""
    levels = math.log(max(one.eased_w, 1.0) / max(other.eased_w, 1.0))
    lengths = (one.last - one.first) / (other.last - other.first)
    return abs(levels) <= LIKE_LEVEL and 1.0 / LIKE_LENGTH <= lengths <= LIKE_LENGTH


def _shared(view: DetectorView, fall: Fall) -> bool:
    """Whether the unit's number fell with the effort."""
    unit_w = view.ride.unit_w
    inside = _known(unit_w, fall.first, fall.last)
    before = _known(unit_w, max(fall.first - HELD_BINS * BIN_S, 0), max(fall.first - BIN_S, 0))
    if inside.mean() < 0.5 or before.mean() < 0.3:
        return False
    level_w = float(np.nanmedian(unit_w[max(fall.first - HELD_BINS * BIN_S, 0) : max(fall.first - BIN_S, 1)]))
    if level_w < LEAST_SHOWN_W:
        return False
    change = float(np.nanmean(unit_w[fall.first : fall.last])) / level_w
    return change - 1.0 <= SHARED * fall.change


def _known(values: FloatArray, first: int, last: int) -> BoolArray:
    cut = np.isfinite(values[first:last])
    return cut if cut.size else np.zeros(1, dtype=bool)


DETECTOR = Detector(
    name="easing",
    says="The rider lets go for a while: both meters fall from a level that was held, and come back to it.",
    find=find,
    on_residual=True,
)
