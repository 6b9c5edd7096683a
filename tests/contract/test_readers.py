"""What holds for every registered format: one sniffer claims each sample, and no other does."""

from __future__ import annotations

import pytest

from tests.unit.readers.reading import RECORDINGS, needs_recordings
from tests.unit.readers.samples import SAMPLES
from wattwitness.readers.reader import FileHead, OpenedFile, Reader
from wattwitness.readers.registry import READERS

REAL_FORMATS = {".fit": "fit", ".tcx": "tcx", ".csv": "csv"}


def claims(content: bytes, name: str) -> list[str]:
    head = FileHead(file_name=name, first_bytes=content[:65536], complete=len(content) <= 65536)
    return [reader.name for reader in READERS if reader.sniff(head)]


def test_every_format_has_samples_and_every_sample_a_format() -> None:
    assert set(SAMPLES) == set(READERS.names())


@pytest.mark.parametrize("reader", list(READERS), ids=lambda reader: reader.name)
def test_reader_describes_itself(reader: Reader) -> None:
    assert reader.name.isidentifier()
    assert reader.title
    assert reader.suffixes
    assert all(suffix.startswith(".") and suffix == suffix.lower() for suffix in reader.suffixes)
    assert 0 < reader.limit_bytes <= 200 * 1024 * 1024


@pytest.mark.parametrize(
    ("name", "label", "content"),
    [(name, label, content) for name, samples in SAMPLES.items() for label, content in samples.items()],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_sample_is_claimed_by_its_own_reader_alone(name: str, label: str, content: bytes) -> None:
    assert claims(content, "file") == [name], label


@pytest.mark.parametrize(
    ("name", "content"),
    [(name, content) for name, samples in SAMPLES.items() for content in samples.values()],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_sample_gives_sound_recordings(name: str, content: bytes) -> None:
    opened = OpenedFile(file_name="file", sha256="0" * 64, size_bytes=len(content), content=content)
    recordings = READERS.get(name).read(opened)
    assert [recording.source.part for recording in recordings] == list(range(1, len(recordings) + 1))
    for recording in recordings:
        assert recording.source.format_name == name
        assert recording.source.file_name == "file"
        assert recording.source.sha256 == "0" * 64
        assert any(recording.has(channel) for channel in recording.channels)
        assert all(notice.about == "file" for notice in recording.notices)


@pytest.mark.parametrize(
    "content",
    [b"", b"\0" * 100, b"\x0e", b"<", b"<?xml version='1.0'?>", b"hello", b"\xff" * 50, b"{}", b"<html></html>"],
    ids=repr,
)
def test_nothing_that_is_no_recording_is_claimed_twice(content: bytes) -> None:
    assert len(claims(content, "file")) <= 1


@needs_recordings
def test_real_files_are_claimed_by_one_reader() -> None:
    for path in sorted(RECORDINGS.iterdir()):
        expected = REAL_FORMATS.get(path.suffix)
        if expected in READERS.names():
            assert claims(path.read_bytes(), path.name) == [expected], path.name
