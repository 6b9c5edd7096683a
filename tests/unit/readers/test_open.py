"""Opening: whatever is no recording is refused in a sentence a tester understands; and no file is ever altered."""

from __future__ import annotations

import gzip
import hashlib
import os
import tracemalloc
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.unit.readers.fit_bytes import START, fit_file, powers
from tests.unit.readers.reading import read_bytes_as, slugs
from wattwitness.model.errors import (
    CorruptFile,
    EmptyFile,
    FileMissing,
    FileNotReadable,
    FileTooLarge,
    IsDirectory,
    PartUnknown,
    UnknownFormat,
    WattwitnessError,
)
from wattwitness.model.recording import ChannelName
from wattwitness.readers import open as opening
from wattwitness.readers.open import read_one, read_recordings, split_part

RIDE = fit_file(powers(range(100, 160)))
TWO = fit_file(powers([200] * 30)) + fit_file(powers([250] * 30, start=START + 5000))
GIBIBYTE = 1 << 30


def refusal(path: Path, kind: type[WattwitnessError]) -> WattwitnessError:
    """Read what must be refused, and check that the refusal says what, where and what to do."""
    with pytest.raises(kind) as caught:
        read_recordings(path)
    error = caught.value
    assert error.what.endswith(".")
    assert error.hint.endswith(".")
    assert error.where
    assert "Traceback" not in error.what
    return error


def empty(folder: Path) -> Path:
    path = folder / "ride.fit"
    path.touch()
    return path


def blank(folder: Path) -> Path:
    path = folder / "ride.csv"
    path.write_bytes(b"\xef\xbb\xbf \r\n\t\n" * 20_000)
    return path


def zeros(folder: Path) -> Path:
    path = folder / "ride.fit"
    path.write_bytes(bytes(300_000))
    return path


def missing(folder: Path) -> Path:
    return folder / "no such ride.fit"


def below_a_file(folder: Path) -> Path:
    (folder / "file").write_bytes(RIDE)
    return folder / "file" / "ride.fit"


def name_with_nul(folder: Path) -> Path:
    return folder / "ride\0.fit"


def name_too_long(folder: Path) -> Path:
    return folder / ("r" * 5000)


def symlink_loop(folder: Path) -> Path:
    (folder / "a.fit").symlink_to(folder / "b.fit")
    (folder / "b.fit").symlink_to(folder / "a.fit")
    return folder / "a.fit"


def dangling_link(folder: Path) -> Path:
    (folder / "a.fit").symlink_to(folder / "gone.fit")
    return folder / "a.fit"


def pipe(folder: Path) -> Path:
    os.mkfifo(folder / "ride.fit")
    return folder / "ride.fit"


def device(_folder: Path) -> Path:
    return Path("/dev/zero")


def huge(folder: Path) -> Path:
    path = folder / "ride.fit"
    with path.open("wb") as file:
        file.write(RIDE)
        file.truncate(2 * GIBIBYTE)
    return path


def huge_link(folder: Path) -> Path:
    (folder / "link.fit").symlink_to(huge(folder))
    return folder / "link.fit"


@pytest.mark.parametrize(
    ("make", "kind"),
    [
        (empty, EmptyFile),
        (blank, EmptyFile),
        (zeros, EmptyFile),
        (missing, FileMissing),
        (dangling_link, FileMissing),
        (name_with_nul, FileMissing),
        (below_a_file, FileNotReadable),
        (name_too_long, FileNotReadable),
        (symlink_loop, FileNotReadable),
        (pipe, FileNotReadable),
        (device, FileNotReadable),
        (huge, FileTooLarge),
        (huge_link, FileTooLarge),
    ],
    ids=lambda value: value.__name__ if callable(value) else str(value),
)
def test_what_is_no_recording_is_refused_in_a_sentence(
    tmp_path: Path, make: Callable[[Path], Path], kind: type[WattwitnessError]
) -> None:
    path = make(tmp_path)
    tracemalloc.start()
    try:
        refusal(path, kind)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 8e6


def test_folder_is_refused(tmp_path: Path) -> None:
    assert "folder" in refusal(tmp_path, IsDirectory).what


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read every file")
def test_file_without_permission_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    path.write_bytes(RIDE)
    path.chmod(0)
    refusal(path, FileNotReadable)


def test_refusal_of_the_operating_system_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_arguments: object) -> int:
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "ride.fit"
    path.write_bytes(RIDE)
    monkeypatch.setattr(os, "open", refuse)
    assert "Permission denied" in refusal(path, FileNotReadable).what


