"""A recorder's clock that was set, or jumped, while it recorded; and rows that merely came late.

The order of the rows in a file is the order in which they were recorded. So a stretch of rows whose times lead away and
back belongs where it stands, and rows that pass through times already taken are a later moment of the ride.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.recording import Notice, Severity
from wattwitness.readers.words import count_of, duration_of

SAME_TIME_S = 1e-3
"""Time stamps closer than this are the same one; no recorder of this trade writes a thousand samples a second."""

JUMP_LEAST_S = 10.0
"""A stretch of rows is taken to have jumped away only from this many seconds; less is disorder in writing."""

STEP_ROWS = 3
"""A clock is taken to have been set back only where at least this many rows then repeat times already passed."""

MANY_RUNS = 200
"""More backward steps than this are disorder, not a clock that was set; it also bounds the work."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockRun:
    """Times of rows in file order on a clock that runs on, shape (n,), NaN where a row has no place on it.

    ``stepped``: the clock was set back for good, so that times elsewhere in the file (of pauses) may be off.
    """

    time_s: FloatArray
    stepped: bool
    notices: tuple[Notice, ...]


def run_on(time_s: FloatArray, values: FloatArray) -> ClockRun:
    """Put rows where they belong in time, without sorting them yet.

    ``time_s`` has shape (n,), finite, in file order; ``values`` (n, channels) tells a block of rows that was written
    twice from a clock that was set back.
    """
    stamps = time_s.copy()
    back = _backward_steps(stamps)
    if back.size == 0:
        return ClockRun(time_s=stamps, stepped=False, notices=())
    usual_s = _usual_spacing(stamps)
    notices: list[Notice] = []
    stepped = False
    if back.size <= MANY_RUNS:
        notices.extend(_bring_home(stamps, usual_s))
        moved = _move_on(stamps, values, usual_s)
        stepped = bool(moved)
        notices.extend(moved)
    notices.extend(_late(stamps))
    return ClockRun(time_s=stamps, stepped=stepped, notices=tuple(notices))


def _bring_home(stamps: FloatArray, usual_s: float) -> tuple[Notice, ...]:
    """Put back, in place, stretches whose times lead away and back; NaN where there is no room for a short one."""
    home = lost = 0
    furthest_s = 0.0
    for step in _backward_steps(stamps):
        start, end = _excursion(stamps, int(step), usual_s)
        if start == end:
            continue
        room_s = float(stamps[end] - stamps[start - 1])
        span_s = float(stamps[end - 1] - stamps[start])
        furthest_s = max(furthest_s, abs(float(stamps[start] - stamps[start - 1])))
        if room_s - span_s > 1.5 * usual_s:
            stamps[start:end] += stamps[start - 1] + (room_s - span_s) / 2 - stamps[start]
            home += end - start
        else:
            stamps[start:end] = np.nan
            lost += end - start
    notices = []
    if home:
        message = (
            f"The recorder's clock jumped away and back (by up to {duration_of(furthest_s)}); the "
            f"{count_of(home, 'sample')} in between {'was' if home == 1 else 'were'} put back where the file has them."
        )
        notices.append(Notice(slug="clock_jumped", message=message, samples=home))
    if lost:
        message = (
            f"{count_of(lost, 'sample')} {'has a time stamp' if lost == 1 else 'have time stamps'} up to "
            f"{duration_of(furthest_s)} away from those before and after; left out."
        )
        notices.append(Notice(slug="stray_times", message=message, samples=lost))
    return tuple(notices)


