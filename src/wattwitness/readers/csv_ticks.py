"""Repairs of a column of seconds: wrapped counters, rounded times, several rows to one tick. Arrays in, arrays out."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray


def typical_step(values: FloatArray) -> float:
    """The mean increment of the rows that follow each other without a gap; NaN if nothing increases.

    A gap is more than three times the median increment. The mean, not the median, since rounded times step unevenly.
    """
    steps = np.diff(values[np.isfinite(values)])
    if steps.size and np.all(steps <= 0):
        # The newest row stands first.
        steps = -steps
    rising = steps[steps > 0]
    if rising.size == 0:
        return float("nan")
    middle = float(np.median(rising))
    kept = steps[(steps >= 0) & (steps <= 3 * middle)]
    return float(kept.mean()) if np.count_nonzero(kept == 0) < kept.size / 2 else middle


def carry_over(time_s: FloatArray, period_s: float) -> tuple[FloatArray, int]:
    """Add ``period_s`` after each place where a counter of that period started again; return how many places.

    A restart is a step back which, with the period added, is a step of at most a minute forward (or ten usual steps),
    and which at least two further rows confirm.
    """
    finite = np.flatnonzero(np.isfinite(time_s))
    values = time_s[finite]
    steps = np.diff(values)
    rising = steps[steps > 0]
    usual_s = float(np.median(rising)) if rising.size else 1.0
    forward = steps + period_s
    wrapped = (steps < 0) & (forward >= 0) & (forward <= max(60.0, 10 * usual_s))
    wrapped[-2:] = False
    if not np.any(wrapped):
        return time_s, 0
    carried = time_s.copy()
    carried[finite] = values + period_s * np.concatenate([[0], np.cumsum(wrapped)])
    return carried, int(np.count_nonzero(wrapped))


def restarts(time_s: FloatArray) -> int:
    """How often a counter starts again: it steps back by more than half of all it covers, and stays back."""
    values = time_s[np.isfinite(time_s)]
    if values.size < 5:
        return 0
    back = np.flatnonzero(np.diff(values[:-2]) < -0.5 * np.ptp(values))
    return int(np.count_nonzero(values[back + 3] < values[back]))


def snap_to_seconds(time_s: FloatArray) -> tuple[FloatArray, float]:
    """Times rounded in the file to a part of a minute, an hour or a day, put back on whole seconds where they fit.

    They fit if, counted from a common fraction, no time is further than 0.45 s from a whole second, none falls on
    the second of another, and rows are about a second or more apart. Returns the times and the largest move in seconds.
    """
    finite = np.isfinite(time_s)
    values = time_s[finite]
    if values.size < 3 or not abs(typical_step(values) - round(typical_step(values))) < 0.02:
        return time_s, 0.0
    whole = np.rint(values)
    moved_s = float(np.max(np.abs(values - whole)))
    if moved_s > 0.45 or np.any(np.diff(whole) <= 0):
        return time_s, 0.0
    snapped = time_s.copy()
    snapped[finite] = whole
    return snapped, moved_s


def spread_within_ticks(time_s: FloatArray) -> tuple[FloatArray, float, int]:
    """Spread rows that share a time evenly over the tick, where times are coarser than rows.

    That is so where half of the distinct times or more hold the same number k >= 2 of rows, give or take one. The
    first tick may have begun before the recording, so its rows are set against its end. Returns the times, the tick in
    seconds and how many rows moved (0: nothing was done).
    """
    finite = np.flatnonzero(np.isfinite(time_s))
    values = time_s[finite]
    if values.size < 6:
        return time_s, 0.0, 0
    starts = np.concatenate([[0], np.flatnonzero(np.diff(values) != 0) + 1])
    sizes = np.diff(np.concatenate([starts, [values.size]]))
    ticks = np.diff(values[starts])
    usual = float(np.median(sizes[1:-1])) if sizes.size > 4 else float(sizes.max())
    if usual < 2 or not np.mean(np.abs(sizes - usual) <= 1) >= 0.5 or np.any(ticks <= 0):
        return time_s, 0.0, 0
    tick_s = float(np.median(ticks))
    if tick_s > 61.0:
        return time_s, 0.0, 0
    place = np.arange(values.size) - np.repeat(starts, sizes)
    share = np.maximum(np.repeat(sizes, sizes), usual)
    place[: sizes[0]] += max(0, round(usual) - sizes[0])
    spread = time_s.copy()
    spread[finite] = values + place / share * tick_s
    return spread, tick_s, int(np.count_nonzero(place))
