"""Open a file and read the recordings in it, whatever its name says and whatever it turns out to be."""

from __future__ import annotations

import hashlib
import os
import re
import stat
import zlib
from pathlib import Path
from typing import BinaryIO

from wattwitness.model.errors import (
    CorruptFile,
    EmptyFile,
    FileMissing,
    FileNotReadable,
    FileTooLarge,
    IsDirectory,
    PartUnknown,
    UnknownFormat,
)
from wattwitness.model.recording import Notice, Recording, Severity
from wattwitness.readers.corrected_mark import corrected_notices
from wattwitness.readers.reader import MEBIBYTE, FileHead, OpenedFile, Reader, prefix_notices
from wattwitness.readers.registry import READERS
from wattwitness.readers.sniff import choose_reader
from wattwitness.readers.words import count_of, plain_text
from wattwitness.readers.xml_safe import refuse_entities

LIMIT_BYTES = 200 * MEBIBYTE
"""No recording is larger, packed or unpacked: a day at one sample a second is some 50 MB in the wordiest format."""

HEAD_BYTES = 65536
TABLE = "csv"
BLANKS = b"\0 \t\r\n\f\v\xef\xbb\xbf\xff\xfe"
GZIP = b"\x1f\x8b\x08"
GZIP_SUFFIXES = (".gz", ".gzip")
PART = re.compile(r"(?P<path>.+)#(?P<part>\d{1,6})", re.DOTALL)


def read_recordings(path: Path, *, mapping: Path | None = None) -> tuple[Recording, ...]:
    """Read every recording in a file, at least one, in the order of its parts.

    ``mapping`` is a saved column mapping for tables. The file is opened for reading only. Raises a WattwitnessError
    that says what is wrong with it.
    """
    opened, reader, notices = open_file(path, mapping=mapping)
    return prefix_notices(reader.read(opened), notices)


def open_file(path: Path, *, mapping: Path | None = None) -> tuple[OpenedFile, Reader, tuple[Notice, ...]]:
    """Open a file, choose its reader by content, and return both with what was noticed on the way.

    Raises a WattwitnessError where the file cannot be opened, is no known format, or is unsafe.
    """
    raw = read_bytes(path)
    name = path.name
    content, notices = unpack(raw, name)
    if not content[:HEAD_BYTES].strip(BLANKS) and not content.strip(BLANKS):
        raise EmptyFile(
            "The file holds nothing but blanks.",
            where=name,
            hint="Copy it from the recorder again; an interrupted transfer leaves such a file.",
        )
    refuse_entities(content, name)
    head = FileHead(file_name=name, first_bytes=content[:HEAD_BYTES], complete=len(content) <= HEAD_BYTES)
    reader = _reader_for(head, mapping)
    if len(content) > reader.limit_bytes:
        raise _too_large(len(content), reader.limit_bytes, name)
    opened = OpenedFile(
        file_name=name,
        sha256=hashlib.sha256(raw).hexdigest(),
        size_bytes=len(raw),
        content=content,
        mapping=mapping,
    )
    return opened, reader, notices + _unexpected_suffix(path, reader) + corrected_notices(content)


def _reader_for(head: FileHead, mapping: Path | None) -> Reader:
    """The reader that knows the content; what none knows is the table that the mapping describes, if there is one."""
    try:
        return choose_reader(head, READERS)
    except UnknownFormat:
        if mapping is None:
            raise
        return READERS.get(TABLE)


def read_one(argument: str | Path, *, mapping: Path | None = None) -> Recording:
    """Read the one recording that an argument means: ``FILE``, or ``FILE#2`` for the second recording in it.

    Raises PartUnknown where the file holds no such part, or several and the argument does not say which.
    """
    path, part = split_part(str(argument))
    recordings = read_recordings(path, mapping=mapping)
    if part is None and len(recordings) == 1:
        return recordings[0]
    if part is not None and 1 <= part <= len(recordings):
        return recordings[part - 1]
    parts = "; ".join(
        f"{plain_text(path.name)}#{item.source.part}"
        + (f" ({item.source.part_label})" if item.source.part_label else "")
        for item in recordings
    )
    held = f"The file holds {count_of(len(recordings), 'recording')}"
    what = f"{held}, and which one is meant is not said." if part is None else f"{held}; there is no number {part}."
    raise PartUnknown(what, where=path.name, hint=f"Say which one: {parts}.")


def split_part(argument: str) -> tuple[Path, int | None]:
    """Split ``FILE#2`` into the path and the part. A file of that literal name goes before."""
    found = PART.fullmatch(argument)
    if found is None or os.path.lexists(argument):
        return Path(argument), None
    return Path(found["path"]), int(found["part"])


