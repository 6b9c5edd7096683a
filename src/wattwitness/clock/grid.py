"""Two recordings onto one clock and one grid: whole seconds after the reference's first sample.

Each channel is put on the grid from its own samples and its own spacing, never by cutting time stamps to whole seconds:

- A sample on a grid second (within a millisecond) is used as it is.
- Otherwise the value is interpolated linearly between the two samples around it, where their spacing is normal for that
  channel: up to 2.5 times its median spacing, at least 3 s; up to 15 s where the recorder wrote only on changes.
  A wider spacing, a pause, a jump of the clock and a sample without a value are missing, and stay missing. Beside a
  missing stretch a sample speaks for half a second, so that one missing sample costs one second and not two.
- A channel faster than one sample in 0.75 s is averaged over the second centred on the grid's: the exact mean of the
  straight lines between its samples. A mean over the second that ends there would show it 0.4 s late.
- Spot readings go to the nearest second and nothing is put between them.

Linear interpolation half way between two samples keeps sums, but takes away half of what is random from one second to
the next (limits of agreement on single seconds come out narrower by up to that), and turns the edge between pedalling
and coasting into one second at half power. The response allows for it (`wattwitness.clock.response`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.mapping import to_reference_s
from wattwitness.model.aligned import AlignedPair, Blend
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.clock import ClockFit
from wattwitness.model.recording import ChannelName, Pause, Recording

FINE_STEP_S = 0.75
"""Channels sampled more closely than this are averaged over each second."""
SPACING_STEPS = 2.5
"""A spacing up to so many median spacings is normal for a channel."""
SPACING_S = 3.0
"""A spacing up to this is normal for every recorder: one skipped second, or two."""
EVENT_SPACING_S = 15.0
"""A spacing up to this is normal where the recorder wrote only on changes."""
HOLD_S = 0.5
"""A sample beside a missing stretch speaks for this long."""
SNAP_S = 1e-3
"""A sample as near as this to a grid second is used as it is."""
STEP_IS_JUMP_S = 0.5
"""Segments of the clock that fit together worse than this are not interpolated across."""


def align(reference: Recording, unit: Recording, clock: ClockFit) -> AlignedPair:
    """Put both recordings on whole seconds after the reference's first sample, by ``clock``.

    Where the unit's clock ran on while the reference's stood still (a jump with a negative step), the unit's samples
    from that time belong to no second of the reference and are left out. Raises ValueError where the clock maps no time
    (its status is not usable) or the reference has no samples.
    """
    if reference.time_s.size == 0:
        raise ValueError("a reference without samples has no grid")
    grid_s = np.arange(int(reference.duration_s + SNAP_S) + 1, dtype=np.float64)
    on_reference = _channels_on_grid(reference, reference_samples(reference), grid_s)
    on_unit = _channels_on_grid(unit, unit_samples(reference, unit, clock), grid_s)
    return AlignedPair(
        time_s=grid_s,
        reference={name: placed.values for name, placed in on_reference.items()},
        unit={name: placed.values for name, placed in on_unit.items()},
        reference_blend=on_reference[ChannelName.POWER].blend if ChannelName.POWER in on_reference else None,
        unit_blend=on_unit[ChannelName.POWER].blend if ChannelName.POWER in on_unit else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A channel on the grid, shape (m,), NaN where it is missing, and how it came there."""

    values: FloatArray
    blend: Blend

    @classmethod
    def as_is(cls, values: FloatArray) -> Placed:
        """Values that no straight line was drawn for."""
        none = np.where(np.isfinite(values), 0.0, np.nan)
        return cls(values=values, blend=Blend(since_s=none, until_s=none))


