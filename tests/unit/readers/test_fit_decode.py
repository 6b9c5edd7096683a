"""Decoding FIT bodies: what is passed over must not change what is read. fitdecode's own full reading is the oracle."""

from __future__ import annotations

import math
from pathlib import Path

import fitdecode
import numpy as np
import pytest

from tests.unit.readers.fit_bytes import (
    APPLICATION,
    FLOAT32,
    RECORD,
    START,
    UINT8,
    UINT16,
    UINT32,
    data,
    definition,
    developer_field,
    file_id,
    fit_file,
    powers,
    timer,
)
from tests.unit.readers.reading import RECORDINGS, needs_recordings
from wattwitness.readers.fit_decode import NATIVE_FIELDS, SPEED_PACKED, Stop, decode_section
from wattwitness.readers.fit_sections import split_sections

FIT_FILES = sorted(RECORDINGS.glob("*.fit")) if RECORDINGS.is_dir() else []


def full_reading(content: bytes, field: int) -> list[float]:
    """Raw values of a native field in every record of the first section, by fitdecode alone; NaN where absent."""
    values = []
    with fitdecode.FitReader(
        content, processor=None, check_crc=fitdecode.CrcCheck.DISABLED, error_handling=fitdecode.ErrorHandling.IGNORE
    ) as reader:
        try:
            for frame in reader:
                if frame.frame_type == fitdecode.FIT_FRAME_CRC:
                    break
                if frame.frame_type == fitdecode.FIT_FRAME_DATA and frame.global_mesg_num == RECORD:
                    found = [
                        item.raw_value
                        for item in frame.fields
                        if item.def_num == field
                        and not (item.field_def and item.field_def.is_dev)
                        and not item.is_expanded
                    ]
                    if field == 253 and not found:
                        found = [item.raw_value for item in frame.fields if item.def_num == 253]
                    values.append(math.nan if not found or found[0] is None else found[0])
        except fitdecode.FitError:
            pass
    return values


@needs_recordings
@pytest.mark.parametrize("path", FIT_FILES, ids=lambda path: path.name)
def test_shortened_definitions_read_the_same_as_fitdecode_in_full(path: Path) -> None:
    content = path.read_bytes()
    section = split_sections(content)[0][0]
    decoded = decode_section(content[section.body_start : section.body_end])
    assert decoded.rows > 0
    for field in sorted(NATIVE_FIELDS - {SPEED_PACKED}):
        expected = np.array(full_reading(content, field))
        found = decoded.columns.get(field, np.full(decoded.rows, np.nan))
        np.testing.assert_array_equal(found, expected, err_msg=f"field {field}")


@pytest.mark.parametrize("order", ["<", ">"])
def test_own_bytes_read_the_same_as_fitdecode_in_full(order: str) -> None:
    body = file_id() + powers([0, 150, 65535, 300], order=order) + timer(START + 9, 4)
    content = fit_file(body)
    decoded = decode_section(body)
    for field in (253, 7, 4):
        np.testing.assert_array_equal(decoded.columns[field], np.array(full_reading(content, field)))
    np.testing.assert_array_equal(decoded.columns[7], [0, 150, np.nan, 300])
    assert decoded.events == ((START + 9, 0, 4),)
    assert decoded.stopped is Stop.NONE


def test_time_packed_into_headers_counts_on_from_messages_that_are_passed_over() -> None:
    """A packed time stamp holds five bits and counts on from the last full one, of whatever message (FIT protocol)."""
    lap = definition(1, 19, [(254, 2, UINT16), (253, 4, UINT32), (5, 2, UINT16)])
    body = lap + data(1, "HIH", 0, START, 7)
    body += definition(0, RECORD, [(7, 2, UINT16)])
    for second in (1, 2, 5, 30, 33):
        body += bytes([0x80 | ((START + second) & 0x1F)]) + (100 + second).to_bytes(2, "little")
    decoded = decode_section(body)
    np.testing.assert_array_equal(decoded.columns[253] - START, [1, 2, 5, 30, 33])
    np.testing.assert_array_equal(decoded.columns[7], [101, 102, 105, 130, 133])


def test_developer_field_with_the_number_of_the_time_stamp_is_no_time_stamp() -> None:
    body = APPLICATION + developer_field(253, b"Grade", b"%")
    body += definition(0, RECORD, [(253, 4, UINT32), (7, 2, UINT16)], developer=[(253, 2, 0)])
    body += b"".join(data(0, "IHH", START + i, 100 + i, 9000 + i) for i in range(4))
    decoded = decode_section(body)
    np.testing.assert_array_equal(decoded.columns[253] - START, np.arange(4))
    np.testing.assert_array_equal(decoded.columns[7], 100 + np.arange(4))


def test_developer_field_of_an_odd_size_does_not_throw_off_what_follows() -> None:
    body = APPLICATION + developer_field(1, b"odd", b"", base=UINT32)
    body += definition(0, RECORD, [(253, 4, UINT32), (7, 2, UINT16)], developer=[(1, 3, 0)])
    body += b"".join(data(0, "IH3s", START + i, 100 + i, b"abc") for i in range(4))
    decoded = decode_section(body)
    np.testing.assert_array_equal(decoded.columns[7], 100 + np.arange(4))


def test_undefined_developer_field_costs_nothing_else() -> None:
    body = definition(0, RECORD, [(253, 4, UINT32), (7, 2, UINT16)], developer=[(1, 2, 3)])
    body += b"".join(data(0, "IHH", START + i, 100 + i, 9) for i in range(4))
    np.testing.assert_array_equal(decode_section(body).columns[7], 100 + np.arange(4))


def test_a_local_number_defined_anew_changes_the_layout_from_there_on() -> None:
    body = powers([100, 101]) + definition(0, RECORD, [(4, 1, UINT8), (253, 4, UINT32), (7, 2, UINT16)])
    body += b"".join(data(0, "BIH", 90, START + i, 100 + i) for i in (2, 3))
    decoded = decode_section(body)
    np.testing.assert_array_equal(decoded.columns[7], [100, 101, 102, 103])
    np.testing.assert_array_equal(decoded.columns[4], [80, 80, 90, 90])


def test_power_of_an_unusual_type_is_read_and_of_a_nonsensical_one_is_missing() -> None:
    body = definition(0, RECORD, [(253, 4, UINT32), (7, 4, FLOAT32)]) + data(0, "If", START, 212.5)
    body += definition(1, RECORD, [(253, 4, UINT32), (7, 4, UINT16)]) + data(1, "IHH", START + 1, 1, 2)
    body += definition(2, RECORD, [(253, 4, UINT32), (7, 4, 0x07)]) + data(2, "I4s", START + 2, b"abc\0")
    np.testing.assert_array_equal(decode_section(body).columns[7], [212.5, np.nan, np.nan])


def test_many_rows_are_gathered_in_blocks_without_loss() -> None:
    count = 10_000
    decoded = decode_section(powers([i % 1000 for i in range(count)]))
    np.testing.assert_array_equal(decoded.columns[7], np.arange(count) % 1000)
