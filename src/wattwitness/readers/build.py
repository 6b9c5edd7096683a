"""From the raw rows of a file to a clean recording: the part that all formats share."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from wattwitness.model.arrays import FloatArray
from wattwitness.model.errors import NoSamples
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Pause, Recording, Severity, Source
from wattwitness.readers.plausible import clean_channel
from wattwitness.readers.spacing import is_event_driven
from wattwitness.readers.stamps import merge_duplicates, order_stamps
from wattwitness.readers.words import count_of, duration_of

DAY_S = 86400.0

FIRST_DATE_S, LAST_DATE_S = 946684800.0, 7258118400.0
"""2000-01-01 and 2200-01-01: a ride dated outside was recorded by a clock that was never set, or is misread."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawRows:
    """The rows of one recording in the order of the file, as read.

    ``time_s`` has shape (n,): seconds since 1970 UTC where ``dated``, else after the file's own zero; NaN where a row
    has none. Each channel has shape (n,), in the unit its name says, NaN where a row has no value.
    """

    time_s: ArrayLike
    dated: bool
    channels: Mapping[ChannelName, ArrayLike]


def build_recording(
    rows: RawRows,
    *,
    source: Source,
    meter: MeterRecord | None = None,
    pauses: Iterable[Pause] = (),
    notices: Iterable[Notice] = (),
    event_driven: bool | None = None,
) -> Recording:
    """Make a clean recording of raw rows, with a notice for all that was done to them.

    Codes for “no value”, negative and impossible values become missing (``plausible.py``); rows without a time or a day
    away from the rest are left out, rows after a clock was set back are moved on, late ones put in order, those of one
    time stamp merged (``stamps.py``). Channels without a single value are dropped. ``event_driven`` is told from the
    spacing where the file does not say. ``notices`` are the reader's own and come first. Raises NoSamples where nothing
    is left.
    """
    said = list(notices)
    raw_time, dated, zero_s = _dated(np.array(rows.time_s, dtype=np.float64), rows.dated)
    if rows.dated and not dated:
        message = (
            "The recorder's clock was never set: the file's dates mean nothing, and times count from its first sample."
        )
        said.append(Notice(slug="undated", message=message, severity=Severity.NOTE))
    cleaned: dict[ChannelName, FloatArray] = {}
    for name in (name for name in ChannelName if name in rows.channels):
        values, found = clean_channel(name, np.asarray(rows.channels[name], dtype=np.float64))
        said.extend(found)
        if np.any(np.isfinite(values)):
            cleaned[name] = values
    if not cleaned:
        raise _no_samples(source)
    table = np.column_stack(list(cleaned.values()))
    stamps = order_stamps(raw_time, table)
    said.extend(stamps.notices)
    time_s, table, merged = merge_duplicates(stamps.time_s, table[stamps.rows])
    said.extend(merged)
    channels = {name: table[:, column] for column, name in enumerate(cleaned) if np.any(np.isfinite(table[:, column]))}
    if not channels:
        raise _no_samples(source) if time_s.size else _no_times(source)
    if dated:
        said.extend(_future(float(time_s[-1])))
    said.extend(_missing_power(channels, time_s.size))
    return Recording(
        source=source,
        time_s=time_s,
        dated=dated,
        channels=channels,
        meter=meter or MeterRecord(),
        # After the clock was set back the file's pauses are on another clock than its samples.
        pauses=() if stamps.stepped else _inside(pauses, zero_s, float(time_s[0]), float(time_s[-1])),
        notices=tuple(notice if notice.about else replace(notice, about=source.file_name) for notice in said),
        event_driven=is_event_driven(time_s) if event_driven is None else event_driven,
    )


def _no_samples(source: Source) -> NoSamples:
    return NoSamples(
        "The file holds no sample of power, cadence, heart rate or any other channel that is used here.",
        where=source.file_name,
        hint="Check that this is the file of the ride: “inspect” lists what a file holds.",
    )


def _no_times(source: Source) -> NoSamples:
    return NoSamples(
        "No row of the file has a usable time stamp.",
        where=source.file_name,
        hint="Export the ride again; a recording without times cannot be set beside another.",
    )


def _dated(time_s: FloatArray, dated: bool) -> tuple[FloatArray, bool, float]:
    """Times that mean a date, or count from the first row where dates mean nothing; whether dated; the zero taken."""
    time_s[~np.isfinite(time_s)] = np.nan
    known = time_s[np.isfinite(time_s)]
    if not dated or known.size == 0:
        return time_s, dated, 0.0
    if FIRST_DATE_S <= float(np.median(known)) <= LAST_DATE_S:
        return time_s, True, 0.0
    return time_s - known[0], False, float(known[0])


def _inside(pauses: Iterable[Pause], zero_s: float, first_s: float, last_s: float) -> tuple[Pause, ...]:
    """The pauses that lie within the samples, by time, overlapping ones joined."""
    joined: list[Pause] = []
    moved = (Pause(start_s=pause.start_s - zero_s, end_s=pause.end_s - zero_s) for pause in pauses)
    for pause in sorted(moved, key=lambda item: item.start_s):
        if pause.end_s <= first_s or pause.start_s >= last_s or pause.end_s <= pause.start_s:
            continue
        if joined and pause.start_s <= joined[-1].end_s:
            joined[-1] = Pause(start_s=joined[-1].start_s, end_s=max(joined[-1].end_s, pause.end_s))
        else:
            joined.append(pause)
    return tuple(joined)


def _future(last_s: float) -> tuple[Notice, ...]:
    """A notice where the ride is dated after today: the recorder's date was wrong, differences of time still hold."""
    ahead_s = last_s - time.time()
    if ahead_s <= DAY_S:
        return ()
    return (
        Notice(
            slug="dated_in_future",
            message=(
                f"The ride is dated {duration_of(ahead_s)} in the future: the recorder's date was wrong. It is kept as "
                "written; the comparison finds the clock from the efforts."
            ),
        ),
    )


def _missing_power(channels: Mapping[ChannelName, FloatArray], samples: int) -> tuple[Notice, ...]:
    if ChannelName.POWER not in channels:
        return ()
    missing = samples - int(np.count_nonzero(np.isfinite(channels[ChannelName.POWER])))
    if not missing:
        return ()
    message = f"{missing:,} of {count_of(samples, 'sample')} {'has' if missing == 1 else 'have'} no power."
    return (Notice(slug="power_missing", message=message, severity=Severity.NOTE, samples=missing),)
