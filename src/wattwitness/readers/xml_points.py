"""Points of a ride in XML: what TCX and GPX have in common. Positions are never kept."""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.errors import NoSamples
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Pause, Recording, Severity
from wattwitness.readers.build import RawRows, build_recording
from wattwitness.readers.iso_times import IsoTimes, parse_iso_times, time_notices
from wattwitness.readers.reader import PART_LIMIT, OpenedFile, prefix_notices
from wattwitness.readers.words import count_of, plain_text
from wattwitness.readers.xml_safe import Enough

POINT_LIMIT = 500_000
"""A file with more points than this is no ride (it would last some five days); the rest is left unread."""

DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d{1,2}")

PAUSE_LEAST_S = 5.0
"""Between two tracks or laps a stretch without points counts as a pause from this length, and 3 usual spacings."""


@dataclass(slots=True, kw_only=True)
class Part:
    """Points of one recording in the order of the file: the text of each time, and values (NaN where absent).

    ``breaks`` are the points with which a new track or lap begins. ``label`` tells the part from others.
    """

    label: str = ""
    times: list[str] = field(default_factory=list)
    values: dict[ChannelName, array[float]] = field(default_factory=dict)
    breaks: list[int] = field(default_factory=list)
    unreadable: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """The element names of a format, in lower case.

    ``fields`` maps the name of an element in a point to its channel; ``nested`` an element whose value stands in a
    child called ``value``.
    """

    point: str
    time: str
    part: str
    breaks: frozenset[str]
    fields: Mapping[str, ChannelName]
    nested: Mapping[str, ChannelName]


class PointCollector:
    """Gathers the points of an XML file by its dialect; ``full`` says which limit ended it (empty: none)."""

    def __init__(self, dialect: Dialect) -> None:
        self.parts: list[Part] = []
        self.full = ""
        self._dialect = dialect
        self._points = 0
        self._time = ""
        self._values: dict[ChannelName, float] | None = None

    def begin(self, name: str, attributes: Mapping[str, str]) -> None:
        """Take the beginning of an element."""
        dialect = self._dialect
        if name == dialect.point:
            self._time, self._values = "", {}
        elif name == dialect.part:
            if len(self.parts) == PART_LIMIT:
                self.full = f"{PART_LIMIT} parts"
                raise Enough
            self.parts.append(Part())
        elif name in dialect.breaks and self.parts and self.parts[-1].times:
            self.parts[-1].breaks.append(len(self.parts[-1].times))
        self.noticed(name, attributes)

    def finish(self, name: str, parent: str, text: str) -> None:
        """Take the end of an element."""
        dialect = self._dialect
        if self._values is None:
            self.ended(name, parent, text)
        elif name == dialect.point:
            self._keep()
        elif name == dialect.time:
            self._time = self._time or text
        elif text:
            channel = dialect.nested.get(parent) if name == "value" else dialect.fields.get(name)
            if channel is not None and channel not in self._values:
                self._values[channel] = self._number(text)

    def noticed(self, _name: str, _attributes: Mapping[str, str]) -> None:
        """Take the beginning of any element; for formats that say more than points."""

    def ended(self, _name: str, _parent: str, _text: str) -> None:
        """Take the end of an element outside of points; for formats that say more than points."""

    def _number(self, text: str) -> float:
        try:
            # XML numbers have a point; a comma followed by three figures could also part the thousands.
            return float(text.replace(",", ".") if DECIMAL_COMMA.fullmatch(text) else text)
        except ValueError:
            self._part().unreadable += 1
            return float("nan")

    def _part(self) -> Part:
        if not self.parts:
            self.parts.append(Part())
        return self.parts[-1]

    def _keep(self) -> None:
        part = self._part()
        count = len(part.times)
        part.times.append(self._time)
        for channel, value in (self._values or {}).items():
            column = part.values.get(channel)
            if column is None:
                column = part.values[channel] = array("d")
            column.extend([float("nan")] * (count - len(column)))
            column.append(value)
        self._values = None
        self._points += 1
        if self._points == POINT_LIMIT:
            self.full = f"{POINT_LIMIT:,} points"
            raise Enough


def recordings_of(
    opened: OpenedFile, parts: Iterable[Part], *, format_name: str, meter: MeterRecord, notices: tuple[Notice, ...]
) -> tuple[Recording, ...]:
    """Build the recordings of all parts that hold points, numbered through the file. Raises NoSamples without any."""
    filled = [part for part in parts if part.times]
    recordings: list[Recording] = []
    failed = 0
    for part in filled:
        try:
            recordings.append(_recording(opened, part, format_name, meter, number=len(recordings) + 1, of=len(filled)))
        except NoSamples:
            failed += 1
            if failed == len(filled):
                raise
    if not recordings:
        raise NoSamples(
            "The file holds no points of a ride.",
            where=opened.file_name,
            hint="Check that this is a recorded activity: courses, routes and workouts hold no samples.",
        )
    if failed:
        message = f"{count_of(failed, 'part')} of the file held no samples; left out."
        notices += (Notice(slug="section_without_samples", message=message, severity=Severity.NOTE),)
    return prefix_notices(tuple(recordings), notices)


def _recording(
    opened: OpenedFile, part: Part, format_name: str, meter: MeterRecord, *, number: int, of: int
) -> Recording:
    times = parse_iso_times(part.times)
    if not np.any(np.isfinite(times.time_s)):
        raise NoSamples(
            "No point of the file has a time.",
            where=opened.file_name,
            hint="Export the ride again with its time stamps; without them it cannot be set beside another.",
        )
    channels = {name: _column(values, len(part.times)) for name, values in part.values.items()}
    notices = list(time_notices(times))
    if part.unreadable:
        message = f"{count_of(part.unreadable, 'value')} could not be read as a number; taken as missing."
        notices.append(Notice(slug="value_unreadable", message=message, samples=part.unreadable))
    label = f"part from {plain_text(part.label or next(filter(None, part.times)))}" if of > 1 else ""
    return build_recording(
        RawRows(time_s=times.time_s, dated=True, channels=channels),
        source=opened.source(format_name, part=number, part_label=label),
        meter=meter,
        pauses=_pauses(times, part.breaks),
        notices=notices,
    )


def _column(values: array[float], count: int) -> FloatArray:
    column = np.full(count, np.nan)
    column[: len(values)] = values
    return column


def _pauses(times: IsoTimes, breaks: Iterable[int]) -> tuple[Pause, ...]:
    """The stretches without points at the places where a new track or lap begins."""
    time_s = times.time_s
    spacing = np.diff(time_s)
    forward = spacing[spacing > 0]
    if forward.size == 0:
        return ()
    least_s = max(PAUSE_LEAST_S, 3.0 * float(np.median(forward)))
    return tuple(
        Pause(start_s=float(time_s[index - 1]), end_s=float(time_s[index]))
        for index in sorted(set(breaks))
        if 0 < index < time_s.size and time_s[index] - time_s[index - 1] > least_s
    )


def full_notice(collector: PointCollector) -> tuple[Notice, ...]:
    """A notice where the file held more points or parts than are read."""
    if not collector.full:
        return ()
    message = f"The file holds more than {collector.full}; the rest was left unread."
    return (Notice(slug="too_many_samples", message=message),)
