"""What the samples show by themselves: one number on and on, a gap, a leap, zeros while the cranks turn."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.detectors.frozen import least_run
from wattwitness.faults.recorded import runs
from wattwitness.faults.running import stretches
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.settings import AloneSettings

JOINED_STEPS = 2.5
TURNING_RPM = 40.0
TURNING_SHARE = 0.8
LEAST_ZEROS_S = 3.0
LONG_ZEROS_S = 60.0
"""So long a run of zeros while the cranks turn is told even where no power stands beside it to hold it against."""

EDGE_S = 3
"""Cadence sensors and displays stop some seconds after the legs or before: zeros there are the edge of coasting."""

LEAST_CADENCE_CHANGE = 0.03
SPIKE_S = 3.0
SPIKE_TIMES, SPIKE_W = 2.5, 400.0
"""A leap stands above all its seconds around by this factor and as many watts: no legs do that for so short a time."""

SPIKE_REACH_S = 8.0
FROM_NOTHING_W = 60.0
EVENT_SPACING_S = 15.0
USUAL_TIMES = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStretch:
    """What was seen from ``start_s`` to ``end_s``; ``shown_w`` the number shown, ``usual_w`` that around it, where
    there is one; ``by_itself``: the samples alone convict, no rider shows that.
    """

    kind: EpisodeKind
    start_s: float
    end_s: float
    shown_w: float | None
    usual_w: float | None
    by_itself: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class _Samples:
    """Samples (m,) that hold a power, in seconds after the recording's first sample."""

    ride: AloneRide
    recording: Recording
    at_s: FloatArray
    power_w: FloatArray

    @classmethod
    def of(cls, ride: AloneRide) -> _Samples | None:
        recording = ride.recorded
        if recording.spot or not recording.has(ChannelName.POWER):
            return None
        power_w = recording.channels[ChannelName.POWER]
        held = np.isfinite(power_w)
        if held.sum() < 60:
            return None
        return cls(
            ride=ride, recording=recording, at_s=(recording.time_s - recording.time_s[0])[held], power_w=power_w[held]
        )

    @cached_property
    def step_s(self) -> float:
        return float(np.median(np.diff(self.at_s)))

    @cached_property
    def joined(self) -> BoolArray:
        return np.asarray(np.diff(self.at_s) <= max(JOINED_STEPS * self.step_s, 3.0))

    @cached_property
    def runs(self) -> tuple[IntArray, IntArray]:
        return runs(self.power_w, self.joined)

    def seconds(self, start_s: float, end_s: float) -> slice:
        size = self.ride.time_s.size
        return slice(int(np.clip(round(start_s), 0, size)), int(np.clip(round(end_s), 0, size)))


def own_stretches(ride: AloneRide, settings: AloneSettings) -> tuple[OwnStretch, ...]:
    """Everything the samples show by themselves, in order of time."""
    samples = _Samples.of(ride)
    if samples is None:
        return ()
    found = [
        *_frozen(samples, settings.episode_duration_s),
        *_zeros(samples),
        *_spikes(samples),
        *_gaps(samples, settings.episode_duration_s),
    ]
    return tuple(sorted(found, key=lambda one: one.start_s))


def _frozen(samples: _Samples, least_s: float) -> list[OwnStretch]:
    """Runs of one number that the ride's other runs do not explain; certain where cadence moved meanwhile."""
    if samples.recording.event_driven:
        return []
    first, last = samples.runs
    riding = samples.power_w[first] > 0
    first, last = first[riding], last[riding]
    if not first.size:
        return []
    lengths = last - first + 1
    length_s = samples.at_s[last] - samples.at_s[first] + samples.step_s
    long = (lengths >= least_run(lengths)) & (length_s >= least_s)
    share = float(lengths[long].sum()) / samples.power_w.size
    found = []
    for place in np.flatnonzero(long):
        start_s, end_s = _edges(samples, first[place], last[place])
        moved = _cadence_moved(samples, start_s, end_s)
        if moved is not True and (moved is False or share > 0.5):
            continue  # legs that held still to the turn, or a display so coarse that one number is no wonder
        shown_w = float(samples.power_w[first[place]])
        found.append(
            OwnStretch(
                kind=EpisodeKind.FROZEN,
                start_s=start_s,
                end_s=end_s,
                shown_w=shown_w,
                usual_w=None,
                by_itself=share <= 0.5 and (bool(moved) or end_s - start_s >= 4 * least_s),
            )
        )
    return found


