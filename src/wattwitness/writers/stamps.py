"""Dates for formats that need them, and the stretches between pauses."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.errors import DateMissing, NoSamples
from wattwitness.model.recording import ChannelName, Pause, Recording


def dated_times(recording: Recording, start_utc_s: float | None, format_title: str) -> tuple[FloatArray, float]:
    """Time stamps in seconds since 1970 UTC, shape (n,), and what was added to the recording's own.

    An undated recording is laid so that its own zero is at ``start_utc_s``; a dated one keeps its date whatever is
    given. Raises DateMissing where an undated recording is given no start: a date made up in silence would look real.
    """
    if recording.dated:
        return recording.time_s, 0.0
    if start_utc_s is None:
        raise DateMissing(
            f"The recording has no date, and {format_title} cannot be written without one.",
            where=recording.source.file_name or None,
            hint="State the date and time at which it began, or write it as CSV.",
        )
    return recording.time_s + start_utc_s, start_utc_s


def held_channels(
    recording: Recording, able: frozenset[ChannelName], format_title: str
) -> dict[ChannelName, FloatArray]:
    """The channels with samples that the format can hold. Raises NoSamples where there are none."""
    held = {name: values for name, values in recording.channels.items() if name in able and recording.has(name)}
    if not held:
        raise NoSamples(
            f"The recording has no sample of anything that {format_title} can hold.",
            where=recording.source.file_name or None,
            hint="Write it as CSV, which holds every channel.",
        )
    return held


def stretches(time_s: FloatArray, pauses: tuple[Pause, ...]) -> list[slice]:
    """Rows between pauses, in order; each holds at least one row."""
    cuts = np.searchsorted(time_s, [pause.end_s for pause in pauses])
    edges = [0, *(int(cut) for cut in cuts), time_s.size]
    return [slice(first, last) for first, last in pairwise(edges) if last > first]


def iso_stamps(time_s: FloatArray) -> list[str]:
    """ISO 8601 in UTC, to whole seconds where all are whole, else to the thousandth."""
    thousandths = np.round(time_s * 1000.0).astype(np.int64)
    if np.any(thousandths % 1000):
        stamps = np.datetime_as_string(thousandths.astype("datetime64[ms]"), unit="ms")
    else:
        stamps = np.datetime_as_string((thousandths // 1000).astype("datetime64[s]"), unit="s")
    return [f"{stamp}Z" for stamp in stamps.tolist()]


def whole_numbers(values: FloatArray, top: int) -> list[int | None]:
    """Values to the nearest whole number, ``None`` where missing or beyond 0 to ``top``."""
    with np.errstate(invalid="ignore"):
        rounded = np.floor(values + 0.5)
    return [
        int(value) if 0 <= value <= top else None
        for value in rounded.tolist()  # a NaN fails both comparisons
    ]
