"""A whole bench as one file, and a bench made from such a file.

The file is an ordinary zip: ``manifest.json``, which holds the catalogue, and every original under the path it has on
the bench. A bench is rebuilt from it by the program's own steps. Every member must be one that the manifest expects, of
the size and hash it names; anything else refuses the whole file, before or while it is unpacked, and what was unpacked
is thrown away. An unchanged bench always gives the same bytes.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from sqlalchemy.exc import DBAPIError

from wattwitness.bench.catalogue import catalogue, new_bench
from wattwitness.bench.manifest import TABLES, NewerManifest, NoManifest, Rows, manifest_text, rows_of_manifest
from wattwitness.bench.originals import CHUNK_BYTES, MOST_BYTES, Original, original_path
from wattwitness.bench.rides import originals_of
from wattwitness.model.errors import ArchiveInvalid, BenchInvalid, BenchNewer, OutputExists, OutputNotWritable

MANIFEST = "manifest.json"
MOST_MANIFEST_BYTES = 16 << 20
"""Rides by the ten thousand; a text made to do harm takes some thirty times its size in memory when it is read."""

MOST_INDEX_BYTES = 256 << 20
"""The list of members that a zip ends with: far more than any bench needs, and little enough to read."""

SPARE_BYTES = 64 << 20
LONG_AGO = (1980, 1, 1, 0, 0, 0)
READ_ONLY_FILE = (stat.S_IFREG | 0o444) << 16
DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, struct.error)
Progress = Callable[[str], None]


def write_archive(bench: Path, path: Path, *, version: str, replace: bool, progress: Progress) -> int:
    """Write the bench as it is at this moment; return how many originals it holds.

    Raises OutputExists, OutputNotWritable, BenchInvalid where an original is missing or altered, and what ``catalogue``
    raises; a file that stood there is replaced only by a whole one.
    """
    _refuse_output(bench, path, replace=replace)
    with catalogue(bench) as connection:
        text, originals = manifest_text(connection, version=version), originals_of(connection)
    _check_own(bench, text)
    try:
        with _whole_file(path) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(_member(MANIFEST), text.encode())
            for done, original in enumerate(originals, start=1):
                _pack(archive, bench, original)
                progress(f"packed {done} of {len(originals)} recordings")
    except OSError as error:
        raise OutputNotWritable(
            f"The bench cannot be exported: {error.strerror or error}. The bench is as it was.",
            where=str(path),
            hint="Check that the folder exists, that you may write there, and that the disk is not full.",
        ) from error
    return len(originals)


def read_archive(path: Path, folder: Path, *, progress: Progress) -> int:
    """Make a new bench in ``folder`` from the file; return how many originals it holds.

    Raises ArchiveInvalid, BenchNewer, OutputExists, OutputNotWritable; there is a whole bench afterwards, or none.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputExists(
            "There is something in it already.", where=str(folder), hint="Name a folder that is empty, or a new one."
        )
    try:
        with _reading(path) as archive, _place_beside(folder) as place:
            rows = rows_of_manifest(_manifest(archive).decode())
            originals = [Original(**_without_time(row)) for row in rows["recordings"]]
            _check_members(archive, originals, place)
            new_bench(place)
            for done, original in enumerate(originals, start=1):
                _unpack(archive, place, original)
                progress(f"unpacked {done} of {len(originals)} recordings")
            _rebuild(place, rows)
            if folder.exists():
                folder.rmdir()
            place.rename(folder)
    except NewerManifest as error:
        raise BenchNewer(
            "The bench was exported by a newer version of this program.",
            where=str(path),
            hint="Use the newer version; nothing was written.",
        ) from error
    except NoManifest as error:
        raise _invalid(path, str(error)) from error
    except DAMAGED as error:
        raise _invalid(path, "it is damaged, or no archive at all") from error
    except OSError as error:
        raise OutputNotWritable(
            f"The bench cannot be imported: {error.strerror or error}. Nothing of it was kept.",
            where=str(folder),
            hint="Check that the file is there, that you may write to the folder, and that the disk is not full.",
        ) from error
    return len(originals)


