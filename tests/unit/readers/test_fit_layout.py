"""The layout of FIT files: checksum, sections, what damage costs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fitdecode.utils import compute_crc
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.readers.fit_bytes import START, fit_file, powers
from tests.unit.readers.reading import read_bytes_as, slugs
from wattwitness.model.errors import CorruptFile, NoSamples
from wattwitness.model.recording import ChannelName
from wattwitness.readers import fit
from wattwitness.readers.fit_sections import fit_crc, split_sections


def test_checksum_gives_the_published_check_value() -> None:
    """CRC-16/ARC of "123456789" is 0xBB3D (catalogue of parametrised CRC algorithms; from memory)."""
    assert fit_crc(b"123456789") == 0xBB3D


@given(st.binary(min_size=1, max_size=400))
def test_checksum_agrees_with_fitdecode(content: bytes) -> None:
    assert fit_crc(content) == compute_crc(content)


@pytest.mark.parametrize("size", [65_535, 65_536, 65_537, 150_001])
def test_checksum_agrees_with_fitdecode_across_blocks(size: int) -> None:
    content = np.random.default_rng(size).integers(0, 256, size, dtype=np.uint8).tobytes()
    assert fit_crc(content) == compute_crc(content)


@pytest.mark.parametrize("long_header", [True, False])
def test_sound_file_has_one_section_and_no_notice(long_header: bool) -> None:
    content = fit_file(powers([200] * 3), long_header=long_header)
    sections, outside = split_sections(content)
    assert [(s.body_start, s.body_end, s.notices) for s in sections] == [
        (14 if long_header else 12, len(content) - 2, ())
    ]
    assert outside == ()


def test_wrong_checksum_is_said_and_the_samples_kept(tmp_path: Path) -> None:
    (recording,) = read_bytes_as(tmp_path, fit_file(powers([200] * 5), bad_crc=True))
    assert recording.time_s.size == 5
    assert "checksum_wrong" in slugs(recording)


def test_wrong_header_checksum_is_said(tmp_path: Path) -> None:
    content = bytearray(fit_file(powers([200] * 5)))
    content[12] ^= 0xFF
    (recording,) = read_bytes_as(tmp_path, bytes(content))
    assert recording.time_s.size == 5
    assert "header_checksum_wrong" in slugs(recording)


def test_truncation_in_the_middle_of_a_record_keeps_the_records_before(tmp_path: Path) -> None:
    content = fit_file(powers(range(100, 200)))
    (recording,) = read_bytes_as(tmp_path, content[: len(content) - 2 - 3])
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], np.arange(100, 199))
    assert "truncated" in slugs(recording)


def test_file_that_was_never_closed_is_read_to_its_end(tmp_path: Path) -> None:
    """A recorder that lost power leaves a header that states a length of zero, and no checksum."""
    content = fit_file(powers([210] * 50), size=0)
    (recording,) = read_bytes_as(tmp_path, content[:-2])
    assert recording.time_s.size == 50
    assert "never_closed" in slugs(recording)


def test_header_that_states_an_earlier_length_does_not_cost_what_follows(tmp_path: Path) -> None:
    body = powers([210] * 50)
    (recording,) = read_bytes_as(tmp_path, fit_file(body, size=len(body) - 8 * 20))
    assert recording.time_s.size == 50
    assert "checksum_wrong" in slugs(recording)


def test_damage_in_the_first_section_does_not_cost_the_second(tmp_path: Path) -> None:
    first = bytearray(fit_file(powers([100] * 20)))
    first[14 + 5] = 200  # a definition of 200 fields swallows the records
    second = fit_file(powers([300] * 20, start=START + 10_000))
    recordings = read_bytes_as(tmp_path, bytes(first) + second)
    np.testing.assert_array_equal(recordings[-1].channels[ChannelName.POWER], np.full(20, 300.0))


def test_corrupt_header_of_a_second_section_is_said_on_the_first(tmp_path: Path) -> None:
    second = bytearray(fit_file(powers([300] * 20)))
    second[9] = 0
    (recording,) = read_bytes_as(tmp_path, fit_file(powers([100] * 20)) + bytes(second))
    assert recording.time_s.size == 20
    assert "unreadable_bytes" in slugs(recording)


def test_padding_with_zeros_is_no_damage(tmp_path: Path) -> None:
    (recording,) = read_bytes_as(tmp_path, fit_file(powers([100] * 20)) + bytes(500))
    assert recording.notices == ()


def test_damage_that_leaves_nothing_is_an_error_that_says_so(tmp_path: Path) -> None:
    content = fit_file(b"\x05" * 40)
    with pytest.raises(CorruptFile) as caught:
        read_bytes_as(tmp_path, content)
    assert "no sample" in caught.value.what
    assert caught.value.where == "ride.fit"


def test_file_without_records_holds_no_samples(tmp_path: Path) -> None:
    from tests.unit.readers.fit_bytes import file_id

    with pytest.raises(NoSamples):
        read_bytes_as(tmp_path, fit_file(file_id()))


def test_file_of_more_messages_than_a_ride_has_is_read_up_to_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fit, "MESSAGE_LIMIT", 54)
    (recording,) = read_bytes_as(tmp_path, fit_file(powers([200] * 60)))
    assert recording.time_s.size == 50 + 1  # the definition counts its three fields and itself
    assert "too_many_samples" in slugs(recording)


def test_file_of_more_sections_than_a_ride_has_is_read_up_to_the_limit(tmp_path: Path) -> None:
    recordings = read_bytes_as(tmp_path, fit_file(powers([200] * 3)) * 70)
    assert len(recordings) == 64
    assert "too_many_parts" in slugs(recordings[0])
