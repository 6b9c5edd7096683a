"""A whole recording as a plain table to hand on: everything an analysis uses, nothing that names a person or device."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.ride_copy import MARK, TIME, TIME_SHOWN, Head, Times
from wattwitness.writers.stamps import iso_stamps
from wattwitness.writers.table_text import exact, exact_cells, harmless, quoted_line, table_text


def ride_copy(recording: Recording) -> bytes:
    """The recording's table. Its serial number, file name and hash stay out; label and names of the make go in.

    Reading it gives every time stamp, sample and pause to the last bit.
    """
    channels = {name: recording.channels[name] for name in ChannelName if name in recording.channels}
    headings = [TIME, *([TIME_SHOWN] if recording.dated else []), *channels]
    columns = [exact_cells(recording.time_s)]
    if recording.dated:
        columns.append(iso_stamps(recording.time_s))
    columns += [exact_cells(values) for values in channels.values()]
    head = "".join(f"{quoted_line('# ' + line)}\n" for line in _head(recording))
    table = table_text([headings, *zip(*columns, strict=True)])
    return f"{MARK}\n{head}{table}".encode()


def _head(recording: Recording) -> Iterator[str]:
    meter = recording.meter
    for key, text in (
        (Head.LABEL, recording.label),
        (Head.MAKER, meter.maker),
        (Head.PRODUCT, meter.product),
        (Head.FIRMWARE, meter.firmware),
    ):
        if text:
            yield f"{key}: {harmless(text)}"
    yield f"{Head.TIMES}: {Times.DATED if recording.dated else Times.UNDATED}"
    yield f"{Head.EVENT_DRIVEN}: {'yes' if recording.event_driven else 'no'}"
    yield f"{Head.SPOT}: {'yes' if recording.spot else 'no'}"
    for pause in recording.pauses:
        yield f"{Head.PAUSE}: {exact(pause.start_s)} to {exact(pause.end_s)}"
    for notice in recording.notices:
        samples = "" if notice.samples is None else str(notice.samples)
        yield f"{Head.NOTICE}: {notice.severity} | {notice.slug} | {samples} | {harmless(notice.message)}"
