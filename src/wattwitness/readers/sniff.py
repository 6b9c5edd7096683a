"""Which reader a file belongs to, by its content; and what to say where it belongs to none or several."""

from __future__ import annotations

from collections.abc import Iterable

from wattwitness.model.errors import AmbiguousFormat, UnknownFormat
from wattwitness.readers.reader import FileHead, Reader
from wattwitness.readers.words import listed, plain_text
from wattwitness.readers.xml_head import root_name

FOREIGN = (
    (b"PK\x03\x04", "a ZIP archive or an office document: unpack it, or save the table as CSV"),
    (b"\xd0\xcf\x11\xe0", "an old office document: save the table as CSV"),
    (b"%PDF", "a PDF document: ask for the recording itself"),
    (b"\x89PNG", "a picture: type off what it shows as spot readings"),
    (b"\xff\xd8\xff", "a picture: type off what it shows as spot readings"),
    (b"SQLite format 3", "a database: export the ride from the program that wrote it"),
    (b"BZh", "a bzip2 archive: unpack it"),
    (b"\xfd7zXZ", "an xz archive: unpack it"),
    (b"7z\xbc\xaf", "a 7z archive: unpack it"),
)
"""Beginnings of files that testers send by mistake, and what to do with them."""


def choose_reader(head: FileHead, readers: Iterable[Reader]) -> Reader:
    """Return the one reader that recognises a file.

    Raises UnknownFormat where none does, AmbiguousFormat where several do.
    """
    known = tuple(readers)
    matching = [reader for reader in known if reader.sniff(head)]
    if len(matching) == 1:
        return matching[0]
    if matching:
        raise AmbiguousFormat(
            f"The file could be {listed([reader.title for reader in matching])}.",
            where=head.file_name,
            hint="Export the ride again in one of these formats, and please report this file's first lines.",
        )
    raise UnknownFormat(
        f"The file's content is no format that can be read here{_looks_like(head.first_bytes)}.",
        where=head.file_name,
        hint=f"Give one of these: {', '.join(reader.title for reader in known)}.",
    )


def _looks_like(head: bytes) -> str:
    for start, what in FOREIGN:
        if head.startswith(start):
            return f"; it looks like {what}"
    root = root_name(head)
    if root is None:
        return ""
    if root.lower() == "html":
        return "; it looks like a web page: a login page may have been saved in place of the recording"
    return f"; it is XML with the root element <{plain_text(root, 40)}>"
