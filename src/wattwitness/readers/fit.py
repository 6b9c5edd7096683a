"""FIT: the activity file of head units, watches, trainers and apps. One recording for each part and power source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.errors import CorruptFile, NoSamples
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Pause, Recording, Severity
from wattwitness.readers.build import RawRows, build_recording
from wattwitness.readers.fit_channels import PowerSource, power_sources, shared_channels
from wattwitness.readers.fit_decode import MESSAGE_LIMIT, TIMESTAMP, FitContent, Stop, decode_section
from wattwitness.readers.fit_meter import meter_record
from wattwitness.readers.fit_sections import looks_like_fit, split_sections
from wattwitness.readers.reader import MEBIBYTE, FileHead, OpenedFile, Reader, prefix_notices
from wattwitness.readers.words import count_of

FIT_EPOCH_S = 631065600
"""1989-12-31T00:00:00Z, from which FIT counts seconds, in seconds since 1970."""

FIRST_DATE = 0x10000000
"""Time stamps below this are seconds since the recorder was switched on, no date (FIT profile, type date_time)."""

TIMER, TIMER_START, TIMER_STOPS = 0, 0, frozenset({1, 4, 8, 9})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """A section, with what was wrong with it, and where its samples lie in time (the file's own seconds)."""

    content: FitContent
    notices: tuple[Notice, ...]
    first_s: float
    last_s: float


def sniff(head: FileHead) -> bool:
    """Whether the file begins with a FIT header."""
    return looks_like_fit(head.first_bytes)


def read(opened: OpenedFile) -> tuple[Recording, ...]:
    """Read every recording in a FIT file.

    Chained sections become recordings of their own, unless one merely goes on where the one before ended: the same
    file identity, and no overlap in time. A section with two power sources gives a recording for each. Raises
    CorruptFile where damage leaves nothing, NoSamples where there was nothing to begin with.
    """
    sections, outside = split_sections(opened.content)
    parts = []
    damage = [notice.message for notice in outside]
    messages_left = MESSAGE_LIMIT
    for section in sections:
        content = decode_section(opened.content[section.body_start : section.body_end], messages_left)
        messages_left -= content.messages
        notices = section.notices + _stopped(content)
        damage += [notice.message for notice in section.notices]
        if content.stopped is Stop.DAMAGE:
            damage.append("Its messages cannot be decoded.")
        stamps = content.columns.get(TIMESTAMP, np.empty(0))
        if np.any(np.isfinite(stamps)):
            first_s, last_s = float(np.nanmin(stamps)), float(np.nanmax(stamps))
            parts.append(_Part(content=content, notices=notices, first_s=first_s, last_s=last_s))
    if not parts:
        raise _nothing(opened.file_name, damage)
    return _recordings(opened, _joined(parts), outside)


def _recordings(opened: OpenedFile, parts: Sequence[_Part], outside: tuple[Notice, ...]) -> tuple[Recording, ...]:
    """Build the recordings of all parts, numbered through the file; a part without samples is said on the others."""
    found: list[Recording] = []
    empty = 0
    for part in parts:
        try:
            found.extend(_of_part(opened, part, several=len(parts) > 1, first_part=len(found) + 1))
        except NoSamples:
            empty += 1
            if empty == len(parts):
                raise
    if empty:
        message = f"{count_of(empty, 'section')} of the file held no samples; left out."
        outside += (Notice(slug="section_without_samples", message=message, severity=Severity.NOTE),)
    if len(found) == 1:
        found = [replace(found[0], source=replace(found[0].source, part_label=""))]
    return prefix_notices(tuple(found), outside)


def _of_part(opened: OpenedFile, part: _Part, *, several: bool, first_part: int) -> tuple[Recording, ...]:
    """One recording for each power source of a part; one without power where it has none."""
    content = part.content
    time_s, dated, zero_s = _times(content.columns[TIMESTAMP])
    channels, channel_notices = shared_channels(content)
    sources, power_notices = power_sources(content)
    when = _when(float(np.nanmin(time_s)), dated) if several else ""
    recordings = []
    for number, power in enumerate(sources or (None,)):
        notices = [*part.notices, *_undated(dated), *channel_notices, *power_notices]
        label = power.label if power is not None and len(sources) > 1 else ""
        if power is not None and not power.native and len(sources) == 1:
            message = f"The power is that of the {power.label}; the file holds no other."
            notices.append(Notice(slug="power_of_application", message=message, severity=Severity.NOTE))
        own = {ChannelName.POWER: power.power_w} if power is not None else {}
        recordings.append(
            build_recording(
                RawRows(time_s=time_s, dated=dated, channels={**own, **channels}),
                source=opened.source(
                    READER.name,
                    part=first_part + number,
                    part_label=", ".join(filter(None, (when, label))),
                ),
                meter=_meter(content, power, alone=len(sources) < 2),
                pauses=_pauses(content.events, zero_s),
                notices=notices,
            )
        )
    return tuple(recordings)


def _meter(content: FitContent, power: PowerSource | None, *, alone: bool) -> MeterRecord:
    """The meter's record; of a second source, written by an application, the file does not say whose it is."""
    if power is not None and not power.native and not alone:
        return MeterRecord()
    return meter_record(content.devices, content.file_id, has_power=power is not None)


def _times(stamps: FloatArray) -> tuple[FloatArray, bool, float]:
    """Seconds since 1970 or, without a date, after the first row; whether dated; and the zero in the file's seconds.

    The ``timestamp`` field is UTC; the local time that some files also hold is not used.
    """
    known = stamps[np.isfinite(stamps)]
    dated = float(np.median(known)) >= FIRST_DATE
    zero_s = float(-FIT_EPOCH_S) if dated else float(known[0])
    return stamps - zero_s, dated, zero_s


def _pauses(events: Sequence[tuple[int, int, int]], zero_s: float) -> tuple[Pause, ...]:
    """The stretches between a stop of the timer and the next start."""
    pauses = []
    stopped_at: int | None = None
    for stamp, event, kind in events:
        if event != TIMER:
            continue
        if kind in TIMER_STOPS:
            stopped_at = stamp if stopped_at is None else stopped_at
        elif kind == TIMER_START:
            if stopped_at is not None and stamp > stopped_at:
                pauses.append(Pause(start_s=stopped_at - zero_s, end_s=stamp - zero_s))
            stopped_at = None
    return tuple(pauses)


def _joined(parts: Sequence[_Part]) -> tuple[_Part, ...]:
    """Join a section to the one before where it goes on with the same file after it in time."""
    joined: list[_Part] = []
    for part in parts:
        before = joined[-1] if joined else None
        goes_on = (
            before is not None
            and bool(before.content.file_id)
            and before.content.file_id == part.content.file_id
            and part.first_s > before.last_s
        )
        if before is not None and goes_on:
            joined[-1] = _Part(
                content=_after(before.content, part.content),
                notices=before.notices + part.notices,
                first_s=before.first_s,
                last_s=part.last_s,
            )
        else:
            joined.append(part)
    return tuple(joined)


def _after(first: FitContent, second: FitContent) -> FitContent:
    """Two sections as one."""
    columns = {}
    for key in first.columns.keys() | second.columns.keys():
        columns[key] = np.concatenate(
            [content.columns.get(key, np.full(content.rows, np.nan)) for content in (first, second)]
        )
    known = {developer.key: developer for developer in first.developer_fields + second.developer_fields}
    return replace(
        first,
        rows=first.rows + second.rows,
        columns=columns,
        developer_fields=tuple(known.values()),
        events=first.events + second.events,
        devices=first.devices + second.devices,
        messages=first.messages + second.messages,
        stopped=second.stopped,
        unread_bytes=second.unread_bytes,
    )


def _when(first_s: float, dated: bool) -> str:
    if not dated:
        return "undated section"
    return f"section from {datetime.fromtimestamp(first_s, UTC):%Y-%m-%d %H:%M:%S} UTC"


def _undated(dated: bool) -> tuple[Notice, ...]:
    if dated:
        return ()
    message = "The recorder's clock was never set: the file has no date, and its times count from its first sample."
    return (Notice(slug="undated", message=message, severity=Severity.NOTE),)


def _stopped(content: FitContent) -> tuple[Notice, ...]:
    """A notice where decoding ended early; a message cut by the end of the file is said by the section."""
    if content.stopped is Stop.TOO_MANY:
        message = f"The file holds more than {MESSAGE_LIMIT:,} messages; the rest was left unread."
        return (Notice(slug="too_many_samples", message=message, samples=content.rows),)
    if not content.unread_bytes:
        return ()
    message = (
        f"The file is damaged: its last {count_of(content.unread_bytes, 'byte')} could not be decoded; "
        f"the {count_of(content.rows, 'sample')} before were kept."
    )
    return (Notice(slug="damaged", message=message, samples=content.rows),)


def _nothing(file_name: str, damage: Sequence[str]) -> NoSamples | CorruptFile:
    if damage:
        return CorruptFile(
            f"The FIT file is damaged and no sample of it could be saved. {' '.join(list(dict.fromkeys(damage))[:2])}",
            where=file_name,
            hint="Copy the file from the recorder again, or export the ride in another format.",
        )
    return NoSamples(
        "The FIT file holds no record with a time stamp.",
        where=file_name,
        hint="Check that this is an activity file: courses, workouts and settings hold no samples.",
    )


READER = Reader(
    name="fit", title="FIT activity file", suffixes=(".fit",), sniff=sniff, read=read, limit_bytes=16 * MEBIBYTE
)
