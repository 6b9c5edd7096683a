"""What one channel gives once it was found: lag, drift and their uncertainty, and how a display's smoothing enters."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.display_lag import Explained, Lag, Sampling, combined, explanations
from wattwitness.clock.refine import Line, fit_line
from wattwitness.clock.sampling import BRIDGE_HZ, Sampled
from wattwitness.clock.search import Search
from wattwitness.clock.segments import Stretch, settled
from wattwitness.clock.smoothing import PROMPT, Hypothesis
from wattwitness.clock.windows import Windows, differences, windows_along, without_coasting, without_level
from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName

REACH_S, WIDTH_S = 40, 60
SPARSE_REACH_S, SPARSE_WIDTH_S, SPARSE_SLOW_S = 40, 240, 64
HEART_REACH_S, HEART_WIDTH_S, HEART_SLOW_S = 120, 300, 256
"""Reach of the correlations, length of windows, and half-width of the level taken off, in seconds."""

WIDEST_FOR_DRIFT_S = 6.0
"""Samples farther apart than this tell no drift."""

STILL_RPM = 25.0
ROUNDED_TO = {ChannelName.CADENCE: 1.0, ChannelName.POWER: 1.0}

LEAST_SECONDS = 600
"""Common seconds from which the smoothing of a display can be told."""

FLOOR_S = 0.015
"""Standard uncertainty that no amount of data takes away: folding, and stamps that are whole seconds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """The line of lags of one channel, the windows it was read from, what the display adds (``None`` where that cannot
    be told) and seconds by which sparse sampling may shift everything.
    """

    search: Search
    line: Line
    windows: Windows
    explained: tuple[Explained, ...]
    sparse_s: float

    def lag(self, stretch: int, quantile: float, level: float) -> Lag:
        """The lag beyond the line, in ``stretch``, with its interval (``quantile`` standard errors wide)."""
        error_s = float(np.hypot(np.sqrt(max(self.line.covariance[stretch, stretch], 0.0)), FLOOR_S))
        if self.explained:
            return combined(self.explained, error_s, quantile, level)
        wide = quantile * error_s + self.sparse_s
        return Lag(value=0.0, low=-wide, high=wide, prompt=0.0)


def read(search: Search, middle: float, *, roughly: bool = False) -> Reading:
    """Read offset and drift off the channel that was found; ``middle`` is a reference second.

    ``roughly``: only drift and jumps will be used, for which a display's smoothing matters little.
    """
    step_s = max(_step_s(search.reference), _step_s(search.unit))
    whole, search = search, replace(search, stretches=settled(search.stretches))
    if search.channel == ChannelName.HEART_RATE:
        a, b = (without_level(side.filled, HEART_SLOW_S) for side in (search.reference, search.unit))
        windows = windows_along(a, b, search.stretches, width=HEART_WIDTH_S, reach=HEART_REACH_S)
        line = fit_line(windows, middle, highest_hz=0.1, differenced=False)
        return Reading(search=whole, line=line, windows=windows, explained=(), sparse_s=0.0)
    if step_s > 1.7:
        return replace(_read_sparse(search, middle, step_s), search=whole)
    a, b = _values(search, search.stretches, after_s=5)
    windows = windows_along(differences(a), differences(b), search.stretches, width=WIDTH_S, reach=REACH_S)
    line = fit_line(windows, middle, highest_hz=0.5, differenced=True)
    marks = _windows_for_marks(search, windows)
    explained: tuple[Explained, ...] = ()
    if marks.samples >= LEAST_SECONDS / 2:
        explained = explanations(marks, line, _sampling(search), roughly=roughly)
        if _is_smoothed(explained[0]):
            line = _read_again(line, windows, explained[0].hypothesis)
            if not roughly:
                explained = explanations(marks, line, _sampling(search), among=explained)
    return Reading(search=whole, line=line, windows=windows, explained=explained, sparse_s=0.5)


def _is_smoothed(one: Explained) -> bool:
    return one.hypothesis.unit is not PROMPT or one.hypothesis.reference is not PROMPT


def _read_again(line: Line, windows: Windows, smoothing: Hypothesis) -> Line:
    """Read the line with the likeliest smoothing's phase taken out.

    A mean over w seconds turns variation faster than once in w seconds upside down: read as if it were unsmoothed, the
    lag comes out wrong by a swing. The line returned is again that of the lag as seen, smoothing and all.
    """
    start = replace(line, lag_s=line.lag_s + smoothing.extra_s)
    kernels = (smoothing.reference, smoothing.unit)
    clear = fit_line(windows, line.middle, highest_hz=0.5, differenced=True, kernels=kernels, start=start)
    return replace(clear, lag_s=clear.lag_s - smoothing.extra_s)


def _read_sparse(search: Search, middle: float, step_s: float) -> Reading:
    """Every few seconds or event-driven: too coarse for differences, and for the marks of smoothing."""
    dense = _step_s(search.reference) <= 1.7 or _step_s(search.unit) <= 1.7
    sides = (side.values if dense else side.filled for side in (search.reference, search.unit))
    a, b = (without_level(values, SPARSE_SLOW_S) for values in sides)
    windows = windows_along(a, b, search.stretches, width=SPARSE_WIDTH_S, reach=SPARSE_REACH_S)
    line = fit_line(
        windows, middle, highest_hz=min(0.3, 0.5 / step_s), differenced=False, drift=step_s <= WIDEST_FOR_DRIFT_S
    )
    return Reading(search=search, line=line, windows=windows, explained=(), sparse_s=min(0.5 + (step_s - 1) / 2, 2.5))


def _step_s(side: Sampled) -> float:
    """Median seconds between samples of one side; infinite with fewer than two."""
    at = np.flatnonzero(np.isfinite(side.values))
    return float(np.median(np.diff(at))) if at.size > 1 else float("inf")


def _values(search: Search, stretches: tuple[Stretch, ...], *, after_s: int) -> tuple[FloatArray, FloatArray]:
    """Both sides' values; of cadence without the times around coasting, unless hardly anything else is left."""
    a, b = search.reference.values, search.unit.values
    if search.channel != ChannelName.CADENCE:
        return a, b
    left, right = without_coasting(a, b, stretches, before_s=5, after_s=after_s, still_below=STILL_RPM)
    enough = min(LEAST_SECONDS, 0.3 * np.isfinite(a).sum())
    return (left, right) if np.isfinite(left).sum() >= enough else (a, b)


def _windows_for_marks(search: Search, windows: Windows) -> Windows:
    """The windows in which smoothing shows: of cadence without the half minute in which a smoothed one still falls."""
    if search.channel != ChannelName.CADENCE:
        return windows
    a, b = _values(search, search.stretches, after_s=30)
    return windows_along(differences(a), differences(b), search.stretches, width=WIDTH_S, reach=REACH_S)


def _sampling(search: Search) -> Sampling:
    return Sampling(
        hz=BRIDGE_HZ,
        share_a=search.reference.bridge_share,
        share_b=search.unit.bridge_share,
        step=ROUNDED_TO.get(search.channel, 1.0),
    )
