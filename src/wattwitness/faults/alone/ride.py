"""One recording on whole seconds of its own clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.grid import channel_on_grid
from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats
from wattwitness.model.recording import ChannelName, Recording

SEEN_SHARE = 0.05
"""A channel present in fewer of the seconds is left out."""

OFTEN_S = 2.5
"""A resistance logged this often is missing where it is not; a rarer one was written when it changed, and holds."""

HELD_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AloneRide:
    """Shape (n,), one value for each whole second after the first sample, NaN where missing; ``None``: not recorded."""

    time_s: FloatArray
    power_w: FloatArray
    cadence_rpm: FloatArray | None
    resistance: FloatArray | None
    heart_bpm: FloatArray | None
    recorded: Recording

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("time_s", "power_w", "cadence_rpm", "resistance", "heart_bpm"):
            values = getattr(self, name)
            if values is not None:
                object.__setattr__(self, name, frozen_floats(values))


def ride_of(recording: Recording) -> AloneRide:
    """Put a recording on whole seconds. Raises ValueError where it has no samples."""
    if recording.time_s.size == 0:
        raise ValueError("a recording without samples has no seconds")
    own_s = recording.time_s - recording.time_s[0]
    grid_s = np.arange(int(recording.duration_s + 1e-3) + 1, dtype=np.float64)
    broken = _paused(recording)

    def placed(name: ChannelName) -> FloatArray | None:
        if not recording.has(name):
            return None
        values = recording.channels[name]
        if name is ChannelName.RESISTANCE:
            on_grid = _held(own_s, values, grid_s)
        else:
            on_grid = channel_on_grid(own_s, values, broken, grid_s, event_driven=recording.event_driven).values
        return on_grid if np.isfinite(on_grid).sum() > SEEN_SHARE * grid_s.size else None

    power_w = placed(ChannelName.POWER)
    return AloneRide(
        time_s=grid_s,
        power_w=np.full(grid_s.size, np.nan) if power_w is None else power_w,
        cadence_rpm=placed(ChannelName.CADENCE),
        resistance=placed(ChannelName.RESISTANCE),
        heart_bpm=placed(ChannelName.HEART_RATE),
        recorded=recording,
    )


def _paused(recording: Recording) -> BoolArray:
    """Which spacings between samples, shape (n - 1,), a pause of the recorder cuts."""
    before, after = recording.time_s[:-1], recording.time_s[1:]
    cut = np.zeros(before.size, dtype=np.bool_)
    for pause in recording.pauses:
        cut |= (after > pause.start_s) & (before < pause.end_s)
    return cut


def _held(own_s: FloatArray, values: FloatArray, grid_s: FloatArray) -> FloatArray:
    """The last value logged up to each second: a setting stands until it is changed, and lies between no two levels."""
    present = np.flatnonzero(np.isfinite(values))
    at_s = own_s[present]
    last = np.searchsorted(at_s, grid_s + 1e-3, side="right") - 1
    held = np.where(last >= 0, values[present][np.maximum(last, 0)], np.nan)
    often = at_s.size > 1 and float(np.median(np.diff(at_s))) <= OFTEN_S
    age_s = grid_s - at_s[np.maximum(last, 0)]
    return np.where(often & (age_s > HELD_S), np.nan, held)