def _refuse_output(bench: Path, path: Path, *, replace: bool) -> None:
    if path.resolve().is_relative_to(bench.resolve()):
        raise OutputExists(
            "The export would stand in the bench itself.", where=str(path), hint="Name a file outside the bench."
        )
    if path.is_dir() or (path.exists() and not replace):
        raise OutputExists(
            "There is something of that name already.",
            where=str(path),
            hint="Give another name, or add --replace to write over a file.",
        )


def _check_own(bench: Path, text: str) -> None:
    """What the import would refuse is not exported: nobody should find out when the bench itself is gone."""
    try:
        if len(text.encode()) > MOST_MANIFEST_BYTES:
            raise NoManifest("its list of contents is far too large")
        rows_of_manifest(text)
    except NoManifest as error:
        raise BenchInvalid(
            f"The bench cannot be exported, since no import would take it: {error}.",
            where=str(bench),
            hint="Put right what is named, then export the bench; copying its folder keeps all of it meanwhile.",
        ) from error


@contextmanager
def _whole_file(path: Path) -> Iterator[IO[bytes]]:
    """A file that takes its name once all of it is on the disk."""
    handle, name = tempfile.mkstemp(prefix=".part-", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _member(name: str) -> zipfile.ZipInfo:
    member = zipfile.ZipInfo(name, date_time=LONG_AGO)
    member.compress_type = zipfile.ZIP_DEFLATED
    member.create_system = 3
    member.external_attr = READ_ONLY_FILE
    return member


def _name_of(original: Original) -> str:
    return original_path(Path(), original.sha256, original.file_name).as_posix()


def _pack(archive: zipfile.ZipFile, bench: Path, original: Original) -> None:
    """Pack one original, and make sure on the way that it is the one that was kept."""
    path = original_path(bench, original.sha256, original.file_name)
    digest, size = hashlib.sha256(), 0
    member = _member(_name_of(original))
    member.file_size = original.size_bytes
    if path.is_file():
        with path.open("rb") as source, archive.open(member, "w") as out:
            while piece := source.read(CHUNK_BYTES):
                digest.update(piece)
                size += len(piece)
                if size > original.size_bytes:
                    break
                out.write(piece)
    if digest.hexdigest() != original.sha256:
        raise BenchInvalid(
            f"The original of “{original.file_name}” is missing, or is no longer what was kept.",
            where=str(path),
            hint="Add the file again from where it came from, or put the bench back from a copy; then export it.",
        )


@contextmanager
def _reading(path: Path) -> Iterator[zipfile.ZipFile]:
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - (1 << 16) - 22))
        tail = file.read()
        found = tail.rfind(b"PK\x05\x06")
        if found < 0 or len(tail) < found + 16:
            raise NoManifest("it is damaged, or no archive at all")
        if struct.unpack_from("<I", tail, found + 12)[0] > MOST_INDEX_BYTES:
            raise NoManifest("its index is far larger than that of any bench")
        file.seek(0)
        with zipfile.ZipFile(file) as archive:
            yield archive


def _manifest(archive: zipfile.ZipFile) -> bytes:
    found = [member for member in archive.infolist() if member.filename == MANIFEST]
    if len(found) != 1:
        raise NoManifest("it has no list of contents, or more than one")
    if found[0].file_size > MOST_MANIFEST_BYTES:
        raise NoManifest("its list of contents is far too large")
    _check_plain(found[0])
    with archive.open(found[0]) as file:
        text = file.read(found[0].file_size + 1)
    if len(text) != found[0].file_size:
        raise NoManifest("its list of contents is not as long as it claims")
    return text