def channel_on_grid(
    time_s: FloatArray, values: FloatArray, broken: BoolArray, grid_s: FloatArray, *, event_driven: bool = False
) -> Placed:
    """One channel on ``grid_s``, which has shape (m,) and steps of 1 s.

    ``time_s`` and ``values`` have shape (n,), NaN where a sample has no value; ``broken``, shape (n - 1,), marks the
    spacings across which nothing may be interpolated whatever their length.
    """
    own = joined_samples(time_s, values, broken, event_driven=event_driven)
    if own.time_s.size == 0:
        return Placed.as_is(np.full(grid_s.shape, np.nan))
    if own.step_s <= FINE_STEP_S:
        return Placed.as_is(_second_means(own.time_s, own.values, own.joined, grid_s))
    return _interpolated(own.time_s, own.values, own.joined, grid_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JoinedSamples:
    """The samples of a channel that have a value, shape (k,), and which of their k - 1 spacings a line may cross."""

    time_s: FloatArray
    values: FloatArray
    joined: BoolArray
    step_s: float


def joined_samples(
    time_s: FloatArray, values: FloatArray, broken: BoolArray, *, event_driven: bool = False
) -> JoinedSamples:
    """Which samples of a channel belong together; arguments as for ``channel_on_grid``. ``step_s`` is their median."""
    present = np.flatnonzero(np.isfinite(values))
    own_time_s, own_values = time_s[present], values[present]
    if present.size < 2:
        return JoinedSamples(time_s=own_time_s, values=own_values, joined=np.zeros(0, dtype=np.bool_), step_s=1.0)
    spacing_s = np.diff(own_time_s)
    step_s = float(np.median(spacing_s))
    limit_s = max(SPACING_STEPS * step_s, SPACING_S, EVENT_SPACING_S if event_driven else 0.0)
    breaks_before = np.concatenate(([0], np.cumsum(broken)))
    joined = (spacing_s <= limit_s) & (np.diff(breaks_before[present]) == 0)
    if not event_driven:
        joined &= np.diff(present) <= int(np.median(np.diff(present)))
    return JoinedSamples(time_s=own_time_s, values=own_values, joined=joined, step_s=step_s)


def _interpolated(time_s: FloatArray, values: FloatArray, joined: BoolArray, grid_s: FloatArray) -> Placed:
    """Straight lines between joined samples; the nearest sample within half a second elsewhere."""
    before = np.clip(np.searchsorted(time_s, grid_s + SNAP_S, side="right") - 1, 0, time_s.size - 1)
    after = np.minimum(before + 1, time_s.size - 1)
    since_s, until_s = grid_s - time_s[before], time_s[after] - grid_s
    nearest = np.where(np.abs(since_s) <= np.abs(until_s), before, after)
    distance_s = np.minimum(np.abs(since_s), np.abs(until_s))
    answer = np.where(distance_s <= HOLD_S + SNAP_S, values[nearest], np.nan)
    inside = (after > before) & (since_s > SNAP_S) & (until_s > SNAP_S)
    inside &= np.concatenate((joined, [False]))[before]
    share = since_s[inside] / (since_s[inside] + until_s[inside])
    answer[inside] = (1.0 - share) * values[before[inside]] + share * values[after[inside]]
    as_is = np.where(np.isfinite(answer), 0.0, np.nan)
    blend = Blend(since_s=np.where(inside, since_s, as_is), until_s=np.where(inside, until_s, as_is))
    return Placed(values=answer, blend=blend)


def _second_means(time_s: FloatArray, values: FloatArray, joined: BoolArray, grid_s: FloatArray) -> FloatArray:
    """The mean over the second centred on each grid second, of the straight lines between joined samples.

    Missing where less than half of the second is covered.
    """
    spacing_s = np.where(joined, np.diff(time_s), 0.0)
    covered_s = np.concatenate(([0.0], np.cumsum(spacing_s)))
    area = np.concatenate(([0.0], np.cumsum(spacing_s * (values[1:] + values[:-1]) / 2.0)))
    slope = np.divide(np.diff(values), spacing_s, out=np.zeros_like(spacing_s), where=spacing_s > 0)

    def up_to(edge_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Covered seconds and area before each edge."""
        index = np.clip(np.searchsorted(time_s, edge_s, side="right") - 1, 0, max(time_s.size - 2, 0))
        if spacing_s.size == 0:
            return np.zeros_like(edge_s), np.zeros_like(edge_s)
        into_s = np.clip(edge_s - time_s[index], 0.0, spacing_s[index])
        return covered_s[index] + into_s, area[index] + into_s * (values[index] + slope[index] * into_s / 2.0)

    start_covered, start_area = up_to(grid_s - 0.5)
    end_covered, end_area = up_to(grid_s + 0.5)
    seconds = end_covered - start_covered
    means: FloatArray = np.full(grid_s.shape, np.nan)
    np.divide(end_area - start_area, seconds, out=means, where=seconds >= 0.5 - SNAP_S)
    return means


def _at_nearest_second(time_s: FloatArray, values: FloatArray, grid_s: FloatArray) -> FloatArray:
    """Spot readings on their nearest second, the mean of them where several meet, NaN elsewhere."""
    second = np.floor(time_s + 0.5).astype(np.int64)
    usable = np.isfinite(values) & (second >= 0) & (second < grid_s.size)
    total = np.bincount(second[usable], weights=values[usable], minlength=grid_s.size)
    count = np.bincount(second[usable], minlength=grid_s.size)
    means: FloatArray = np.full(grid_s.shape, np.nan)
    np.divide(total, count, out=means, where=count > 0)
    return means


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedSamples:
    """A recording's samples on the reference's clock: ``time_s`` (n,) after the reference's first sample, ``broken``
    (n - 1,) the spacings that nothing may cross, and the channels, shape (n,) each.
    """

    time_s: FloatArray
    broken: BoolArray
    channels: Mapping[ChannelName, FloatArray]


def reference_samples(reference: Recording) -> PlacedSamples:
    """The reference's own samples."""
    return PlacedSamples(
        time_s=reference.time_s - reference.time_s[:1],
        broken=_broken_by_pauses(reference.time_s, reference.pauses),
        channels=reference.channels,
    )


def unit_samples(reference: Recording, unit: Recording, clock: ClockFit) -> PlacedSamples:
    """The unit's samples by ``clock``, without those that belong to no second of the reference.

    Raises ValueError where the clock maps no time.
    """
    time_s = to_reference_s(clock, unit.time_s) - float(reference.time_s[0])
    segment = _segment_of(clock, unit.time_s)
    broken = _broken_by_pauses(unit.time_s, unit.pauses) | _broken_by_jumps(clock, segment)
    kept = _kept(clock, time_s, segment)
    if kept.all():
        return PlacedSamples(time_s=time_s, broken=broken, channels=unit.channels)
    index = np.flatnonzero(kept)
    breaks_before = np.concatenate(([0], np.cumsum(broken)))
    return PlacedSamples(
        time_s=time_s[index],
        broken=np.diff(breaks_before[index]) > 0,
        channels={name: values[index] for name, values in unit.channels.items()},
    )


def _channels_on_grid(recording: Recording, placed: PlacedSamples, grid_s: FloatArray) -> dict[ChannelName, Placed]:
    """Every channel of ``recording``, whose samples are ``placed``, on the grid."""
    time_s, broken, channels = placed.time_s, placed.broken, placed.channels
    if recording.spot:
        return {name: Placed.as_is(_at_nearest_second(time_s, values, grid_s)) for name, values in channels.items()}
    return {
        name: channel_on_grid(time_s, values, broken, grid_s, event_driven=recording.event_driven)
        for name, values in channels.items()
    }


def _broken_by_pauses(time_s: FloatArray, pauses: tuple[Pause, ...]) -> BoolArray:
    """Which spacings between samples, shape (n - 1,), a pause of the recorder cuts."""
    broken = np.zeros(max(time_s.size - 1, 0), dtype=np.bool_)
    for pause in pauses:
        low = np.searchsorted(time_s[1:], pause.start_s, side="right")
        high = np.searchsorted(time_s[:-1], pause.end_s, side="left")
        broken[low:high] = True
    return broken


def _segment_of(clock: ClockFit, unit_time_s: FloatArray) -> IntArray:
    """The segment of the clock each sample lies in, shape (n,)."""
    starts = np.array([segment.start_unit_s for segment in clock.segments[1:]])
    return np.searchsorted(starts, unit_time_s, side="right").astype(np.int64)


def _steps_s(clock: ClockFit) -> list[float]:
    """The seconds by which each segment's answer differs from the one before, where they meet."""
    return [
        (new.offset_s + new.drift_ppm * 1e-6 * (new.start_unit_s - new.anchor_unit_s))
        - (old.offset_s + old.drift_ppm * 1e-6 * (new.start_unit_s - old.anchor_unit_s))
        for old, new in zip(clock.segments, clock.segments[1:], strict=False)
    ]


def _broken_by_jumps(clock: ClockFit, segment: IntArray) -> BoolArray:
    """Which spacings between samples, shape (n - 1,), a jump of the clock cuts."""
    jumps_before = np.concatenate(([0], np.cumsum(np.abs(_steps_s(clock)) > STEP_IS_JUMP_S)))
    return np.asarray(np.diff(jumps_before[segment]) > 0, dtype=np.bool_)


def _kept(clock: ClockFit, time_s: FloatArray, segment: IntArray) -> BoolArray:
    """Which of the unit's samples belong to a second of the reference, shape (n,); their times increase.

    Where a step is negative two stretches of the unit's time claim the same seconds of the reference: the ride before
    the reference's clock stood still, the ride after it, and the time between. The jump says where on the reference
    that was (``at_s``, which is in seconds after its first sample as ``time_s`` is); without it, it is taken in the
    middle of the stretch. What the earlier stretch says of later seconds, and the later of earlier ones, is left out.
    """
    kept = np.ones(time_s.shape, dtype=np.bool_)
    steps = _steps_s(clock)
    for number, step_s in enumerate(steps, start=1):
        earlier, later = np.flatnonzero(segment < number), np.flatnonzero(segment >= number)
        if step_s >= 0 or earlier.size == 0 or later.size == 0:
            continue
        resumes_s, reached_s = float(time_s[later[0]]), float(time_s[earlier[-1]])
        if reached_s < resumes_s:
            continue
        cut_s = (resumes_s + reached_s) / 2.0
        at_s = clock.jumps[number - 1].at_s.value if len(clock.jumps) == len(steps) else None
        if at_s is not None:
            cut_s = min(max(at_s, resumes_s - HOLD_S), reached_s)
        kept[earlier[time_s[earlier] > cut_s]] = False
        kept[later[time_s[later] <= cut_s]] = False
    return kept