def _zeros(samples: _Samples) -> list[OwnStretch]:
    """Zeros while the cranks turn: without cadence they may be coasting, and nothing is said of them."""
    cadence = samples.ride.cadence_rpm
    if cadence is None:
        return []
    first, last = samples.runs
    found = []
    for place in np.flatnonzero(samples.power_w[first] == 0):
        start_s, end_s = _edges(samples, first[place], last[place])
        if end_s - start_s < LEAST_ZEROS_S - 1e-6:
            continue
        inside = cadence[samples.seconds(start_s, end_s)]
        around = cadence[samples.seconds(start_s - EDGE_S, end_s + EDGE_S)]
        usual_w = _usual_w(samples, first[place], last[place])
        if not _turning(inside) or not _turning(around):
            continue
        known = usual_w is not None and usual_w >= FROM_NOTHING_W
        if not known and end_s - start_s < LONG_ZEROS_S:
            continue
        found.append(
            OwnStretch(
                kind=EpisodeKind.ZEROS,
                start_s=start_s,
                end_s=end_s,
                shown_w=0.0,
                usual_w=usual_w if known else None,
                by_itself=known,
            )
        )
    return found


def _spikes(samples: _Samples) -> list[OwnStretch]:
    """Leaps of at most a few seconds, far above everything around."""
    power = samples.power_w
    reach = max(round(SPIKE_REACH_S / samples.step_s), 2)
    most = max(round(SPIKE_S / samples.step_s), 1)
    found = []
    high = power > SPIKE_W
    for first, end in zip(*stretches(high), strict=True):
        top = int(first + np.argmax(power[first:end]))
        level = power[top] / SPIKE_TIMES
        left, right = top, top + 1
        while left > 0 and power[left - 1] > level and right - left <= most:
            left -= 1
        while right < power.size and power[right] > level and right - left <= most:
            right += 1
        around = np.concatenate([power[max(left - reach, 0) : left], power[right : right + reach]])
        if right - left > most or not around.size:
            continue
        usual_w = float(np.median(around))
        if power[top] < SPIKE_TIMES * float(around.max()) or power[top] < usual_w + SPIKE_W:
            continue
        start_s, end_s = _edges(samples, left, right - 1)
        found.append(
            OwnStretch(
                kind=EpisodeKind.SPIKE,
                start_s=start_s,
                end_s=end_s,
                shown_w=float(power[top]),
                usual_w=usual_w,
                by_itself=True,
            )
        )
    return found


def _gaps(samples: _Samples, least_s: float) -> list[OwnStretch]:
    """Gaps between riding that no pause explains."""
    spacing_s = np.diff(samples.at_s)
    usual_s = USUAL_TIMES * float(np.quantile(spacing_s, 0.99))
    least_s = max(least_s, usual_s, EVENT_SPACING_S if samples.recording.event_driven else 0.0)
    zero_s = float(samples.recording.time_s[0])
    found = []
    for place in np.flatnonzero(spacing_s > least_s + samples.step_s):
        left_s, back_s = float(samples.at_s[place]), float(samples.at_s[place + 1])
        if any(p.start_s - zero_s < back_s and p.end_s - zero_s > left_s for p in samples.recording.pauses):
            continue
        before = samples.power_w[max(place - 4, 0) : place + 1]
        after = samples.power_w[place + 1 : place + 6]
        cadence = samples.ride.cadence_rpm
        inside = None if cadence is None else cadence[samples.seconds(left_s + 1, back_s - 1)]
        turned = inside is not None and bool(np.isfinite(inside).mean() > 0.5) and _turning(inside)
        if not turned and (float(np.median(before)) < FROM_NOTHING_W or float(np.median(after)) < FROM_NOTHING_W):
            continue
        found.append(
            OwnStretch(
                kind=EpisodeKind.MISSING,
                start_s=left_s + samples.step_s / 2,
                end_s=back_s - samples.step_s / 2,
                shown_w=None,
                usual_w=float(np.median(np.concatenate([before, after]))),
                by_itself=turned,
            )
        )
    return found


def _edges(samples: _Samples, first: int, last: int) -> tuple[float, float]:
    half = samples.step_s / 2
    return max(float(samples.at_s[first]) - half, 0.0), float(samples.at_s[last]) + half


def _turning(cadence: FloatArray) -> bool:
    known = np.isfinite(cadence)
    return bool(known.any()) and bool(np.mean(cadence[known] >= TURNING_RPM) >= TURNING_SHARE)


def _usual_w(samples: _Samples, first: int, last: int) -> float | None:
    """Median power of the half minute on either side, zeros left out."""
    reach = max(round(30 / samples.step_s), 3)
    around = np.concatenate([samples.power_w[max(first - reach, 0) : first], samples.power_w[last + 1 : last + reach]])
    around = around[around > 0]
    return float(np.median(around)) if around.size >= 3 else None


def _cadence_moved(samples: _Samples, start_s: float, end_s: float) -> bool | None:
    """Whether cadence changed meanwhile, by more than its own steps; ``None`` where none was recorded."""
    cadence = samples.ride.cadence_rpm
    if cadence is None:
        return None
    inside = cadence[samples.seconds(start_s, end_s)]
    inside = inside[np.isfinite(inside)]
    if inside.size < 5:
        return None
    return float(np.ptp(inside)) > max(LEAST_CADENCE_CHANGE * float(np.mean(inside)), 1.5)
