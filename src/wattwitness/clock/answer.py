"""From what was read to the result: status, estimates with their intervals, segments, jumps and plain words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from wattwitness.clock.display_lag import Lag
from wattwitness.clock.path import peaks
from wattwitness.clock.reading import Reading
from wattwitness.clock.rivals import Rival, correlation_at
from wattwitness.clock.search import Search
from wattwitness.clock.segments import JumpPlace, Stretch, jump_place
from wattwitness.clock.verdict import EQUAL_INTERVALS, least_rival_t
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

DISPLAY_DELAY_S = 10.0
"""A power display may be late by this much beyond its smoothing; nothing in the power can tell."""

SECOND_S = 0.5
"""Whether a meter shows the mean of its last second or an instant is not seen either."""

HEART_DELAY_S = 20.0
"""Optical sensors follow the heart by 5-20 s, and either side may hold one."""

WIDEST_FOUND_S = 2.0
LEAST_PROMPT = 0.5
"""``found`` needs this much belief that neither display is smoothed, and an interval no wider than this either way."""

INSTANT_S = 3.0
"""Seconds by which the instant of a jump is open beyond what the efforts leave open."""

LARGEST_DRIFT_ERROR_PPM, WIDEST_DRIFT_PPM = 85.0, 200.0
"""With a larger error (then mostly what clocks usually do), or a wider interval either way, drift is not assessed."""


def answered(reference: Recording, status: ClockStatus | None, reading: Reading, reason: str, level: float) -> ClockFit:
    """The clock read off one channel. ``status`` and ``reason``: given, or ``None`` and empty to be judged here."""
    from scipy.special import stdtrit

    found, line = reading.search, reading.line
    quantile = float(stdtrit(line.freedom, 0.5 + level / 2))
    here = _stretch_at(found.stretches, line.middle)
    lag = _one_sided(found.channel, reading.lag(here, quantile, level))
    at_middle = float(line.lag_s[here]) + found.offset_of_lag_s
    judged = status or _status(found.channel, lag)
    slope_error_ppm = math.sqrt(max(float(line.covariance[-1, -1]), 0.0)) * 1e6
    drift_ppm = _drift_ppm(line.slope)
    drift = Estimate.missing("ride_too_short", "ppm", level)
    wide = quantile * slope_error_ppm
    if slope_error_ppm <= LARGEST_DRIFT_ERROR_PPM and wide <= WIDEST_DRIFT_PPM:
        drift = Estimate(value=drift_ppm, low=drift_ppm - wide, high=drift_ppm + wide, unit="ppm", level=level)
    paused = _pause_at_middle(reading)
    if paused is not None:
        at_middle = paused.lag_s + found.offset_of_lag_s
        lag = replace(lag, low=lag.low + paused.low_s - paused.lag_s, high=lag.high + paused.high_s - paused.lag_s)
        judged = ClockStatus.FOUND_WITH_DELAY if judged is ClockStatus.FOUND else judged
    offset_s = at_middle + lag.value
    correlation, runner_up = _heights(found)
    return ClockFit(
        status=judged,
        offset_s=Estimate(value=offset_s, low=at_middle + lag.low, high=at_middle + lag.high, unit="s", level=level),
        drift_ppm=drift,
        jumps=_jumps(reference, reading, quantile, level),
        segments=_segments(reading, lag.value) if judged.usable else (),
        standard_uncertainty_s=max(lag.high - lag.value, lag.value - lag.low) / quantile,
        runner_up_ratio=float(np.clip(runner_up / correlation, 0.0, 1.0)) if correlation > 0 else math.nan,
        candidates=(ClockCandidate(offset_s=offset_s, correlation=correlation),),
        channel=found.channel,
        windows=_windows(reference, reading, lag.value),
        reason=reason or (PAUSED if paused is not None else "") or _reason(found.channel, judged, reading),
    )


def unanswered(
    reference: Recording,
    status: ClockStatus,
    best: Search | None,
    reason: str,
    level: float,
    *,
    others: Sequence[Search] = (),
) -> ClockFit:
    """No clock: the status, the reason, and the offsets that stay plausible."""
    candidates = [one for found in (best, *others) if found is not None for one in _candidates(reference, found)]
    ranked = sorted(candidates, key=lambda one: -one.correlation)
    ratio = math.nan
    if len(ranked) > 1 and ranked[0].correlation > 0:
        ratio = min(max(ranked[1].correlation / ranked[0].correlation, 0.0), 1.0)
    return ClockFit(
        status=status,
        offset_s=Estimate.missing(status.value, "s", level),
        drift_ppm=Estimate.missing(status.value, "ppm", level),
        jumps=(),
        segments=(),
        standard_uncertainty_s=math.nan,
        runner_up_ratio=ratio,
        candidates=tuple(ranked) if status is ClockStatus.AMBIGUOUS else (),
        channel=best.channel if best else None,
        windows=ClockWindows(at_s=np.empty(0), offset_s=np.empty(0), correlation=np.empty(0)),
        reason=reason,
    )


def _one_sided(channel: ChannelName, lag: Lag) -> Lag:
    """What a delay that nothing shows does to the interval: a display can only be late, so the offset only larger."""
    if channel == ChannelName.CADENCE:
        return lag
    if channel == ChannelName.POWER:
        return Lag(value=lag.value, low=lag.low - SECOND_S, high=lag.high + DISPLAY_DELAY_S, prompt=0.0)
    return Lag(value=lag.value, low=lag.low - HEART_DELAY_S, high=lag.high + HEART_DELAY_S, prompt=0.0)


def _status(channel: ChannelName, lag: Lag) -> ClockStatus:
    narrow = max(lag.high - lag.value, lag.value - lag.low) <= WIDEST_FOUND_S
    if channel == ChannelName.CADENCE and lag.prompt >= LEAST_PROMPT and narrow:
        return ClockStatus.FOUND
    return ClockStatus.FOUND_WITH_DELAY


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paused:
    """The lag at the middle of the ride, which lies in or near a pause, and the lags before and after it."""

    lag_s: float
    low_s: float
    high_s: float


PAUSED = (
    "The efforts agree along the ride, but one recorder's clock stood still about its middle, where the offset is "
    "stated: the interval holds the offsets before and after."
)


def _pause_at_middle(reading: Reading) -> _Paused | None:
    """What is known of the lag if the middle may lie where one clock stood still; while the unit's does, the seconds to
    add to it grow with the reference's.
    """
    found, line = reading.search, reading.line
    for k, (left, right) in enumerate(pairwise(found.stretches)):
        place = jump_place(found.reference_bands, found.unit_bands, left, right, found.how)
        before, after = float(line.lag_s[k]), float(line.lag_s[k + 1])
        stands_s = max(after - before, 0.0)
        if not place.low - INSTANT_S <= line.middle <= place.high + stands_s + INSTANT_S:
            continue
        into_s = min(max(line.middle - left.stop, 0.0), stands_s)
        lag = before + into_s if stands_s else (after if line.middle >= left.stop else before)
        return _Paused(lag_s=lag, low_s=min(before, after), high_s=max(before, after))
    return None


def _drift_ppm(slope: float) -> float:
    """From lag per second of the reference to seconds to add per second of the unit."""
    return slope / (1 - slope) * 1e6


def _stretch_at(stretches: Sequence[Stretch], second: float) -> int:
    """The stretch that holds ``second`` of the reference; the one after a jump from the jump's instant on."""
    return min(sum(second >= one.stop for one in stretches), len(stretches) - 1)


