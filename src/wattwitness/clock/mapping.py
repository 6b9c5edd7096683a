"""From a unit's time stamps to the reference's, by a clock that was found or given."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit, ClockSegment


def to_reference_s(clock: ClockFit, unit_time_s: FloatArray) -> FloatArray:
    """Return the reference's time stamps for the unit's, both as written in the files, shape as given, in seconds.

    Around a jump the result need not increase: where the unit's clock ran on while the reference's stood still, the
    unit's time before the jump may map beyond where the reference resumes.
    Raises ValueError where the clock has no segments (its status is not usable).
    """
    if not clock.segments:
        raise ValueError(f"a clock that is {clock.status.value} maps no time")
    time_s = np.asarray(unit_time_s, dtype=np.float64)
    starts = np.array([segment.start_unit_s for segment in clock.segments[1:]])
    index = np.searchsorted(starts, time_s, side="right")
    offset_s, drift, anchor_s = (
        np.array(column)[index] for column in zip(*(_line(segment) for segment in clock.segments), strict=True)
    )
    mapped: FloatArray = time_s + offset_s + drift * (time_s - anchor_s)
    return mapped


def _line(segment: ClockSegment) -> tuple[float, float, float]:
    """Offset in s, drift as a plain ratio and anchor in s."""
    return segment.offset_s, segment.drift_ppm * 1e-6, segment.anchor_unit_s


def to_unit_s(clock: ClockFit, reference_time_s: FloatArray) -> FloatArray:
    """Return the unit's time stamps for the reference's, both as written in the files, shape as given, in seconds.

    Where segments overlap on the reference's clock the earlier one is taken; between two that leave a gap there, the
    one whose end is nearer. Raises ValueError where the clock has no segments.
    """
    if not clock.segments:
        raise ValueError(f"a clock that is {clock.status.value} maps no time")
    time_s = np.asarray(reference_time_s, dtype=np.float64)
    best = np.full(time_s.shape, np.nan)
    nearest = np.full(time_s.shape, np.inf)
    for segment in clock.segments:
        offset_s, drift, anchor_s = _line(segment)
        # t_ref = t + offset + drift (t - anchor), solved for t.
        found = (time_s - offset_s + drift * anchor_s) / (1 + drift)
        outside = np.maximum(np.maximum(segment.start_unit_s - found, found - segment.end_unit_s), 0.0)
        closer = outside < nearest
        best[closer], nearest[closer] = found[closer], outside[closer]
    return best