def test_file_of_a_size_not_told_beforehand_is_read_in_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Some file systems state a size of zero for files that hold something."""
    real = os.fstat
    monkeypatch.setattr(opening, "LIMIT_BYTES", len(RIDE))
    path = tmp_path / "ride.fit"
    path.write_bytes(RIDE)

    def without_size(descriptor: int) -> os.stat_result:
        fields = list(real(descriptor)[:10])
        fields[6] = 0
        return os.stat_result(fields)

    monkeypatch.setattr(os, "fstat", without_size)
    assert read_recordings(path)[0].time_s.size == 60
    monkeypatch.setattr(opening, "LIMIT_BYTES", len(RIDE) - 1)
    refusal(path, FileTooLarge)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"PK\x03\x04" + bytes(range(1, 200)), "ZIP"),
        (b"%PDF-1.7 \xde\xad\xbe\xef\x00\x01\x02", "PDF"),
        (b"<!DOCTYPE html><html><body>please log in</body></html>", "web page"),
        (b"<?xml version='1.0'?><workout><step/></workout>", "<workout>"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "picture"),
        (np.random.default_rng(3).integers(128, 256, 5000, dtype=np.uint8).tobytes(), "no format"),
    ],
)
def test_foreign_content_is_named_where_it_can_be(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "ride.fit"
    path.write_bytes(content)
    error = refusal(path, UnknownFormat)
    assert words in error.what
    assert "FIT" in error.hint


@pytest.mark.parametrize(
    ("name", "noticed"),
    [("ride.fit", False), ("RIDE.FIT", False), ("ride.2024.fit", False), ("ride.csv", True), ("ride", True)],
)
def test_wrong_ending_is_read_all_the_same_and_said(tmp_path: Path, name: str, noticed: bool) -> None:
    (recording,) = read_bytes_as(tmp_path, RIDE, name)
    assert recording.time_s.size == 60
    assert recording.source.format_name == "fit"
    assert ("unexpected_suffix" in slugs(recording)) is noticed


def test_source_is_the_file_as_it_lies_on_the_disk_and_the_file_stays_as_it_is(tmp_path: Path) -> None:
    folder = tmp_path / "some folder"
    folder.mkdir()
    packed = gzip.compress(RIDE)
    path = folder / "ride.fit.gz"
    path.write_bytes(packed)
    path.chmod(0o444)
    before = path.stat()
    (recording,) = read_recordings(path)
    source = recording.source
    assert (source.file_name, source.size_bytes) == ("ride.fit.gz", len(packed))
    assert source.sha256 == hashlib.sha256(packed).hexdigest()
    assert path.read_bytes() == packed
    assert (path.stat().st_mtime_ns, path.stat().st_mode) == (before.st_mtime_ns, before.st_mode)
    assert [entry.name for entry in folder.iterdir()] == ["ride.fit.gz"]


@pytest.mark.parametrize("name", ["ride.fit.gz", "ride.gz", "ride.fit"])
def test_compressed_file_is_unpacked(tmp_path: Path, name: str) -> None:
    (recording,) = read_bytes_as(tmp_path, gzip.compress(RIDE), name)
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], np.arange(100, 160))


def test_compressed_file_in_several_members_is_unpacked_whole(tmp_path: Path) -> None:
    packed = gzip.compress(RIDE[:200]) + gzip.compress(RIDE[200:])
    (recording,) = read_bytes_as(tmp_path, packed, "ride.fit.gz")
    assert recording.time_s.size == 60
    assert recording.notices == ()


def test_bomb_of_compression_is_refused_within_the_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "LIMIT_BYTES", 5_000_000)
    path = tmp_path / "ride.fit.gz"
    path.write_bytes(gzip.compress(bytes(200_000_000), compresslevel=1))
    tracemalloc.start()
    try:
        refusal(path, FileTooLarge)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 20_000_000


def test_compressed_file_cut_off_or_damaged_keeps_what_comes_before(tmp_path: Path) -> None:
    ride = fit_file(powers(np.random.default_rng(1).integers(100, 400, 3000).tolist()))
    packed = gzip.compress(ride)
    (cut,) = read_bytes_as(tmp_path, packed[: len(packed) // 2], "cut.fit.gz")
    assert 500 < cut.time_s.size < 3000
    assert {"compressed_damaged", "truncated"} <= set(slugs(cut))
    damaged = bytearray(packed)
    damaged[len(packed) // 2 :] = b"\xff" * (len(packed) - len(packed) // 2)
    (salvaged,) = read_bytes_as(tmp_path, bytes(damaged), "damaged.fit.gz")
    assert 500 < salvaged.time_s.size < 3000
    assert "compressed_damaged" in slugs(salvaged)


def test_compressed_file_of_which_nothing_is_left_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit.gz"
    path.write_bytes(b"\x1f\x8b\x08" + b"\xff" * 40)
    refusal(path, CorruptFile)


def test_wrong_checksum_of_a_compressed_file_is_said(tmp_path: Path) -> None:
    packed = bytearray(gzip.compress(RIDE))
    packed[-6] ^= 0xFF
    (recording,) = read_bytes_as(tmp_path, bytes(packed), "ride.fit.gz")
    assert recording.time_s.size == 60
    assert "compressed_damaged" in slugs(recording)


def test_packed_limit_matches_zlib() -> None:
    """The bound rests on zlib's max_length; a bare decompress call would have none."""
    unpacker = zlib.decompressobj(wbits=31)
    assert len(unpacker.decompress(gzip.compress(bytes(10_000)), 100)) == 100


def test_part_is_split_off_unless_a_file_of_that_name_exists(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    path.write_bytes(RIDE)
    assert split_part(f"{path}#2") == (path, 2)
    assert split_part(str(path)) == (path, None)
    assert split_part(f"{path}#two") == (Path(f"{path}#two"), None)
    literal = tmp_path / "ride.fit#2"
    literal.write_bytes(RIDE)
    assert split_part(str(literal)) == (literal, None)


def test_one_part_of_several_is_read_and_an_unsaid_or_unknown_one_refused(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    path.write_bytes(TWO)
    assert read_one(f"{path}#2").channels[ChannelName.POWER][0] == 250
    assert read_one(f"{path}#1").channels[ChannelName.POWER][0] == 200
    for argument in (f"{path}", f"{path}#3", f"{path}#0"):
        with pytest.raises(PartUnknown) as caught:
            read_one(argument)
        assert "2 recordings" in caught.value.what
        assert "ride.fit#1" in caught.value.hint
        assert "ride.fit#2" in caught.value.hint
    path.write_bytes(RIDE)
    assert read_one(path).time_s.size == 60
    assert read_one(f"{path}#1").time_s.size == 60
    with pytest.raises(PartUnknown):
        read_one(f"{path}#2")
