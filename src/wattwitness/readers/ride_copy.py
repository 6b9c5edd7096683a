"""Ride copies: tables that this program wrote of whole recordings, read back to the last bit."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.errors import CorruptFile, FileTooLarge, NoSamples
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Pause, Recording, Severity
from wattwitness.model.ride_copy import TIME, TIME_SHOWN, Head, Times
from wattwitness.readers.copy_mark import is_copy_text
from wattwitness.readers.plausible import PLAUSIBLE
from wattwitness.readers.reader import MEBIBYTE, FileHead, OpenedFile, Reader
from wattwitness.readers.words import plain_text

FORMAT_NAME = "ride_copy"
ROW_LIMIT = 500_000
HEAD_LIMIT = 10_000
LATEST_S = 1e11
"""Beyond any date, and any count of seconds."""

LONGEST_MESSAGE = 1000
_SLUG = re.compile(r"[a-z0-9_]{1,60}")


@dataclass(slots=True)
class _HeadRead:
    """What stands above the table."""

    label: str = ""
    maker: str = ""
    product: str = ""
    firmware: str = ""
    dated: bool | None = None
    event_driven: bool | None = None
    spot: bool = False
    pauses: list[Pause] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)


def sniff(head: FileHead) -> bool:
    """Whether the text begins with the mark of a ride copy."""
    return is_copy_text(head.first_bytes.decode("utf-8", errors="replace"))


def read(opened: OpenedFile) -> tuple[Recording, ...]:
    """Read the one recording of a ride copy.

    Raises CorruptFile, with the line, where it was changed into what no ride copy can be; NoSamples, FileTooLarge.
    """
    name = opened.file_name
    try:
        text = opened.content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _changed("It is not UTF-8 text", name) from error
    head, lines = _head(_rows(text, name), name)
    if head.dated is None or head.event_driven is None:
        missing = Head.TIMES if head.dated is None else Head.EVENT_DRIVEN
        raise _changed(f"The line “# {missing}: …” is missing", name)
    time_s, channels = _table(lines, name)
    if not any(bool(np.any(np.isfinite(values))) for values in channels.values()):
        raise NoSamples("The ride copy holds no sample.", where=name, hint="Take the copy from the bundle again.")
    try:
        recording = Recording(
            source=opened.source(FORMAT_NAME),
            time_s=time_s,
            dated=head.dated,
            channels=channels,
            meter=MeterRecord(maker=head.maker, product=head.product, firmware=head.firmware),
            pauses=tuple(head.pauses),
            notices=tuple(head.notices),
            event_driven=head.event_driven,
            label=head.label,
            spot=head.spot,
        )
    except ValueError as error:
        raise _changed(f"It is out of order: {error}", name) from error
    return (recording,)


def _rows(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Every row that is not blank, with the number of the line it ends in."""
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                yield reader.line_num, row
    except csv.Error as error:
        raise _changed(f"Line {reader.line_num} cannot be read: {error}", name) from error


def _head(
    rows: Iterator[tuple[int, list[str]]], name: str
) -> tuple[_HeadRead, tuple[list[str], Iterator[tuple[int, list[str]]]]]:
    """What stands above the table, and its headings with the rows that follow."""
    head = _HeadRead()
    for count, (line, row) in enumerate(rows):
        text = ",".join(row).strip()
        if not text.startswith("#"):
            return head, ([cell.strip() for cell in row], rows)
        if count > HEAD_LIMIT:
            raise _changed(f"More than {HEAD_LIMIT} lines stand above the table", name)
        if count:
            _take(head, text.removeprefix("#").strip(), line, name)
    raise _changed("There is no table below the first lines", name)


def _take(head: _HeadRead, text: str, line: int, name: str) -> None:
    key, _, value = (part.strip() for part in text.partition(":"))
    if key in (Head.LABEL, Head.MAKER, Head.PRODUCT, Head.FIRMWARE):
        setattr(head, key, plain_text(value.removeprefix("'")))
    elif key == Head.TIMES and value in list(Times):
        head.dated = value == Times.DATED
    elif key == Head.EVENT_DRIVEN and value in ("yes", "no"):
        head.event_driven = value == "yes"
    elif key == Head.SPOT and value in ("yes", "no"):
        head.spot = value == "yes"
    elif key == Head.PAUSE:
        head.pauses.append(_pause(value, line, name))
    elif key == Head.NOTICE:
        head.notices.append(_notice(value, line, name))
    else:
        raise _changed(f"Line {line} is none that a ride copy has: “{plain_text(text, 60)}”", name)


