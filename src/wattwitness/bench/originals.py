"""Recordings as their recorders wrote them: kept byte for byte under their SHA-256, read-only, never changed."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from wattwitness.model.errors import BenchInvalid, FileNotReadable, FileTooLarge, OutputNotWritable

FOLDER = "originals"
CHUNK_BYTES = 1 << 20
MOST_BYTES = 1 << 30
"""Several times more than the largest recording that can be read."""

UNFIT = re.compile(r"[/\\\x00-\x1f\x7f]")
"""Signs that some system takes for a path, or that no name can be shown with."""

ENDING = re.compile(r"(\.[A-Za-z0-9]{1,10}){1,2}$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """One kept file: the SHA-256 of its bytes, the name it came with (without folders), and its size."""

    sha256: str
    file_name: str
    size_bytes: int


def original_path(bench: Path, sha256: str, file_name: str) -> Path:
    """Where the bytes lie. Only the ending of the name it came with is used, and only letters and digits of it."""
    ending = ENDING.search(file_name)
    return bench / FOLDER / sha256[:2] / f"{sha256}{ending.group(0).lower() if ending else ''}"


def keep(bench: Path, source: Path) -> Original:
    """Copy ``source`` into the bench unless its bytes are there, and come back when the disk has them.

    Raises FileNotReadable, FileTooLarge, OutputNotWritable; nothing half-written bears an original's name then.
    """
    handle, name = _new_part(bench)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            sha256, size = _copy(source, file)
            file.flush()
            os.fsync(file.fileno())
        path = original_path(bench, sha256, _plain_name(source))
        if not (path.is_file() and sha256_of(path) == sha256):
            path.parent.mkdir(exist_ok=True)
            part.chmod(0o444)
            part.replace(path)
            _to_disk(path.parent)
            _to_disk(path.parent.parent)
    except OSError as error:
        raise _not_writable(bench, error) from error
    finally:
        part.unlink(missing_ok=True)
    return Original(sha256=sha256, file_name=_plain_name(source), size_bytes=size)


def check_original(bench: Path, original: Original) -> None:
    """Raises BenchInvalid where the bytes are missing or are no longer those that were kept."""
    path = original_path(bench, original.sha256, original.file_name)
    says = None
    if not path.is_file():
        says = "is missing"
    elif sha256_of(path) != original.sha256:
        says = "is no longer what was kept"
    if says is not None:
        raise BenchInvalid(
            f"The original of “{original.file_name}” {says}.",
            where=str(path),
            hint="Add the file again from where it came from, or put the bench back from a copy.",
        )


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, read a piece at a time."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _plain_name(source: Path) -> str:
    return UNFIT.sub("_", source.name.encode(errors="replace").decode())


def _new_part(bench: Path) -> tuple[int, str]:
    try:
        (bench / FOLDER).mkdir(exist_ok=True)
        return tempfile.mkstemp(prefix=".part-", dir=bench / FOLDER)
    except OSError as error:
        raise _not_writable(bench, error) from error


def _copy(source: Path, out: BinaryIO) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    try:
        file = source.open("rb")
    except OSError as error:
        raise FileNotReadable(
            f"It cannot be read: {error.strerror}.", where=str(source), hint="Check that you may read the file."
        ) from error
    with file:
        while piece := file.read(CHUNK_BYTES):
            digest.update(piece)
            size += len(piece)
            if size > MOST_BYTES:
                raise FileTooLarge(
                    "It is larger than any recording of a ride.", where=str(source), hint="Add the recording alone."
                )
            out.write(piece)
    return digest.hexdigest(), size


def _to_disk(folder: Path) -> None:
    """A new name is safe only when its folder is on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _not_writable(bench: Path, error: OSError) -> OutputNotWritable:
    return OutputNotWritable(
        f"The bench cannot be written: {error.strerror or error}. What it held before is as it was.",
        where=str(bench),
        hint="Check that the disk is not full and that you may write there, then give the same command again.",
    )
