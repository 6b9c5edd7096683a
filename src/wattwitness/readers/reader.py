"""What every reader is and is given: the head of a file to recognise it by, the opened file to read it from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from wattwitness.model.recording import Notice, Recording, Source

MEBIBYTE = 1024 * 1024

PART_LIMIT = 64
"""A file of more parts than this is no ride; the rest is left unread, so that a hostile file costs little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileHead:
    """The first bytes of a file (at most 64 KiB, unpacked where the file is gzip-compressed), to recognise it by.

    ``complete`` says that ``first_bytes`` is all there is. ``file_name`` is for messages: a sniffer that looks at the
    name would be fooled by a wrong one.
    """

    file_name: str
    first_bytes: bytes
    complete: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenedFile:
    """A file read once and never altered.

    ``content`` is all its bytes, unpacked; ``sha256`` and ``size_bytes`` are those of the bytes on disk. ``mapping`` is
    the saved column mapping that the tester gave, for readers of tables.
    """

    file_name: str
    sha256: str
    size_bytes: int
    content: bytes = field(repr=False)
    mapping: Path | None = None

    def source(self, format_name: str, *, part: int = 1, part_label: str = "") -> Source:
        """Where a recording read from this file came from."""
        return Source(
            file_name=self.file_name,
            sha256=self.sha256,
            size_bytes=self.size_bytes,
            format_name=format_name,
            part=part,
            part_label=part_label,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """One format.

    ``name`` is what ``Source.format_name`` says, ``title`` what a tester reads, ``suffixes`` the usual endings of its
    files (lower case, with the dot): another ending is read all the same, with a notice. ``sniff`` says whether the
    content is this format: it never raises, and no file may be claimed by two readers. ``read`` returns every
    recording in the file, at least one, and raises a WattwitnessError (NoSamples, CorruptFile, ...) where there is
    none. A file of more than ``limit_bytes`` unpacked bytes is refused before it is read. ``propose_mapping`` returns
    the text of a column mapping for the tester to check and edit; ``None`` where a format needs none.
    """

    name: str
    title: str
    suffixes: tuple[str, ...]
    sniff: Callable[[FileHead], bool]
    read: Callable[[OpenedFile], tuple[Recording, ...]]
    limit_bytes: int = 200 * MEBIBYTE
    propose_mapping: Callable[[OpenedFile], str] | None = None


def prefix_notices(recordings: tuple[Recording, ...], notices: tuple[Notice, ...]) -> tuple[Recording, ...]:
    """Return ``recordings`` with ``notices``, named after the file, put before their own."""
    if not notices:
        return recordings
    about = recordings[0].source.file_name
    named = tuple(replace(notice, about=notice.about or about) for notice in notices)
    return tuple(replace(recording, notices=named + recording.notices) for recording in recordings)