def _excursion(stamps: FloatArray, step: int, usual_s: float) -> tuple[int, int]:
    """Find the shortest stretch ``start`` to ``end`` that leads away and back, with its one end at a backward step.

    Its other end is a forward jump, before or after, of the same size and two usual spacings more: one on each side of
    the stretch. A short stretch may lack the room for its rows. Returns an empty stretch where there is none.
    """
    best = (step, step)
    back_s = stamps[step - 1] - stamps[step]
    if not back_s > SAME_TIME_S:
        # An earlier stretch was put back, and this step is gone.
        return best
    jumps = np.flatnonzero(np.diff(stamps) >= JUMP_LEAST_S) + 1
    for jump in jumps[np.argsort(np.abs(jumps - step), kind="stable")][:MANY_RUNS]:
        start, end = sorted((step, int(jump)))
        if best[0] != best[1] and end - start >= best[1] - best[0]:
            break
        span_s = stamps[end - 1] - stamps[start]
        spare_s = stamps[jump] - stamps[jump - 1] - back_s
        fits = 1.5 * usual_s < spare_s < 3.0 * usual_s + 0.05 * span_s
        crowded = end - start <= STEP_ROWS and abs(spare_s) <= 1.5 * usual_s
        if span_s >= 0 and (fits or crowded):
            best = (start, end)
    return best


def _move_on(stamps: FloatArray, values: FloatArray, usual_s: float) -> tuple[Notice, ...]:
    """Move on, in place, what was recorded after the clock was set back for good.

    The rows after that pass through times already taken, with other values. What merely came late fills times that
    were free, and a block written twice repeats the values: both are left as they are.
    """
    moved: list[int] = []
    largest_s = 0.0
    back = _backward_steps(stamps)
    ends = np.append(back, stamps.size)[1:]
    for start, end in zip(back, ends, strict=True):
        newest = float(np.nanmax(stamps[:start]))
        behind = int(np.count_nonzero(stamps[start:end] <= newest))
        if behind >= STEP_ROWS and _passes_again(stamps, values, int(start), int(start) + behind, usual_s):
            shift = newest + usual_s - float(stamps[start])
            stamps[start:] += shift
            largest_s = max(largest_s, shift - usual_s)
            moved.append(int(start))
    if not moved:
        return ()
    after = stamps.size - moved[0]
    message = (
        f"The recorder's clock was set back {count_of(len(moved), 'time')} during the ride (by up to "
        f"{duration_of(largest_s)}); the {count_of(after, 'sample')} after that were moved on, in the order of the "
        "file, as if no time had been lost."
    )
    return (Notice(slug="clock_set_back", message=message, samples=after),)


def _passes_again(stamps: FloatArray, values: FloatArray, start: int, end: int, usual_s: float) -> bool:
    """Whether most of the rows ``start`` to ``end`` fall on times already taken, with values of their own."""
    known = np.flatnonzero(np.isfinite(stamps[:start]))
    order = known[np.argsort(stamps[known], kind="stable")]
    seen = stamps[order]
    block = stamps[start:end]
    right = np.minimum(np.searchsorted(seen, block), seen.size - 1)
    left = np.maximum(right - 1, 0)
    nearer = np.where(np.abs(seen[left] - block) <= np.abs(seen[right] - block), left, right)
    taken: BoolArray = np.abs(seen[nearer] - block) < 0.5 * usual_s
    if not np.mean(taken) >= 0.5:
        return False
    earlier = values[order[nearer]]
    same = np.all((earlier == values[start:end]) | (np.isnan(earlier) & np.isnan(values[start:end])), axis=1)
    return bool(np.mean(same[taken]) < 0.9)


def _late(stamps: FloatArray) -> tuple[Notice, ...]:
    """A notice of the rows that sorting will move forward."""
    known = stamps[np.isfinite(stamps)]
    late = int(np.count_nonzero(known < np.maximum.accumulate(known) - SAME_TIME_S)) if known.size else 0
    if not late:
        return ()
    was = "was" if late == 1 else "were"
    message = f"{count_of(late, 'sample')} came late in the file and {was} put in the order of time."
    return (Notice(slug="time_reordered", message=message, severity=Severity.NOTE, samples=late),)


def _backward_steps(stamps: FloatArray) -> IntArray:
    """Rows whose time is before that of the row before."""
    return np.asarray(np.flatnonzero(np.diff(stamps) < -SAME_TIME_S) + 1, dtype=np.int64)


def _usual_spacing(stamps: FloatArray) -> float:
    steps = np.diff(stamps)
    forward = steps[steps > SAME_TIME_S]
    return float(np.median(forward)) if forward.size else 1.0
