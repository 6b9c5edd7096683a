"""A channel on whole seconds of its own clock, without invented values, for the search of a common clock.

Other than on the grid of a comparison, nothing is averaged here: a mean over a second would be a smoothing of its own
and look like a delay.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.recording import ChannelName, Recording

SNAP_S = 0.06
"""A sample this near to a grid second is taken as it stands."""

BRIDGED_S = 1.7
"""Samples no farther apart than this are joined by straight lines."""

FILLED_S, FILLED_SPOT_S = 20.0, 45.0
FILLED_STEPS = 3.5
"""Sparse samples (and spot readings) are joined up to this many seconds and median steps apart."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampled:
    """One channel at ``start_s + 0, 1, 2 ...`` on its own clock, shape (n,), NaN where there is no sample.

    ``filled`` also has straight lines between sparse samples (every 3 s, event-driven), good enough to find a lag to a
    second or two. ``bridge_share``: mean response of the straight lines between samples at each of ``BRIDGE_HZ`` (1
    where every value is a sample); it attenuates without delaying.
    """

    start_s: float
    values: FloatArray
    filled: FloatArray
    bridge_share: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("values", "filled", "bridge_share"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


BRIDGE_HZ = np.linspace(0.0, 0.5, 26)
"""Frequencies at which the response of bridging is kept, shape (26,)."""


LONGEST_S = 36 * 3600.0
"""A recording is searched over no more than this; beyond it, a time stamp is wrong."""

PARTED_S = 3600.0
"""A longer recording is parted where nothing was written for this long, and its fullest part is searched."""

LARGEST_VALUE = 1e5
"""No quantity of a ride is larger, in its unit."""


def main_part(time_s: FloatArray) -> slice:
    """Which samples to search: all, unless one wrong stamp makes the recording years long."""
    if time_s.size < 2 or time_s[-1] - time_s[0] <= LONGEST_S:
        return slice(0, time_s.size)
    edges = [0, *(np.flatnonzero(np.diff(time_s) > PARTED_S) + 1).tolist(), time_s.size]
    start, stop = max(itertools.pairwise(edges), key=lambda part: part[1] - part[0])
    stop = start + int(np.searchsorted(time_s[start:stop], time_s[start] + LONGEST_S))
    return slice(start, stop)


def grid_start_s(recording: Recording) -> float:
    """Where the whole-second grid of ``recording`` begins: its first sample, moved to the phase most samples share."""
    time_s = recording.time_s[main_part(recording.time_s)]
    phase = time_s - time_s[0]
    phase = phase - np.round(phase)
    return float(time_s[0] + np.median(phase))


def sampled(recording: Recording, name: ChannelName, start_s: float, seconds: int) -> Sampled:
    """Put channel ``name`` of ``recording`` on ``seconds`` whole seconds from ``start_s``.

    Samples within 0.06 s of a grid second are taken as they stand; grid seconds between two samples at most 1.7 s
    apart lie on the straight line between them; sparser samples (every 3 s, event-driven) go to the nearest grid
    second and the seconds between stay missing.
    """
    present = np.isfinite(recording.channels[name])
    present[present] = np.abs(recording.channels[name][present]) < LARGEST_VALUE
    time_s, values = recording.time_s[present] - start_s, recording.channels[name][present]
    grid = np.full(seconds, np.nan)
    share = np.ones(BRIDGE_HZ.shape)
    if time_s.size == 0:
        return Sampled(start_s=start_s, values=grid, filled=grid, bridge_share=share)
    nearest = np.round(time_s).astype(np.int64)
    step_s = float(np.median(np.diff(time_s))) if time_s.size > 1 else math.inf
    sparse = step_s > BRIDGED_S
    near = np.abs(time_s - nearest) <= (0.5 if sparse else SNAP_S)
    if not sparse and not np.all(near):
        grid, share = _bridged(time_s, values, seconds, BRIDGED_S)
    inside = near & (nearest >= 0) & (nearest < seconds)
    grid[nearest[inside]] = values[inside]
    filled = grid
    if sparse and time_s.size > 1:
        between, _ = _bridged(
            time_s, values, seconds, min(FILLED_SPOT_S if recording.spot else FILLED_S, FILLED_STEPS * step_s)
        )
        filled = np.where(np.isfinite(grid), grid, between)
    return Sampled(start_s=start_s, values=grid, filled=filled, bridge_share=share)


def _bridged(time_s: FloatArray, values: FloatArray, seconds: int, widest_s: float) -> tuple[FloatArray, FloatArray]:
    """Straight lines at each whole second between samples at most ``widest_s`` apart, and their mean response at
    ``BRIDGE_HZ``.
    """
    grid = np.full(seconds, np.nan)
    second = np.arange(seconds, dtype=np.float64)
    before = np.clip(np.searchsorted(time_s, second, side="right") - 1, 0, time_s.size - 2)
    left, right = time_s[before], time_s[before + 1]
    inside = (second >= left) & (second <= right) & (right - left <= widest_s)
    since, width = (second - left)[inside], (right - left)[inside]
    weight = since / width
    grid[inside] = (1 - weight) * values[before[inside]] + weight * values[before[inside] + 1]
    if not since.size:
        return grid, np.ones(BRIDGE_HZ.shape)
    some = slice(None, None, max(1, since.size // 2000))
    angle = 2 * np.pi * BRIDGE_HZ[:, None]
    since, width, weight = since[some], width[some], weight[some]
    share = (1 - weight) * np.cos(angle * since) + weight * np.cos(angle * (width - since))
    return grid, np.asarray(share.mean(axis=1))
