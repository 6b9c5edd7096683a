"""FIT: an activity with timer events, one record a sample, one lap and one session.

Torque has no field of its own in a record and goes into a developer field; so does a second power source, and a
resistance that is no whole number from 0 to 254. FIT holds whole seconds: stamps go to the nearest, and of several
samples in one second the nearest is kept. Serial numbers are never written.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.errors import DateMissing
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.writers.fit_messages import (
    EPOCH_UTC_S,
    Base,
    Column,
    Field,
    message,
    table_definition,
    table_messages,
    whole_file,
)
from wattwitness.writers.saving import save
from wattwitness.writers.stamps import dated_times, held_channels
from wattwitness.writers.writer import Writer

_FILE_ID, _SESSION, _LAP, _RECORD, _EVENT, _DEVICE, _ACTIVITY, _FIELD, _APPLICATION = (
    0,
    18,
    19,
    20,
    21,
    23,
    34,
    206,
    207,
)
_TIMESTAMP = 253
_LONGEST_REMARK = 250
_DEVELOPMENT = 255  # the manufacturer number that the format sets aside for those who have none
_START, _STOP, _STOP_ALL = 0, 1, 4
_PLAIN = {
    ChannelName.POWER: (7, Base.UINT16, 1.0),
    ChannelName.HEART_RATE: (3, Base.UINT8, 1.0),
    ChannelName.SPEED: (6, Base.UINT16, 1000.0),
    ChannelName.TEMPERATURE: (13, Base.SINT8, 1.0),
}
"""Channels of one field: its number, type, and how many of the file's whole numbers make one unit."""
_TORQUE_FIELD, _RESISTANCE_FIELD, _POWER_FIELD = 0, 1, 2
_APPLICATION_ID = b"wattwitness\0\0\0\0\0"
_EARLIEST_UTC_S = EPOCH_UTC_S + 0x10000000  # smaller stamps mean seconds since the device was switched on
_LATEST_UTC_S = EPOCH_UTC_S + 0xFFFFFFFE


def write_fit(
    recording: Recording,
    path: Path,
    *,
    overwrite: bool = False,
    start_utc_s: float | None = None,
    second_power_w: FloatArray | None = None,
    remarks: tuple[str, ...] = (),
) -> None:
    """Write a recording as FIT; ``second_power_w`` (shape (n,), W) goes into a developer field called “power”.

    ``remarks`` are lines for people, each the descriptor of an entry of its own among the devices.

    Raises what ``Write`` names; DateMissing also for a date that FIT cannot hold.
    """
    channels = held_channels(recording, WRITER.channels, WRITER.title)
    time_s, added_s = dated_times(recording, start_utc_s, WRITER.title)
    if not _EARLIEST_UTC_S <= time_s[0] <= time_s[-1] <= _LATEST_UTC_S:
        raise DateMissing(
            "The recording's date is outside the years 1998 to 2126 that FIT can hold.",
            where=recording.source.file_name or None,
            hint="Give the recording its real date, or write it as CSV.",
        )
    rows = _nearest_to_seconds(time_s)
    stamps = np.floor(time_s[rows] + 0.5) - EPOCH_UTC_S
    columns = [Column(number=_TIMESTAMP, base=Base.UINT32, values=stamps)]
    for name, values in channels.items():
        columns += _columns(name, values[rows])
    if second_power_w is not None:
        second = np.asarray(second_power_w, dtype=np.float64)[rows]
        columns.append(Column(number=_POWER_FIELD, base=Base.UINT16, values=second, developer=True))
    pauses = [
        (pause.start_s + added_s - EPOCH_UTC_S, pause.end_s + added_s - EPOCH_UTC_S) for pause in recording.pauses
    ]
    save(whole_file(_body(recording, tuple(columns), stamps, pauses, remarks)), path, overwrite=overwrite)