def _pause(value: str, line: int, name: str) -> Pause:
    try:
        start_s, end_s = (float(part) for part in value.split(" to "))
    except ValueError:
        start_s = end_s = float("nan")
    if not -LATEST_S < start_s < end_s < LATEST_S:
        raise _changed(f"Line {line} states no pause: “{plain_text(value, 60)}”", name)
    return Pause(start_s=start_s, end_s=end_s)


def _notice(value: str, line: int, name: str) -> Notice:
    parts = [part.strip() for part in value.split("|", maxsplit=3)]
    severities = {severity.value: severity for severity in Severity}
    right = len(parts) == 4 and parts[0] in severities and _SLUG.fullmatch(parts[1]) is not None
    if not right or not (parts[2] == "" or re.fullmatch(r"[0-9]{1,9}", parts[2])):
        raise _changed(f"Line {line} states no notice: “{plain_text(value, 60)}”", name)
    return Notice(
        slug=parts[1],
        message=plain_text(parts[3].removeprefix("'"), LONGEST_MESSAGE),
        severity=severities[parts[0]],
        samples=int(parts[2]) if parts[2] else None,
        about=name,
    )


def _table(
    table: tuple[list[str], Iterator[tuple[int, list[str]]]], name: str
) -> tuple[FloatArray, dict[ChannelName, FloatArray]]:
    headings, rows = table
    known = {channel.value: channel for channel in ChannelName}
    wrong = [heading for heading in headings if heading not in (TIME, TIME_SHOWN, *known)]
    if wrong or TIME not in headings or len(set(headings)) != len(headings):
        raise _changed(f"Its headings are none of a ride copy: “{plain_text(', '.join(headings), 80)}”", name)
    used = [place for place, heading in enumerate(headings) if heading != TIME_SHOWN]
    values: list[list[float]] = []
    for line, row in rows:
        if len(row) != len(headings):
            raise _changed(f"Line {line} has {len(row)} cells under {len(headings)} headings", name)
        if len(values) == ROW_LIMIT:
            raise FileTooLarge(
                f"The copy has more than {ROW_LIMIT:,} rows; no recording of a ride has.",
                where=name,
                hint="Check that this is the recording of one ride.",
            )
        values.append(_numbers([row[place] for place in used], line, name))
    array = np.array(values, dtype=np.float64).reshape(len(values), len(used))
    columns = {headings[place]: array[:, k] for k, place in enumerate(used)}
    time_s = columns.pop(TIME)
    if not bool(np.all(np.abs(time_s) < LATEST_S)):
        raise _changed("A row has no time", name)
    return time_s, {known[heading]: _plausible(known[heading], column, name) for heading, column in columns.items()}


def _numbers(cells: Sequence[str], line: int, name: str) -> list[float]:
    try:
        return [float(cell) if cell else np.nan for cell in cells]
    except ValueError as error:
        raise _changed(f"Line {line} holds what is no number: “{plain_text(','.join(cells), 60)}”", name) from error


def _plausible(channel: ChannelName, values: FloatArray, name: str) -> FloatArray:
    """The values as they are: they were cleaned before they were written, and none can lie outside what is real."""
    rule = PLAUSIBLE[channel]
    present = values[~np.isnan(values)]
    if np.any((present < rule.low) | (present > rule.high)):
        raise _changed(f"It holds {rule.words} values that no ride copy can hold", name)
    return values


def _changed(what: str, name: str) -> CorruptFile:
    return CorruptFile(
        f"{what}: the ride copy was changed after it was written.",
        where=name,
        hint="Take the copy from the bundle again; do not save it from a spreadsheet.",
    )


READER = Reader(
    name=FORMAT_NAME,
    title="ride copy",
    suffixes=(".csv",),
    sniff=sniff,
    read=read,
    limit_bytes=100 * MEBIBYTE,
)


def same_samples(content: bytes, recording: Recording) -> bool:
    """Whether a ride copy's bytes read back as everything of ``recording`` that a comparison uses, to the last bit."""
    opened = OpenedFile(file_name="copy", sha256="", size_bytes=len(content), content=content)
    (copy,) = read(opened)
    held = {name: values for name, values in recording.channels.items() if recording.has(name)}
    return (
        np.array_equal(copy.time_s, recording.time_s)
        and held.keys() <= copy.channels.keys()
        and all(np.array_equal(copy.channels[name], values, equal_nan=True) for name, values in held.items())
        and copy.pauses == recording.pauses
        and (copy.dated, copy.event_driven, copy.spot) == (recording.dated, recording.event_driven, recording.spot)
    )
