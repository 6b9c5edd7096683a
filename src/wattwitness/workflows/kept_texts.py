"""Small texts on a bench beside its recordings: kept as originals under their SHA-256, found again and read."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.originals import Original, keep, original_path
from wattwitness.bench.rides import originals_of, put_original
from wattwitness.model.errors import OutputNotWritable, UnknownName
from wattwitness.workflows.safe_names import safe_name

SHA256 = re.compile(r"[0-9a-f]{64}")


def keep_text(bench: Path, text: str, name: str) -> Original:
    """Keep a text as an original and write it down; one that is there already is given.

    Raises OutputNotWritable, and what ``catalogue`` raises.
    """
    with tempfile.TemporaryDirectory(prefix="wattwitness-") as folder:
        path = Path(folder) / safe_name(name)
        try:
            path.write_bytes(text.encode("utf-8"))
        except OSError as error:
            raise OutputNotWritable(
                f"The text cannot be written: {error.strerror or error}.",
                where=path.name,
                hint="Check that the disk is not full; then try again.",
            ) from error
        original = keep(bench, path)
    with catalogue(bench, write=True) as connection:
        put_original(connection, original)
    return original


def texts_beginning(bench: Path, mark: str, *, endings: tuple[str, ...], most_bytes: int) -> list[Original]:
    """The originals that begin with ``mark``, by their names."""
    with catalogue(bench) as connection:
        every = originals_of(connection)
    small = [one for one in every if one.size_bytes <= most_bytes and one.file_name.lower().endswith(endings)]
    found = [one for one in small if _begins(original_path(bench, one.sha256, one.file_name), mark)]
    return sorted(found, key=lambda one: (one.file_name, one.sha256))


def original_called(bench: Path, sha256: str) -> tuple[Original, Path]:
    """An original by its SHA-256, and where its bytes lie. Raises UnknownName."""
    with catalogue(bench) as connection:
        found = next((one for one in originals_of(connection) if one.sha256 == sha256), None)
    path = None if found is None else original_path(bench, found.sha256, found.file_name)
    if found is None or path is None or not SHA256.fullmatch(sha256) or not path.is_file():
        raise UnknownName("There is no such file on the bench.", where=sha256[:12], hint="Load the page again.")
    return found, path


def _begins(path: Path, mark: str) -> bool:
    try:
        with path.open("rb") as file:
            head = file.read(4 * len(mark) + 8)
    except OSError:
        return False
    encoding = "utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    return head.decode(encoding, "replace").lstrip(' \t\r\n"').lower().startswith(mark)
