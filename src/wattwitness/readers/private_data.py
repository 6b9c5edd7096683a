"""Look through a whole file, beyond what is read for a comparison, for what names a person, a place or a device.

It errs on the side of showing too much: every text and every number that may identify is listed. It cannot promise to
have seen everything, and whoever shows the list says so.
"""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.private_data import PrivateFile, PrivateItem, PrivateKind
from wattwitness.readers.open import GZIP, open_file, read_bytes
from wattwitness.readers.private_fit import private_in_fit
from wattwitness.readers.private_found import Found
from wattwitness.readers.private_table import private_in_table
from wattwitness.readers.private_xml import private_in_xml

GZIP_HEAD, GZIP_EXTRA, GZIP_NAME, GZIP_REMARK = 10, 4, 8, 16

SEARCHES = {"fit": private_in_fit, "tcx": private_in_xml, "gpx": private_in_xml}


def private_data(path: Path, *, mapping: Path | None = None) -> PrivateFile:
    """What the file holds, by kind. Raises a WattwitnessError where it cannot be opened."""
    opened, reader, _ = open_file(path, mapping=mapping)
    found = SEARCHES.get(reader.name, private_in_table)(opened.content)
    return PrivateFile(file_name=path.name, items=_in_wrapping(read_bytes(path)) + found)


def _in_wrapping(raw: bytes) -> tuple[PrivateItem, ...]:
    """The name and remark that a gzip-compressed file may carry of the file before it was packed (RFC 1952, 2.3.1)."""
    if not raw.startswith(GZIP) or len(raw) < GZIP_HEAD:
        return ()
    flags, at = raw[3], GZIP_HEAD
    if flags & GZIP_EXTRA:
        at += 2 + int.from_bytes(raw[at : at + 2], "little")
    found = Found()
    for flag, what in ((GZIP_NAME, "file name"), (GZIP_REMARK, "remark")):
        if flags & flag:
            end = raw.find(b"\0", at)
            found.add(PrivateKind.NAME, f"{what} inside the compressed file", raw[at:end].decode("latin-1"))
            at = end + 1
    return found.items()
