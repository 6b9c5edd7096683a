"""One clock for two recordings: offset, drift and jumps, with what is known of each, or why there is none."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.clock.refine import Line, fit_line
from wattwitness.clock.search import Search, search
from wattwitness.clock.verdict import Verdict, nearest_rival_t, verdict
from wattwitness.clock.windows import Windows, changes, windows_along
from wattwitness.model.clock import (
    ClockCandidate,
    ClockFit,
    ClockJump,
    ClockSegment,
    ClockStatus,
    ClockWindows,
)
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Recording

CHANNELS = (ChannelName.CADENCE, ChannelName.POWER, ChannelName.HEART_RATE)
"""In the order in which they are believed: power displays lag, optical heart-rate sensors lag more."""


def fit_clock(reference: Recording, unit: Recording, *, level: float = 0.95) -> ClockFit:
    """Find how the unit's clock maps onto the reference's from the efforts both recorded.

    No prior is put on the offset: time zones and clocks that were never set are found like any other.
    """
    shared = [name for name in CHANNELS if reference.has(name) and unit.has(name)]
    if not shared:
        return _without(ClockStatus.NO_COMMON_EFFORT, None, "The recordings share no channel to compare.", level)
    searches: dict[ChannelName, Search] = {}
    verdicts: dict[ChannelName, Verdict] = {}
    for name in shared:
        searches[name] = search(reference, unit, name)
        verdicts[name] = verdict(searches[name])
        if verdicts[name] is Verdict.CLEAR:
            return _fitted(reference, searches[name], level)
    for name in shared:
        if verdicts[name] is Verdict.MANY:
            return _without(
                ClockStatus.AMBIGUOUS, searches[name], "Several offsets fit the efforts equally well.", level
            )
    if any(verdicts[name] is Verdict.NOTHING for name in shared):
        return _without(
            ClockStatus.NO_COMMON_EFFORT, searches[shared[0]], "The efforts match at no offset.", level
        )
    return _without(
        ClockStatus.AMBIGUOUS, searches[shared[0]], "The effort changes too little to fix an offset.", level
    )


def _without(status: ClockStatus, best: Search | None, reason: str, level: float) -> ClockFit:
    return ClockFit(
        status=status,
        offset_s=Estimate.missing(status.value, "s", level),
        drift_ppm=Estimate.missing(status.value, "ppm", level),
        jumps=(),
        segments=(),
        standard_uncertainty_s=math.nan,
        runner_up_ratio=math.nan,
        candidates=(),
        channel=best.channel if best else None,
        windows=ClockWindows(at_s=np.empty(0), offset_s=np.empty(0), correlation=np.empty(0)),
        reason=reason,
    )


SLOW_S = {ChannelName.CADENCE: 32, ChannelName.POWER: 64, ChannelName.HEART_RATE: 256}
WIDTH_S = {ChannelName.CADENCE: 90, ChannelName.POWER: 120, ChannelName.HEART_RATE: 400}
REACH_S = {ChannelName.CADENCE: 40, ChannelName.POWER: 60, ChannelName.HEART_RATE: 200}


def _fitted(reference: Recording, found: Search, level: float) -> ClockFit:
    from scipy.special import stdtrit

    a, b = changes(found.reference.values, SLOW_S[found.channel]), changes(found.unit.values, SLOW_S[found.channel])
    windows = windows_along(a, b, found.stretches, width=WIDTH_S[found.channel], reach=REACH_S[found.channel])
    middle = (reference.time_s[0] + reference.time_s[-1]) / 2 - found.reference.start_s
    line, seen, cross = fit_line(windows, 0.5, float(middle))
    t = float(stdtrit(line.freedom, 0.5 + level / 2))
    here = _stretch_at(found, float(middle))
    error = math.sqrt(float(line.covariance[here, here]) + 0.02**2)
    offset = float(line.lag_s[here]) + found.offset_of_lag_s
    slope_error = math.sqrt(float(line.covariance[-1, -1])) * 1e6
    status = ClockStatus.FOUND if found.channel == ChannelName.CADENCE else ClockStatus.FOUND_WITH_DELAY
    return ClockFit(
        status=status,
        offset_s=Estimate(value=offset, low=offset - t * error, high=offset + t * error, unit="s", level=level),
        drift_ppm=Estimate(
            value=line.slope * 1e6,
            low=line.slope * 1e6 - t * slope_error,
            high=line.slope * 1e6 + t * slope_error,
            unit="ppm",
            level=level,
        ),
        jumps=_jumps(reference, found, line, t, level),
        segments=_segments(found, line),
        standard_uncertainty_s=error,
        runner_up_ratio=math.nan,
        candidates=(ClockCandidate(offset_s=offset, correlation=1.0),),
        channel=found.channel,
        windows=_windows(reference, found, windows, line),
        reason=f"The changes in {found.channel.value} agree at one offset only ({nearest_rival_t(found):.0f} to none).",
    )


def _stretch_at(found: Search, second: float) -> int:
    """The stretch that holds ``second`` of the reference, or the nearest."""
    away = [max(one.start - second, second - one.stop, 0.0) for one in found.stretches]
    return int(np.argmin(away))


def _segments(found: Search, line: Line) -> tuple[ClockSegment, ...]:
    starts = [-math.inf]
    for k, one in enumerate(found.stretches[1:], start=1):
        lag = line.lag_s[k] + line.slope * (one.start - line.middle)
        starts.append(found.unit.start_s + one.start - float(lag))
    stops = [*starts[1:], math.inf]
    return tuple(
        ClockSegment(
            start_unit_s=start,
            end_unit_s=stop,
            anchor_unit_s=found.unit.start_s + line.middle - float(lag),
            offset_s=float(lag) + found.offset_of_lag_s,
            drift_ppm=line.slope / (1 - line.slope) * 1e6,
        )
        for start, stop, lag in zip(starts, stops, line.lag_s, strict=True)
    )


def _jumps(reference: Recording, found: Search, line: Line, t: float, level: float) -> tuple[ClockJump, ...]:
    answer = []
    for k, one in enumerate(found.stretches[:-1]):
        step = float(line.lag_s[k + 1] - line.lag_s[k])
        c = line.covariance
        error = math.sqrt(max(float(c[k, k] + c[k + 1, k + 1] - 2 * c[k, k + 1]), 0.0) + 0.02**2)
        at = one.stop + found.reference.start_s - float(reference.time_s[0])
        answer.append(
            ClockJump(
                at_s=Estimate(value=at, low=at - 5, high=at + 5, unit="s", level=level),
                step_s=Estimate(value=step, low=step - t * error, high=step + t * error, unit="s", level=level),
            )
        )
    return tuple(answer)


def _windows(reference: Recording, found: Search, windows: Windows, line: Line) -> ClockWindows:
    shift = found.reference.start_s - float(reference.time_s[0])
    best = np.argmax(windows.cross, axis=1)
    height = windows.cross[np.arange(best.size), best]
    energy = windows.energy
    return ClockWindows(
        at_s=windows.at + shift,
        offset_s=windows.lag + best - windows.reach + found.offset_of_lag_s,
        correlation=np.divide(height, energy, out=np.full(energy.shape, np.nan), where=energy > 0),
    )
