"""Read tables from text, as the program reads them from files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from wattwitness.model.recording import Recording
from wattwitness.readers.csv_table import READER as CSV
from wattwitness.readers.reader import FileHead, OpenedFile, Reader
from wattwitness.readers.spot import READER as SPOT


def opened(content: str | bytes, mapping: Path | None = None) -> OpenedFile:
    raw = content.encode() if isinstance(content, str) else content
    return OpenedFile(file_name="ride.csv", sha256="0" * 64, size_bytes=len(raw), content=raw, mapping=mapping)


def sniffed(content: str | bytes, reader: Reader = CSV) -> bool:
    raw = content.encode() if isinstance(content, str) else content
    head = FileHead(file_name="ride.csv", first_bytes=raw[:65536], complete=len(raw) <= 65536)
    return reader.sniff(head)


def read(content: str | bytes, mapping: Path | None = None) -> Recording:
    """The one recording of a table that its reader must recognise."""
    assert sniffed(content)
    (recording,) = CSV.read(opened(content, mapping))
    return recording


def read_spot(content: str | bytes) -> Recording:
    assert sniffed(content, SPOT)
    (recording,) = SPOT.read(opened(content))
    return recording


def table(heading: str, row: Callable[[int], str], rows: int = 90) -> str:
    """A heading and ``rows`` rows."""
    return "\n".join([heading, *(row(index) for index in range(rows))]) + "\n"


def slugs(recording: Recording) -> dict[str, int | None]:
    """The slugs of a recording's notices, with the samples each touched."""
    return {notice.slug: notice.samples for notice in recording.notices}