def _nearest_to_seconds(time_s: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Rows to write: for each whole second, the sample nearest to it."""
    second = np.floor(time_s + 0.5)
    order = np.lexsort((np.abs(time_s - second), second))
    first = np.concatenate(([True], np.diff(second[order]) > 0))
    return np.asarray(order[first], dtype=np.int64)


def _columns(name: ChannelName, values: FloatArray) -> list[Column]:
    """The fields of a record that hold one channel."""
    if name in _PLAIN:
        number, base, per_unit = _PLAIN[name]
        return [Column(number=number, base=base, values=values * per_unit)]
    if name is ChannelName.CADENCE:
        whole = np.floor(values + 1.0 / 256.0)
        part = np.floor((values - whole) * 128.0 + 0.5)
        if not np.any(part > 0):
            return [Column(number=4, base=Base.UINT8, values=values)]
        return [Column(number=4, base=Base.UINT8, values=whole), Column(number=53, base=Base.UINT8, values=part)]
    if name is ChannelName.LEFT_SHARE:
        # The right pedal's share in whole percent, and a bit that says that it is the right one's.
        return [Column(number=30, base=Base.UINT8, values=np.floor(100.5 - values) + 128.0)]
    if name is ChannelName.RESISTANCE:
        given = values[np.isfinite(values)]
        if np.all((given == np.floor(given)) & (given >= 0) & (given <= 254)):
            return [Column(number=10, base=Base.UINT8, values=values)]
        return [Column(number=_RESISTANCE_FIELD, base=Base.FLOAT32, values=values, developer=True)]
    return [Column(number=_TORQUE_FIELD, base=Base.FLOAT32, values=values, developer=True)]


def _body(
    recording: Recording,
    columns: tuple[Column, ...],
    stamps: FloatArray,
    pauses: list[tuple[float, float]],
    remarks: tuple[str, ...],
) -> bytes:
    first, last = int(stamps[0]), int(stamps[-1])
    parts = [
        message(0, _FILE_ID, _file_id(recording, first)),
        message(1, _DEVICE, _device(recording, first)),
        *(message(1, _DEVICE, _remark(place, text, first)) for place, text in enumerate(remarks, start=1)),
        *_descriptions(columns),
        _timer(first, _START),
        table_definition(3, _RECORD, columns),
    ]
    rows = table_messages(3, columns)
    done = 0
    for start, end in pauses:
        until = int(np.searchsorted(stamps, end))
        parts += [rows[done:until].tobytes(), _timer(math.floor(start + 0.5), _STOP_ALL)]
        parts.append(_timer(math.floor(end + 0.5), _START))
        done = until
    parts += [rows[done:].tobytes(), _timer(last, _STOP_ALL)]
    paused_s = sum(min(end, last) - max(start, first) for start, end in pauses)
    parts += _summary(first, last, max(last - first - paused_s, 0.0))
    return b"".join(parts)


def _file_id(recording: Recording, first: int) -> tuple[Field, ...]:
    product = recording.meter.product
    return (
        Field(number=0, base=Base.ENUM, value=4),  # an activity
        Field(number=1, base=Base.UINT16, value=_DEVELOPMENT),
        Field(number=2, base=Base.UINT16, value=0),
        Field(number=4, base=Base.UINT32, value=first),
        *((Field(number=8, base=Base.STRING, value=product),) if product else ()),
    )


def _device(recording: Recording, first: int) -> tuple[Field, ...]:
    meter = recording.meter
    try:
        version = round(float(meter.firmware) * 100)
    except (ValueError, OverflowError):
        version = -1
    known = 0 <= version < Base.UINT16.value.missing
    return (
        Field(number=_TIMESTAMP, base=Base.UINT32, value=first),
        Field(number=0, base=Base.UINT8, value=0),
        Field(number=2, base=Base.UINT16, value=_DEVELOPMENT),
        Field(number=4, base=Base.UINT16, value=0),
        *((Field(number=5, base=Base.UINT16, value=version),) if known else ()),
        *((Field(number=27, base=Base.STRING, value=meter.product),) if meter.product else ()),
    )


def _cut(text: str) -> bytes:
    """At most so many bytes, cut between characters."""
    return text.encode("utf-8")[:_LONGEST_REMARK].decode("utf-8", "ignore").encode()


def _remark(place: int, text: str, first: int) -> tuple[Field, ...]:
    """A line for people, as the descriptor of a device that is none."""
    return (
        Field(number=_TIMESTAMP, base=Base.UINT32, value=first),
        Field(number=0, base=Base.UINT8, value=place),
        Field(number=19, base=Base.STRING, value=_cut(text) + b"\0"),
    )


def _descriptions(columns: tuple[Column, ...]) -> list[bytes]:
    """What the developer fields mean, where there are any."""
    meanings = {
        _TORQUE_FIELD: ("torque", "N.m"),
        _RESISTANCE_FIELD: ("resistance", ""),
        _POWER_FIELD: ("power", "watts"),
    }
    own = [column for column in columns if column.developer]
    if not own:
        return []
    application = (
        Field(number=1, base=Base.BYTE, value=_APPLICATION_ID),
        Field(number=3, base=Base.UINT8, value=0),
    )
    described = [message(4, _APPLICATION, application)]
    for column in own:
        name, unit = meanings[column.number]
        fields = (
            Field(number=0, base=Base.UINT8, value=0),
            Field(number=1, base=Base.UINT8, value=column.number),
            Field(number=2, base=Base.UINT8, value=column.base.value.number),
            Field(number=3, base=Base.STRING, value=name),
            *((Field(number=8, base=Base.STRING, value=unit),) if unit else ()),
        )
        described.append(message(5, _FIELD, fields))
    return described


def _timer(stamp: int, kind: int) -> bytes:
    return message(
        2,
        _EVENT,
        (
            Field(number=_TIMESTAMP, base=Base.UINT32, value=stamp),
            Field(number=0, base=Base.ENUM, value=0),
            Field(number=1, base=Base.ENUM, value=kind),
        ),
    )


def _summary(first: int, last: int, running_s: float) -> list[bytes]:
    """Lap, session and activity."""
    times = (
        Field(number=_TIMESTAMP, base=Base.UINT32, value=last),
        Field(number=2, base=Base.UINT32, value=first),
        Field(number=7, base=Base.UINT32, value=(last - first) * 1000),
        Field(number=8, base=Base.UINT32, value=round(running_s * 1000)),
    )
    lap = (*times, Field(number=0, base=Base.ENUM, value=9), Field(number=1, base=Base.ENUM, value=_STOP))
    session = (
        *times,
        Field(number=0, base=Base.ENUM, value=8),
        Field(number=1, base=Base.ENUM, value=_STOP),
        Field(number=5, base=Base.ENUM, value=2),  # cycling
        Field(number=6, base=Base.ENUM, value=6),  # indoors
        Field(number=25, base=Base.UINT16, value=0),
        Field(number=26, base=Base.UINT16, value=1),
    )
    activity = (
        Field(number=_TIMESTAMP, base=Base.UINT32, value=last),
        Field(number=0, base=Base.UINT32, value=round(running_s * 1000)),
        Field(number=1, base=Base.UINT16, value=1),
        Field(number=2, base=Base.ENUM, value=0),
        Field(number=3, base=Base.ENUM, value=26),
        Field(number=4, base=Base.ENUM, value=_STOP),
    )
    return [message(6, _LAP, lap), message(7, _SESSION, session), message(8, _ACTIVITY, activity)]


WRITER = Writer(
    name="fit",
    title="FIT",
    suffix=".fit",
    channels=frozenset(ChannelName),
    step_s=1.0,
    needs_date=True,
    write=write_fit,
)