def read_bytes(path: Path) -> bytes:
    """Return all bytes of an ordinary file of at most ``LIMIT_BYTES``.

    Raises FileMissing, IsDirectory, FileNotReadable, FileTooLarge or EmptyFile. A pipe or a device is refused before
    it is opened: reading one may never end.
    """
    name = path.name or str(path)
    try:
        _refuse_unusual(path.stat(), name)
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(descriptor, "rb") as file:
            # Once more on what was really opened: a name can come to mean something else in between.
            status = os.fstat(descriptor)
            _refuse_unusual(status, name)
            data = _read_up_to(file, LIMIT_BYTES + 1, expected=status.st_size)
    except FileNotFoundError as error:
        raise _missing(name) from error
    except ValueError as error:
        # A NUL byte in the name.
        raise _missing(name) from error
    except IsADirectoryError as error:
        raise _is_directory(name) from error
    except OSError as error:
        raise FileNotReadable(
            f"The operating system does not let the file be read: {error.strerror or error}.",
            where=name,
            hint="Check its permissions and that the disk or card is still there.",
        ) from error
    if len(data) > LIMIT_BYTES:
        raise _too_large(len(data), LIMIT_BYTES, name)
    if not data:
        raise EmptyFile(
            "The file is empty: it holds no byte.",
            where=name,
            hint="Copy it from the recorder again; an interrupted transfer leaves such a file.",
        )
    return data


def _read_up_to(file: BinaryIO, limit: int, *, expected: int) -> bytes:
    """Read at most ``limit`` bytes, without setting aside more memory than the file is ``expected`` to need."""
    data = file.read(min(expected + 1, limit))
    while data and len(data) < limit:
        more = file.read(min(MEBIBYTE, limit - len(data)))
        if not more:
            break
        data += more
    return data


def unpack(raw: bytes, name: str) -> tuple[bytes, tuple[Notice, ...]]:
    """Return the content of a gzip-compressed file, and any other file's bytes as they are.

    At most ``LIMIT_BYTES`` are unpacked, however small the file: FileTooLarge beyond. What can be unpacked of a
    damaged one is kept, with a notice; CorruptFile where that is nothing.
    """
    if not raw.startswith(GZIP):
        return raw, ()
    pieces: list[bytes] = []
    size = 0
    rest = raw
    damage = ""
    while rest.startswith(GZIP):
        unpacker = zlib.decompressobj(wbits=31)
        try:
            piece = unpacker.decompress(rest, LIMIT_BYTES + 1 - size)
        except zlib.error:
            piece, damage = _unpack_until_damage(rest, LIMIT_BYTES + 1 - size), "damaged"
        pieces.append(piece)
        size += len(piece)
        if size > LIMIT_BYTES:
            raise _too_large(size, LIMIT_BYTES, name)
        if damage or not unpacker.eof:
            damage = damage or "cut short"
            break
        rest = unpacker.unused_data.lstrip(b"\0")
    content = b"".join(pieces)
    if not damage:
        return content, ()
    if not content:
        raise CorruptFile(
            f"The compressed file is {damage}; nothing could be unpacked.",
            where=name,
            hint="Copy or export the file again.",
        )
    message = f"The compressed file is {damage}; {count_of(size, 'byte')} could be unpacked and were read."
    return content, (Notice(slug="compressed_damaged", message=message, about=name),)


def _unpack_until_damage(packed: bytes, limit: int) -> bytes:
    """Unpack piece by piece, so that what comes before the damage is kept."""
    unpacker = zlib.decompressobj(wbits=31)
    pieces: list[bytes] = []
    size = 0
    step = 4096
    start = 0
    while start < len(packed) and size < limit:
        before = unpacker.copy()
        try:
            piece = unpacker.decompress(packed[start : start + step], limit - size)
        except zlib.error:
            if step == 1:
                break
            # The damage lies in this stretch: go back to its beginning and come as close as a byte.
            unpacker, step = before, 1
            continue
        pieces.append(piece)
        size += len(piece)
        start += step
    return b"".join(pieces)


def _refuse_unusual(status: os.stat_result, name: str) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise _is_directory(name)
    if not stat.S_ISREG(status.st_mode):
        raise FileNotReadable(
            "This is a pipe, a socket or a device, not a file.",
            where=name,
            hint="Save the recording to a file and name that file.",
        )
    if status.st_size > LIMIT_BYTES:
        raise _too_large(status.st_size, LIMIT_BYTES, name)


def _unexpected_suffix(path: Path, reader: Reader) -> tuple[Notice, ...]:
    suffixes = [suffix.lower() for suffix in path.suffixes]
    if suffixes and suffixes[-1] in GZIP_SUFFIXES:
        suffixes.pop()
    suffix = suffixes[-1] if suffixes else ""
    if suffix in reader.suffixes:
        return ()
    named = f"The name ends in “{plain_text(suffix, 20)}”" if suffix else "The name has no ending"
    message = f"{named}, but the content is that of a {reader.title}; it was read as one."
    return (Notice(slug="unexpected_suffix", message=message, severity=Severity.NOTE, about=path.name),)


def _missing(name: str) -> FileMissing:
    return FileMissing("There is no such file.", where=name, hint="Check the name and the folder.")


def _is_directory(name: str) -> IsDirectory:
    return IsDirectory("This is a folder, not a file.", where=name, hint="Name one file in it.")


def _too_large(size: int, limit: int, name: str) -> FileTooLarge:
    return FileTooLarge(
        f"The file holds {size / MEBIBYTE:,.0f} MiB or more; no recording of a ride has more than "
        f"{limit / MEBIBYTE:,.0f} MiB.",
        where=name,
        hint="Check that this is the recording of one ride.",
    )
