"""Time stamps as recorders write them, made to increase: missing, stray, backward and duplicate ones.

The order of the rows in a file is the order in which they were recorded; the time stamps are what a clock said, and a
clock can be set, jump and stutter. Rows are moved only where that explains them better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.model.recording import Notice
from wattwitness.readers.clock_steps import SAME_TIME_S, run_on
from wattwitness.readers.words import count_of, duration_of

STRAY_GAP_S = 86400.0
"""Samples further than a day from all others are no part of the ride: no ride pauses that long, and a clock that was
never set is years away. Keeping them would also stretch the ride's time grid over years."""


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
    clock = run_on(time_s[rows], values[rows])
    notices.extend(clock.notices)
    order = np.argsort(clock.time_s, kind="stable")
    order = order[np.isfinite(clock.time_s[order])]
    return Stamps(rows=rows[order], time_s=clock.time_s[order], stepped=clock.stepped, notices=tuple(notices))


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
