"""Best mean powers: each meter's own, and the unit in the reference's best window."""

from __future__ import annotations

import numpy as np

from wattwitness.model.agreement import BestMean
from wattwitness.model.arrays import FloatArray

DURATIONS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 1800, 2400, 3600)
"""Seconds: from a single one to an hour."""

MOST_MISSING = 0.02
"""A window counts with at most this share of its seconds missing (none in windows under 50 s): one lost sample must
not hide an hour, and the mean of the rest stands for the whole."""


def best_means(
    reference_w: FloatArray, expected_w: FloatArray, unit_w: FloatArray, *, durations_s: tuple[int, ...] = DURATIONS
) -> tuple[BestMean, ...]:
    """Return the best mean powers over each of ``durations_s``.

    Powers (n,), one a second from the reference's first sample, NaN where missing: as measured, through the unit's
    response, as shown. Where several windows are as good the first counts. Each meter's own best is over all that it
    recorded on this grid. One pass over prefix sums for each duration.
    """
    prefixes = [_prefix(power) for power in (reference_w, expected_w, unit_w)]
    return tuple(_best_mean(prefixes, duration_s) for duration_s in durations_s)


def _prefix(power_w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Cumulative sums of the power and of the seconds present, each (n + 1,)."""
    present = np.isfinite(power_w)
    sums = np.concatenate([[0.0], np.cumsum(np.where(present, power_w, 0.0))])
    return sums, np.concatenate([[0.0], np.cumsum(present)])


def _window_means(prefix: tuple[FloatArray, FloatArray], duration_s: int) -> FloatArray:
    """Mean of every window of ``duration_s``, by its start; NaN where too much is missing."""
    sums, counts = (values[duration_s:] - values[:-duration_s] for values in prefix)
    enough = counts >= (1 - MOST_MISSING) * duration_s
    return np.where(enough, sums / np.where(enough, counts, 1.0), np.nan)


def _best_mean(prefixes: list[tuple[FloatArray, FloatArray]], duration_s: int) -> BestMean:
    """Best means over one duration."""
    reference, expected, unit = (_window_means(prefix, duration_s) for prefix in prefixes)
    reference_start, unit_start = _best_start(reference), _best_start(unit)
    return BestMean(
        duration_s=duration_s,
        reference_w=_at(reference, reference_start),
        unit_w=_at(unit, unit_start),
        same_window_unit_w=_at(unit, reference_start),
        reference_through_response_w=_at(expected, reference_start),
        reference_start_s=None if reference_start is None else float(reference_start),
        unit_start_s=None if unit_start is None else float(unit_start),
    )


def _best_start(means: FloatArray) -> int | None:
    """Start of the first best window; ``None`` if no window counts."""
    return int(np.nanargmax(means)) if np.any(np.isfinite(means)) else None


def _at(means: FloatArray, start: int | None) -> float | None:
    """The mean of the window from ``start``; ``None`` where it does not count."""
    return None if start is None or np.isnan(means[start]) else float(means[start])
