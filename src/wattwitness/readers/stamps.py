"""Time stamps as recorders write them, made to increase: missing, stray, backward and duplicate ones.

The order of the rows in a file is the order in which they were recorded; the time stamps are what a clock said, and a
clock can be set, jump and stutter. Rows are moved only where that explains them better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.recording import Notice, Severity
from wattwitness.readers.words import count_of, duration_of

STRAY_GAP_S = 86400.0
"""Samples further than a day from all others are no part of the ride: no ride pauses that long, and a clock that was
never set is years away. Keeping them would also stretch the ride's time grid over years."""

SAME_TIME_S = 1e-3
"""Time stamps closer than this are the same one; no recorder of this trade writes a thousand samples a second."""

STEP_ROWS = 3
"""A clock is taken to have been set back only where at least this many rows then repeat times already passed."""

MANY_RUNS = 200
"""More candidate steps than this are disorder, not a clock that was set; it also bounds the work."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stamps:
    """Rows of a file on a clock that runs on.

    ``rows`` (shape (n,)) are indices into the file's rows, in the order of ``time_s`` (shape (n,), not decreasing).
    ``stepped`` says that the clock was set back while recording, so that times elsewhere in the file may be off.
    """

    rows: IntArray
    time_s: FloatArray
    stepped: bool
    notices: tuple[Notice, ...]


def order_stamps(time_s: FloatArray, values: FloatArray) -> Stamps:
    """Put the rows of a file in the order of time.

    ``time_s`` has shape (n,), in file order, NaN where a row has no time; ``values`` has shape (n, channels) and
    tells a block of rows written twice from a clock set back.
    """
    notices: list[Notice] = []
    rows = np.flatnonzero(np.isfinite(time_s))
    if rows.size < time_s.size:
        lost = time_s.size - rows.size
        notices.append(
            Notice(slug="time_missing", message=f"{count_of(lost, 'row')} without a time stamp left out.", samples=lost)
        )
    rows = _without_strays(time_s, rows, notices)
    stamps, stepped = _clock_run_on(time_s[rows], values[rows], notices)
    order = np.argsort(stamps, kind="stable")
    return Stamps(rows=rows[order], time_s=stamps[order], stepped=stepped, notices=tuple(notices))


def merge_duplicates(time_s: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray, tuple[Notice, ...]]:
    """Merge rows of one time stamp into their mean, so that none of them counts twice and none is thrown away.

    ``time_s`` has shape (n,), not decreasing; ``values`` (n, channels), NaN where missing. The mean is over present
    values. Returns increasing time stamps, their values, and a notice of how many rows were merged away.
    """
    if time_s.size < 2:
        return time_s, values, ()
    starts = np.flatnonzero(np.concatenate(([True], np.diff(time_s) > SAME_TIME_S)))
    merged_away = time_s.size - starts.size
    if not merged_away:
        return time_s, values, ()
    present = np.isfinite(values)
    sums = np.add.reduceat(np.where(present, values, 0.0), starts, axis=0)
    counts = np.add.reduceat(present.astype(np.float64), starts, axis=0)
    means = np.divide(sums, counts, out=np.full_like(sums, np.nan), where=counts > 0)
    notice = Notice(
        slug="duplicate_times",
        message=(
            f"{count_of(merged_away, 'sample')} {'has' if merged_away == 1 else 'have'} the time stamp of the one "
            "before; samples of one time stamp were merged into their mean."
        ),
        samples=merged_away,
    )
    return time_s[starts], means, (notice,)


def _without_strays(time_s: FloatArray, rows: IntArray, notices: list[Notice]) -> IntArray:
    """Keep the largest group of rows with no gap of a day or more between them; say how many are left out."""
    if rows.size < 2:
        return rows
    by_time = rows[np.argsort(time_s[rows], kind="stable")]
    breaks = np.flatnonzero(np.diff(time_s[by_time]) > STRAY_GAP_S) + 1
    if breaks.size == 0:
        return rows
    groups = np.split(by_time, breaks)
    kept = max(groups, key=len)
    lost = rows.size - kept.size
    others = np.setdiff1d(rows, kept)
    first, last = time_s[kept].min(), time_s[kept].max()
    far = float(np.max(np.maximum(first - time_s[others], time_s[others] - last)))
    notices.append(
        Notice(
            slug="stray_times",
            message=(
                f"{count_of(lost, 'sample')} {'is' if lost == 1 else 'are'} dated more than a day away from the rest "
                f"(up to {duration_of(far)}); left out."
            ),
            samples=lost,
        )
    )
    return np.sort(kept)


def _clock_run_on(stamps: FloatArray, values: FloatArray, notices: list[Notice]) -> tuple[FloatArray, bool]:
    """Move on what was recorded after the clock was set back, and say where rows merely came late.

    After a clock was set back, the rows that follow pass through times already taken, with other values. What merely
    came late fills times that were free, and a block written twice repeats the values: both are left to sorting.
    """
    stamps = stamps.copy()
    back = np.flatnonzero(np.diff(stamps) < -SAME_TIME_S) + 1
    if back.size == 0:
        return stamps, False
    steps = np.diff(stamps)
    forward = steps[steps > SAME_TIME_S]
    usual_s = float(np.median(forward)) if forward.size else 1.0
    moved: list[int] = []
    largest_s = 0.0
    if back.size <= MANY_RUNS:
        ends = np.append(back[1:], stamps.size)
        for start, end in zip(back, ends, strict=True):
            newest = float(stamps[:start].max())
            behind = stamps[start:end] <= newest
            if np.count_nonzero(behind) < STEP_ROWS:
                continue
            if _passes_again(stamps, values, int(start), int(start + np.count_nonzero(behind)), usual_s):
                shift = newest + usual_s - float(stamps[start])
                stamps[start:] += shift
                largest_s = max(largest_s, shift - usual_s)
                moved.append(int(start))
    if moved:
        after = stamps.size - moved[0]
        notices.append(
            Notice(
                slug="clock_set_back",
                message=(
                    f"The recorder's clock was set back {count_of(len(moved), 'time')} during the ride (by up to "
                    f"{duration_of(largest_s)}); the {count_of(after, 'sample')} after that were moved on, in the "
                    "order of the file, as if no time had been lost."
                ),
                samples=after,
            )
        )
    late = int(np.count_nonzero(stamps < np.maximum.accumulate(stamps) - SAME_TIME_S))
    if late:
        notices.append(
            Notice(
                slug="time_reordered",
                message=f"{count_of(late, 'sample')} came late in the file and {'was' if late == 1 else 'were'} put in "
                "the order of time.",
                severity=Severity.NOTE,
                samples=late,
            )
        )
    return stamps, bool(moved)


def _passes_again(stamps: FloatArray, values: FloatArray, start: int, end: int, usual_s: float) -> bool:
    """Whether most of the rows ``start`` to ``end`` fall on times already taken, with values of their own."""
    order = np.argsort(stamps[:start], kind="stable")
    seen = stamps[:start][order]
    block = stamps[start:end]
    right = np.clip(np.searchsorted(seen, block), 1, seen.size - 1) if seen.size > 1 else np.zeros(block.size, int)
    left = np.maximum(right - 1, 0)
    nearer = np.where(np.abs(seen[left] - block) <= np.abs(seen[right] - block), left, right)
    taken: BoolArray = np.abs(seen[nearer] - block) < 0.5 * usual_s
    if np.mean(taken) < 0.5:
        return False
    earlier = values[:start][order][nearer]
    same = np.all((earlier == values[start:end]) | (np.isnan(earlier) & np.isnan(values[start:end])), axis=1)
    return bool(np.mean(same[taken]) < 0.9)