def _check_members(archive: zipfile.ZipFile, originals: Sequence[Original], place: Path) -> None:
    """Every member must be expected, once, plain, and as large as the manifest says; and all must fit on the disk."""
    expected = {_name_of(original): original.size_bytes for original in originals}
    names = [member.filename for member in archive.infolist()]
    if len(set(names)) != len(names) or set(names) != {*expected, MANIFEST}:
        raise NoManifest("it holds other files than its list of contents says")
    for member in archive.infolist():
        _check_plain(member)
        if member.filename != MANIFEST and member.file_size != expected[member.filename]:
            raise NoManifest(f"“{member.filename}” is not as large as its list of contents says")
    if any(size > MOST_BYTES for size in expected.values()):
        raise NoManifest("a recording in it is larger than any that a bench takes")
    needed, free = sum(expected.values()) + SPARE_BYTES, shutil.disk_usage(place).free
    if needed > free:
        raise OutputNotWritable(
            f"The bench needs {needed / 1e6:,.0f} MB, and {free / 1e6:,.0f} MB are free.",
            where=str(place.parent),
            hint="Make room, or name a folder on another disk.",
        )


def _check_plain(member: zipfile.ZipInfo) -> None:
    kind = stat.S_IFMT(member.external_attr >> 16)
    packed_plainly = member.compress_type in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
    if kind not in (0, stat.S_IFREG) or member.flag_bits & 1 or not packed_plainly or member.is_dir():
        raise NoManifest(f"“{member.filename[:100]}” is a link, a folder, encrypted, or packed in an unusual way")


def _unpack(archive: zipfile.ZipFile, place: Path, original: Original) -> None:
    path = original_path(place, original.sha256, original.file_name)
    path.parent.mkdir(parents=True, exist_ok=True)
    digest, left = hashlib.sha256(), original.size_bytes
    with archive.open(_name_of(original)) as source, path.open("xb") as out:
        while piece := source.read(CHUNK_BYTES):
            left -= len(piece)
            if left < 0:
                break
            digest.update(piece)
            out.write(piece)
        out.flush()
        os.fsync(out.fileno())
    if left != 0 or digest.hexdigest() != original.sha256:
        raise NoManifest(f"“{original.file_name}” is not the recording that its list of contents says")
    path.chmod(0o444)


def _rebuild(place: Path, rows: Rows) -> None:
    """Write the rows into the new catalogue, which checks that everything they point to is there."""
    try:
        with catalogue(place, write=True) as connection:
            for table in TABLES:
                for row in rows[table.name]:
                    connection.execute(table.insert().values(**row))
    except (DBAPIError, BenchInvalid) as error:
        raise NoManifest("its list of contents does not fit together") from error


def _without_time(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name != "added_at"}


@contextmanager
def _place_beside(folder: Path) -> Iterator[Path]:
    """An empty folder beside ``folder``, thrown away unless it was given the name; so is one of a killed import."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    place = folder.parent / f".{folder.name}.importing"
    with _alone(place):
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir()
        try:
            yield place
        finally:
            shutil.rmtree(place, ignore_errors=True)


@contextmanager
def _alone(place: Path) -> Iterator[None]:
    """Two imports to one place do not disturb each other: the second is told so."""
    lock = place.with_name(f"{place.name}.lock")
    with lock.open("ab") as file:
        if not _locked(file):
            raise OutputExists(
                "Another import to this place is under way.",
                where=str(place.parent),
                hint="Wait until it is done, or name another folder.",
            )
        try:
            yield
        finally:
            lock.unlink(missing_ok=True)


def _locked(file: IO[bytes]) -> bool:
    """Whether the file is this process's alone; a system without such locks lets two imports fail on their own."""
    try:
        import fcntl
    except ImportError:
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _invalid(path: Path, what: str) -> ArchiveInvalid:
    return ArchiveInvalid(
        f"The file holds no bench that can be taken over: {what}.",
        where=str(path),
        hint="Export the bench again where it is whole; nothing of this file was kept.",
    )
