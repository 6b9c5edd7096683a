"""From the lag of each second to stretches without a jump, and the second at which each jump happened."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.evidence import Banded
from wattwitness.clock.path import NO_LAG, Agreement, sample_scores
from wattwitness.model.arrays import FloatArray, IntArray

LEAST_SECONDS = 75
LEAST_SCORE = 34.0
"""A stretch shorter or weaker than this (nats) is no proof of a jump."""

SETTLED_S = 90
"""Seconds at the ends of a stretch over which its lag is taken."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Reference seconds ``start`` to before ``stop`` on one clock; ``lag_at`` each of them, shape (stop - start,)."""

    start: int
    stop: int
    lag_at: IntArray

    @property
    def first_lag(self) -> int:
        """The lag where it begins: the middle one of its first seconds."""
        return int(np.median(self.lag_at[:SETTLED_S]))

    @property
    def last_lag(self) -> int:
        """The lag where it ends."""
        return int(np.median(self.lag_at[-SETTLED_S:]))


def settled(found: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """The stretches without the seconds around each jump, whose instant is known to some seconds only."""
    answer = []
    for k, one in enumerate(found):
        trim = min(JUMP_MARGIN_S, (one.stop - one.start) // 5)
        start = one.start + (trim if k else 0)
        stop = one.stop - (trim if k < len(found) - 1 else 0)
        answer.append(Stretch(start=start, stop=stop, lag_at=one.lag_at[start - one.start : stop - one.start]))
    return tuple(answer)


JUMP_MARGIN_S = 25


def lags_along(stretches: Sequence[Stretch], size: int) -> IntArray:
    """The lag of each reference second, ``NO_LAG`` outside all stretches."""
    lag_at = np.full(size, NO_LAG, dtype=np.int64)
    for one in stretches:
        lag_at[one.start : one.stop] = one.lag_at
    return lag_at


def stretches(
    reference: Banded, unit: Banded, lag_at: IntArray, how: Agreement, least_step_s: int
) -> tuple[Stretch, ...]:
    """Cut the ride where the lag jumps by ``least_step_s`` or more: less may be drift, or a smoothed display, whose
    correlation is flat over as long as it smooths.

    Stretches too short or too weak to prove a jump go to their neighbours.
    """
    kept = _merged(_runs(lag_at), least_step_s)
    while len(kept) > 1:
        gains = [_gain(reference, unit, kept, k, how) for k in range(len(kept))]
        weakest = int(np.argmin(gains))
        if gains[weakest] >= LEAST_SCORE:
            break
        del kept[weakest]
        kept = _merged(kept, least_step_s)
    if kept:
        kept[0] = _from(kept[0], 0)
        kept[-1] = _until(kept[-1], reference.size)
    return tuple(_with_exact_cuts(reference, unit, kept, how))


def _merged(found: list[Stretch], least_step_s: int) -> list[Stretch]:
    """Join neighbours whose lags are those of one drifting clock."""
    kept: list[Stretch] = []
    for run in found:
        if kept and abs(run.first_lag - kept[-1].last_lag) < least_step_s:
            kept[-1] = _joined(kept[-1], run)
        else:
            kept.append(run)
    return kept


def _runs(lag_at: IntArray) -> list[Stretch]:
    """Stretches in which the lag changes by no more than a second at a time."""
    found = lag_at != NO_LAG
    cuts = np.flatnonzero((found[1:] != found[:-1]) | (found[1:] & (np.abs(np.diff(lag_at)) > 1))) + 1
    edges = [0, *cuts.tolist(), lag_at.size]
    return [
        Stretch(start=start, stop=stop, lag_at=lag_at[start:stop])
        for start, stop in itertools.pairwise(edges)
        if found[start]
    ]


def _joined(left: Stretch, right: Stretch) -> Stretch:
    between = np.full(right.start - left.stop, left.last_lag, dtype=np.int64)
    return Stretch(start=left.start, stop=right.stop, lag_at=np.concatenate([left.lag_at, between, right.lag_at]))


def _gain(reference: Banded, unit: Banded, found: list[Stretch], k: int, how: Agreement) -> float:
    """By how many nats stretch ``k`` fits better on its own lags than on either neighbour's; none if it is short."""
    one = found[k]
    own = np.zeros(one.stop - one.start)
    for lag in np.unique(one.lag_at):
        mine = one.lag_at == lag
        own[mine] = sample_scores(reference, unit, int(lag), how)[one.start : one.stop][mine]
    if np.count_nonzero(own) < LEAST_SECONDS:
        return 0.0
    others = [found[j].last_lag if j < k else found[j].first_lag for j in (k - 1, k + 1) if 0 <= j < len(found)]
    scores = [float(sample_scores(reference, unit, lag, how)[one.start : one.stop].sum()) for lag in others]
    return float(own.sum()) - max(*scores, 0.0)


def _with_exact_cuts(reference: Banded, unit: Banded, found: list[Stretch], how: Agreement) -> list[Stretch]:
    """Move the end of each stretch and the start of the next to where the jump fits best.

    A stretch of which the best place leaves nothing was no clock of its own: its neighbour goes on through it.
    """
    k = 0
    while k < len(found) - 1:
        left, right = found[k], found[k + 1]
        place = jump_place(reference, unit, left, right, how)
        if place.begin >= right.stop:
            found[k : k + 2] = [_until(left, right.stop)]
        elif place.end <= left.start:
            found[k : k + 2] = [_from(right, left.start)]
            k = max(k - 1, 0)
        else:
            found[k : k + 2] = [_until(left, place.end), _from(right, place.begin)]
            k += 1
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class JumpPlace:
    """Reference seconds: the stretch before ends at ``end``, the next begins at ``begin``; ``low`` to ``high`` holds
    the end. ``gap_of_reference``, ``gap_of_unit``: the file itself has no samples there for as long as it stepped.
    """

    end: int
    begin: int
    low: int
    high: int
    gap_of_reference: bool = False
    gap_of_unit: bool = False


REACH = 150
"""Seconds on both sides of a change within which the jump is looked for."""

LIKELY = 8.0
"""Log likelihood below the best down to which an instant is still likely."""

LULL_S = 8
"""Unlikely seconds between likely ones that do not part them."""

GAP_LOSS = 20.0
"""Log likelihood that a gap of the right length may cost and still be taken for the place of the jump."""

LEAST_GAP_S = 4


def jump_place(reference: Banded, unit: Banded, left: Stretch, right: Stretch, how: Agreement) -> JumpPlace:
    """Where ``left`` ends and ``right`` begins.

    Where the seconds to add grow by a step, the unit's clock stood still: as many seconds of the reference have no
    counterpart, and ``right`` begins a step after ``left`` ends. Where they shrink the reference's stood still, and
    ``right`` begins where ``left`` ends. A gap of about that length in the file whose clock ran on is the better sign
    of the instant, where the efforts do not speak against it.
    """
    how = how.quick()
    step = right.first_lag - left.last_lag
    skip = max(step, 0)
    low = max(left.start + 1, min(left.stop, right.start) - REACH)
    high = min(right.stop - 1, max(left.stop, right.start) + REACH + skip)
    before = sample_scores(reference, unit, left.last_lag, how)[low:high]
    after = sample_scores(reference, unit, right.first_lag, how)[low:high]
    until = np.concatenate([[0.0], np.cumsum(before)])
    onward = np.concatenate([np.cumsum(after[::-1])[::-1], [0.0]])
    ends = np.arange(until.size)
    total = until + onward[np.minimum(ends + skip, until.size - 1)]
    likely = _near_best(total, LIKELY)
    best = int(likely[likely.size // 2]) if likely.size else 0
    gap = _gap_that_fits(reference, unit, left, step, low, total)
    if gap is not None:
        end, length = gap
        begin = end + length if step > 0 else end
        return JumpPlace(
            end=end, begin=begin, low=end - 1, high=end + 1, gap_of_reference=step > 0, gap_of_unit=step < 0
        )
    return JumpPlace(end=low + best, begin=low + best + skip, low=low + int(likely[0]), high=low + int(likely[-1]))


def _near_best(total: FloatArray, loss: float) -> IntArray:
    """The unbroken run of places around the best that are nearly as good: a jump in a lull could be anywhere in it."""
    best = int(np.argmax(total))
    near = np.flatnonzero(total >= total[best] - loss)
    pieces = np.split(near, np.flatnonzero(np.diff(near) > LULL_S) + 1)
    return next(piece for piece in pieces if piece[0] <= best <= piece[-1])


def _gap_that_fits(
    reference: Banded, unit: Banded, left: Stretch, step: int, low: int, total: FloatArray
) -> tuple[int, int] | None:
    """Reference second at which a gap as long as the step begins, and its length; the likeliest, if any is likely."""
    side, shift = (reference, 0) if step > 0 else (unit, left.last_lag)
    best: tuple[int, int] | None = None
    loss = GAP_LOSS
    for start, length in _gaps(side):
        end = start + shift
        if abs(length - abs(step)) > 3 + 0.1 * abs(step) or not 0 <= end - low < total.size:
            continue
        cost = float(total.max() - total[end - low])
        if cost <= loss:
            best, loss = (end, length), cost
    return best


def _gaps(side: Banded) -> list[tuple[int, int]]:
    """Start and length of each stretch without samples inside a recording."""
    missing = ~side.has.any(axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], missing, [False]]).astype(np.int8)))
    runs = edges.reshape(-1, 2)
    return [(int(a), int(b - a)) for a, b in runs if a > 0 and b < missing.size and b - a >= LEAST_GAP_S]


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