def _segments(reading: Reading, extra_s: float) -> tuple[ClockSegment, ...]:
    found, line = reading.search, reading.line
    lags = line.lag_s + extra_s
    starts = [-math.inf]
    for k, one in enumerate(found.stretches[1:], start=1):
        starts.append(found.unit.start_s + one.start - float(lags[k] + line.slope * (one.start - line.middle)))
    stops = [*starts[1:], math.inf]
    return tuple(
        ClockSegment(
            start_unit_s=start,
            end_unit_s=stop,
            anchor_unit_s=found.unit.start_s + line.middle - float(lag),
            offset_s=float(lag) + found.offset_of_lag_s,
            drift_ppm=_drift_ppm(line.slope),
        )
        for start, stop, lag in zip(starts, stops, lags, strict=True)
    )


def _jumps(reference: Recording, reading: Reading, quantile: float, level: float) -> tuple[ClockJump, ...]:
    found, line = reading.search, reading.line
    # The last second before the jump and the first after it lie on both sides of its instant.
    shift = found.reference.start_s - float(reference.time_s[0]) - 0.5
    answer = []
    for k, (left, right) in enumerate(pairwise(found.stretches)):
        place = jump_place(found.reference_bands, found.unit_bands, left, right, found.how)
        step = float(line.lag_s[k + 1] - line.lag_s[k])
        c = line.covariance
        variance = float(c[k, k] + c[k + 1, k + 1] - 2 * c[k, k + 1])
        wide = quantile * math.sqrt(max(variance, 0.0) + 0.02**2)
        at = float(left.stop) + shift
        answer.append(
            ClockJump(
                at_s=Estimate(
                    value=at,
                    low=min(place.low + shift, at) - INSTANT_S,
                    high=max(place.high + shift, at) + INSTANT_S,
                    unit="s",
                    level=level,
                ),
                step_s=Estimate(value=step, low=step - wide, high=step + wide, unit="s", level=level),
                cause=_cause(step, place),
            )
        )
    return tuple(answer)


