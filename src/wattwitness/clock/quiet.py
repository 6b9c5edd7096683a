"""Whether two recordings also match between the great changes: two riders of one plan share nothing else."""

from __future__ import annotations

import numpy as np

from wattwitness.clock.bands import octave_bands, smoothed_present
from wattwitness.clock.evidence import Banded, t_along
from wattwitness.clock.path import NO_LAG
from wattwitness.clock.rivals import along_path
from wattwitness.clock.search import Search
from wattwitness.clock.segments import lags_along
from wattwitness.clock.windows import without_coasting
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.recording import ChannelName

LEAST_SECONDS = 600
"""Seconds that have to be left on both sides before what is missing in them means anything."""

BANDS_HEARD = 6
"""Periods up to about 128 s."""

LEAST_EVIDENCE = 14.0
"""Evidence at one given lag that chance seldom gives."""

STEP_S, STEP_SIZE = 6, 5.0
"""A great change: over this many seconds, this many times the usual change."""

BEFORE_S, AFTER_S, COASTING_AFTER_S = 6, 25, 12


def only_great_changes_match(search: Search) -> bool:
    """Whether both sides vary away from coasting (cadence) or from steps (power), and do not match there."""
    a, b = _quiet(search)
    if min(int(np.isfinite(side).sum()) for side in (a, b)) < LEAST_SECONDS:
        return False
    if not (varies(a, search.channel) and varies(b, search.channel)):
        return False
    left, right = (Banded(bands=x, has=y) for x, y in map(octave_bands, (a, b)))
    moved = along_path(right, search.stretches, left.size)
    t = np.maximum(t_along(left, moved, search.how.redundancy)[:BANDS_HEARD], 0)
    return 0.5 * float(t @ t) < LEAST_EVIDENCE


def _quiet(search: Search) -> tuple[FloatArray, FloatArray]:
    """Both sides without the great changes of either."""
    a, b = search.reference.filled, search.unit.filled
    if search.channel == ChannelName.CADENCE:
        return without_coasting(a, b, search.stretches, before_s=BEFORE_S, after_s=COASTING_AFTER_S, still_below=25.0)
    lag_at = lags_along(search.stretches, a.size)
    j = np.where(lag_at != NO_LAG, np.arange(a.size) - lag_at, -1)
    matched = (j >= 0) & (j < b.size)
    great = _great(a)
    great[matched] |= _great(b)[j[matched]]
    count = np.concatenate([[0], np.cumsum(great)])
    seconds = np.arange(a.size)
    near = count[np.minimum(seconds + BEFORE_S + 1, a.size)] - count[np.maximum(seconds - AFTER_S, 0)] > 0
    gone = np.zeros(b.size, dtype=np.bool_)
    gone[j[matched & near]] = True
    return np.where(near, np.nan, a), np.where(gone, np.nan, b)


def _great(values: FloatArray) -> BoolArray:
    """Seconds at which the smoothed value changes by far more than it usually does."""
    has = np.isfinite(values)
    smooth, _ = smoothed_present(np.where(has, values, 0.0), has, STEP_S // 2)
    change = np.zeros(values.size)
    change[STEP_S:] = np.abs(smooth[STEP_S:] - smooth[:-STEP_S])
    both = has.copy()
    both[STEP_S:] &= has[:-STEP_S]
    both[:STEP_S] = False
    usual = float(np.median(change[both])) if both.any() else 0.0
    great: BoolArray = both & (change > STEP_SIZE * max(usual, 1e-9))
    great |= has & (values <= 0)
    return great


BLOCK_S = 8
LEAST_SPREAD = {ChannelName.CADENCE: 0.006, ChannelName.POWER: 0.03, ChannelName.HEART_RATE: 0.008}
"""Standard deviation of 8 s means, in parts of the mean level, below which nothing of the effort can be seen: two
meters that each wander by 2 % of a constant power stay below it."""

MORE_THAN_NOISE = 1.6
"""Variance of 8 s means over that of independent seconds."""


def varies(values: FloatArray, channel: ChannelName) -> bool:
    """Whether ``values`` (NaN where missing) hold an effort that changes, and not just a meter's noise."""
    has = np.isfinite(values)
    if has.sum() < 10 * BLOCK_S:
        return False
    level, _ = smoothed_present(np.where(has, values, 0.0), has, 256)
    left = np.where(has, values - level, 0.0)
    edges = np.arange(0, values.size, BLOCK_S)
    count = np.add.reduceat(has.astype(np.float64), edges)
    full = count >= 0.75 * np.median(count[count > 0])
    means = np.add.reduceat(left, edges)[full] / count[full]
    mean_level = abs(float(values[has].mean()))
    expected = float(np.var(left[has])) / float(np.mean(count[full]))
    spread = float(np.var(means))
    return bool(
        spread > (LEAST_SPREAD.get(channel, 0.01) * max(mean_level, 1.0)) ** 2 and spread > MORE_THAN_NOISE * expected
    )
