"""The samples of one recording around an episode, with their own time stamps and on both clocks."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.writers.stamps import iso_stamps
from wattwitness.writers.table_text import exact_cells, rounded_cells, table_text

AS_RECORDED, RIDE, ON_REFERENCE, ON_UNIT, INSIDE = (
    "time_as_recorded",
    "ride_s",
    "reference_clock",
    "unit_clock",
    "in_episode",
)


def episode_samples(
    recording: Recording,
    *,
    ride_s: FloatArray,
    reference_clock_s: FloatArray,
    unit_clock_s: FloatArray,
    dated: tuple[bool, bool],
    episode_s: tuple[float, float],
    around_s: float,
) -> bytes:
    """The table of the samples within ``around_s`` of an episode: ``episode_s``, from and to, on the time of the ride.

    ``ride_s``, shape (n,), are the samples' times in seconds after the reference's first sample, ``reference_clock_s``
    and ``unit_clock_s`` the same moments on either meter's clock; ``dated`` says of the reference's and the unit's
    whether they are dates. Samples stand as they were read, whole.
    """
    start_s, end_s = episode_s
    rows = np.flatnonzero((ride_s >= start_s - around_s) & (ride_s <= end_s + around_s))
    inside = (ride_s[rows] >= start_s) & (ride_s[rows] <= end_s)
    channels = {name: recording.channels[name] for name in ChannelName if recording.has(name)}
    headings = [AS_RECORDED, RIDE, ON_REFERENCE, ON_UNIT, INSIDE, *channels]
    columns = [
        _stamps(recording.time_s[rows], dated=recording.dated),
        rounded_cells(ride_s[rows], 3),
        _stamps(reference_clock_s[rows], dated=dated[0]),
        _stamps(unit_clock_s[rows], dated=dated[1]),
        ["1" if held else "0" for held in inside.tolist()],
        *(exact_cells(values[rows]) for values in channels.values()),
    ]
    return table_text([headings, *zip(*columns, strict=True)]).encode("utf-8")


def _stamps(time_s: FloatArray, *, dated: bool) -> list[str]:
    return iso_stamps(time_s) if dated and time_s.size else rounded_cells(time_s, 3)