def _cause(step_s: float, place: JumpPlace) -> str:
    if step_s > 0:
        if place.gap_of_reference:
            return "both paused, and only the reference's file shows it"
        return "the unit's recorder paused and its clock with it"
    if place.gap_of_unit:
        return "both paused, and only the unit's file shows it"
    return "the reference's recorder paused and its clock with it"


def _windows(reference: Recording, reading: Reading, extra_s: float) -> ClockWindows:
    """Each window's own offset, to a fraction of a second by a parabola through its highest correlation."""
    found, windows = reading.search, reading.windows
    taken = np.argmax(windows.cross, axis=1)
    inner = np.clip(taken, 1, windows.cross.shape[1] - 2)
    rows = np.arange(taken.size)
    before, top, after = (windows.cross[rows, inner + k] for k in (-1, 0, 1))
    bend = before - 2 * top + after
    fraction = np.divide(0.5 * (before - after), bend, out=np.zeros_like(bend), where=bend < 0)
    height = np.divide(top, windows.pairs[:, windows.reach], out=np.zeros_like(top), where=windows.used > 0)
    good = (windows.used > 0) & (height > 0.15) & (taken == inner)
    offset = windows.lag + inner - windows.reach + np.clip(fraction, -0.5, 0.5) + found.offset_of_lag_s + extra_s
    return ClockWindows(
        at_s=windows.at + found.reference.start_s - float(reference.time_s[0]),
        offset_s=np.where(good, offset, np.nan),
        correlation=np.where(good, np.clip(height, -1.0, 1.0), np.nan),
    )


def _heights(found: Search) -> tuple[float, float]:
    """Normalised correlation at the best offset, and at the best of the rivals."""
    best = correlation_at(found.reference.filled, found.unit.filled, found.stretches, 0)
    others = [
        correlation_at(found.reference.filled, found.unit.filled, found.stretches, rival.shift_s)
        for rival in found.rivals[:3]
    ]
    return best, max(others, default=math.nan)


def _candidates(reference: Recording, found: Search) -> list[ClockCandidate]:
    """Offsets at the middle of the reference's ride that the channel leaves plausible."""
    middle = float((reference.time_s[0] + reference.time_s[-1]) / 2 - found.reference.start_s)
    if not found.stretches:
        # Nothing speaks for any offset: those that put the starts or the ends together are as good as the others.
        ends = found.reference.values.size - found.unit.values.size
        lags = [*dict.fromkeys([*(lag for lag, _ in peaks(found.found, found.least_common_s, 8)), 0, ends])]
        return [_candidate(found, float(lag), _flat(found, lag), 0) for lag in lags]
    here = found.stretches[_stretch_at(found.stretches, middle)]
    at = int(np.clip(middle - here.start, 0, here.lag_at.size - 1))
    lag = float(here.lag_at[at])
    least = least_rival_t(found)
    rivals: list[Rival] = [one for one in found.rivals if 0 < one.t < least]
    rivals = rivals or [one for one in found.rivals if 0 < one.t < EQUAL_INTERVALS * least]
    return [_candidate(found, lag + shift, found.stretches, shift) for shift in (0, *(one.shift_s for one in rivals))]


def _flat(found: Search, lag: int) -> tuple[Stretch, ...]:
    size = found.reference.values.size
    return (Stretch(start=0, stop=size, lag_at=np.full(size, lag, dtype=np.int64)),)


def _candidate(found: Search, lag: float, stretches: Sequence[Stretch], shift: int) -> ClockCandidate:
    height = correlation_at(found.reference.filled, found.unit.filled, stretches, shift)
    return ClockCandidate(offset_s=lag + found.offset_of_lag_s, correlation=0.0 if math.isnan(height) else height)


def _reason(channel: ChannelName, status: ClockStatus, reading: Reading) -> str:
    if channel == ChannelName.HEART_RATE:
        return (
            "Only heart rate is shared. Optical sensors follow the heart by 5 to 20 s, so the offset is good to "
            "about that."
        )
    if channel == ChannelName.POWER:
        return (
            "The changes in power agree at one offset only, but a display's delay cannot be told from its clock: the "
            "offset may be larger by as much as the unit shows its power late."
        )
    if status is ClockStatus.FOUND:
        return "The changes in cadence agree at one offset only."
    if not reading.explained:
        return "The changes in cadence agree at one offset only; it is sampled too sparsely to tell a display's delay."
    return (
        "The changes in cadence agree at one offset only, but one side shows it smoothed, and so late; "
        "the interval holds the delays that fit."
    )
