"""From the lag of each second to stretches without a jump, and the second at which each jump happened."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.evidence import Banded
from wattwitness.clock.path import NO_LAG, Agreement, sample_scores
from wattwitness.model.arrays import FloatArray, IntArray

LEAST_SECONDS = 75
LEAST_SCORE = 24.0
"""A stretch shorter or weaker than this (nats) is no proof of a jump."""

LEAST_STEP = 2
"""Lags that differ by less are one clock that drifts."""

REACH = 150
"""Seconds on both sides of a change within which the jump is looked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Reference seconds ``start`` to before ``stop`` on one clock; ``lag_at`` of each of them, shape (stop - start,)."""

    start: int
    stop: int
    lag_at: IntArray

    @property
    def first_lag(self) -> int:
        """The lag where it begins."""
        return int(self.lag_at[0])

    @property
    def last_lag(self) -> int:
        """The lag where it ends."""
        return int(self.lag_at[-1])


def stretches(reference: Banded, unit: Banded, lag_at: IntArray, how: Agreement) -> tuple[Stretch, ...]:
    """Cut the ride where the lag jumps; what lies between two stretches, or is too weak to count, goes to neither."""
    kept: list[Stretch] = []
    for run in _runs(lag_at):
        if kept and abs(run.first_lag - kept[-1].last_lag) < LEAST_STEP:
            kept[-1] = _joined(kept[-1], run)
        else:
            kept.append(run)
    kept = [one for one in kept if _strong(reference, unit, one, how)]
    merged: list[Stretch] = []
    for run in kept:
        if merged and abs(run.first_lag - merged[-1].last_lag) < LEAST_STEP:
            merged[-1] = _joined(merged[-1], run)
        else:
            merged.append(run)
    return tuple(_with_exact_cuts(reference, unit, merged, how))


def _runs(lag_at: IntArray) -> list[Stretch]:
    """Stretches in which the lag changes by no more than a second at a time."""
    found = lag_at != NO_LAG
    cuts = np.flatnonzero((found[1:] != found[:-1]) | (found[1:] & (np.abs(np.diff(lag_at)) > 1))) + 1
    edges = [0, *cuts.tolist(), lag_at.size]
    return [
        Stretch(start=start, stop=stop, lag_at=lag_at[start:stop])
        for start, stop in zip(edges, edges[1:], strict=False)
        if found[start]
    ]


def _joined(left: Stretch, right: Stretch) -> Stretch:
    between = np.full(right.start - left.stop, left.last_lag, dtype=np.int64)
    return Stretch(start=left.start, stop=right.stop, lag_at=np.concatenate([left.lag_at, between, right.lag_at]))


def _strong(reference: Banded, unit: Banded, one: Stretch, how: Agreement) -> bool:
    if one.stop - one.start < LEAST_SECONDS:
        return False
    score = 0.0
    for lag in np.unique(one.lag_at):
        mine = one.lag_at == lag
        score += float(sample_scores(reference, unit, int(lag), how)[one.start : one.stop][mine].sum())
    return score >= LEAST_SCORE


def _with_exact_cuts(reference: Banded, unit: Banded, found: list[Stretch], how: Agreement) -> list[Stretch]:
    """Move the end of each stretch and the start of the next to where the jump fits best."""
    for k in range(len(found) - 1):
        left, right = found[k], found[k + 1]
        end, begin = jump_seconds(reference, unit, left, right, how)
        found[k] = _until(left, end)
        found[k + 1] = _from(right, begin)
    return found


def jump_seconds(
    reference: Banded, unit: Banded, left: Stretch, right: Stretch, how: Agreement
) -> tuple[int, int]:
    """Where ``left`` ends and ``right`` begins, in seconds of the reference.

    Where the seconds to add grow by a step, the unit's clock stood still: as many seconds of the reference have no
    counterpart, and ``right`` begins a step after ``left`` ends. Where they shrink the reference's stood still, and
    ``right`` begins where ``left`` ends.
    """
    step = right.first_lag - left.last_lag
    low = max(left.start + 1, min(left.stop, right.start) - REACH)
    high = min(right.stop - 1, max(left.stop, right.start) + REACH)
    before = sample_scores(reference, unit, left.last_lag, how)[low:high]
    after = sample_scores(reference, unit, right.first_lag, how)[low:high]
    until = np.concatenate([[0.0], np.cumsum(before)])
    onward = np.concatenate([np.cumsum(after[::-1])[::-1], [0.0]])
    skip = max(step, 0)
    ends = np.arange(until.size)
    begins = np.minimum(ends + skip, until.size - 1)
    total = until + onward[begins]
    best = _middle_of_best(total)
    return low + int(ends[best]), low + int(begins[best])


def _middle_of_best(total: FloatArray) -> int:
    """The middle of the places as good as the best: a jump in a gap could be anywhere in it."""
    best = int(np.argmax(total))
    near = np.flatnonzero(total >= total[best] - 0.5)
    gaps = np.flatnonzero(np.diff(near) > 1)
    pieces = np.split(near, gaps + 1)
    mine = next(piece for piece in pieces if piece[0] <= best <= piece[-1])
    return int(mine[mine.size // 2])


def _until(one: Stretch, stop: int) -> Stretch:
    if stop <= one.stop:
        return Stretch(start=one.start, stop=stop, lag_at=one.lag_at[: stop - one.start])
    more = np.full(stop - one.stop, one.last_lag, dtype=np.int64)
    return Stretch(start=one.start, stop=stop, lag_at=np.concatenate([one.lag_at, more]))


def _from(one: Stretch, start: int) -> Stretch:
    if start >= one.start:
        return Stretch(start=start, stop=one.stop, lag_at=one.lag_at[start - one.start :])
    more = np.full(one.start - start, one.first_lag, dtype=np.int64)
    return Stretch(start=start, stop=one.stop, lag_at=np.concatenate([more, one.lag_at]))
