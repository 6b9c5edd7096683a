"""FIT recordings: channels, power sources, parts, pauses, dates. Bytes made here; all names are invented."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from tests.unit.readers.fit_bytes import (
    APPLICATION,
    DEVICE_INFO,
    ENUM,
    RECORD,
    SINT8,
    START,
    STRING,
    UINT8,
    UINT16,
    UINT32,
    UNIX_START,
    data,
    definition,
    developer_field,
    file_id,
    fit_file,
    powers,
    simple,
    timer,
)
from tests.unit.readers.reading import read_bytes_as, slugs
from wattwitness.model.recording import ChannelName, Pause
from wattwitness.readers.fit_channels import is_power, left_share
from wattwitness.readers.fit_decode import DeveloperField


def with_developer_power(name: bytes, units: bytes, other: list[int], native: list[int] | None = None) -> bytes:
    """Records with native power (or none) and an application's field."""
    native_fields = [(253, 4, UINT32)] + ([] if native is None else [(7, 2, UINT16)])
    body = APPLICATION + developer_field(5, name, units)
    body += definition(0, RECORD, native_fields, developer=[(5, 2, 0)])
    for i, value in enumerate(other):
        row = [START + i] + ([] if native is None else [native[i]]) + [value]
        body += data(0, "I" + "H" * (len(row) - 1), *row)
    return fit_file(body)


@pytest.mark.parametrize("order", ["<", ">"])
def test_both_byte_orders_and_dates_in_utc(tmp_path: Path, order: str) -> None:
    (recording,) = read_bytes_as(tmp_path, fit_file(powers([100, 200, 300], order=order)))
    np.testing.assert_array_equal(recording.time_s, UNIX_START + np.arange(3))
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [100, 200, 300])
    np.testing.assert_array_equal(recording.channels[ChannelName.CADENCE], [80, 80, 80])
    assert recording.dated
    assert recording.source.format_name == "fit"
    assert (recording.source.part, recording.source.part_label) == (1, "")


def test_two_power_sources_give_two_recordings_and_neither_overwrites_the_other(tmp_path: Path) -> None:
    """The application's field is called like the native one: a careless reader lets it overwrite the native power."""
    native, other = [100, 110, 120, 130], [90, 99, 108, 117]
    recordings = read_bytes_as(tmp_path, with_developer_power(b"power", b"watts", other, native))
    assert [r.source.part for r in recordings] == [1, 2]
    assert [r.source.part_label for r in recordings] == ["native power", "developer field “power”"]
    np.testing.assert_array_equal(recordings[0].channels[ChannelName.POWER], native)
    np.testing.assert_array_equal(recordings[1].channels[ChannelName.POWER], other)


def test_application_power_alone_is_the_power_and_is_said(tmp_path: Path) -> None:
    (recording,) = read_bytes_as(tmp_path, with_developer_power(b"Console Power", b"W", [90, 99, 108]))
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [90, 99, 108])
    assert "power_of_application" in slugs(recording)
    assert recording.source.part_label == ""


def test_application_power_that_repeats_the_native_one_is_no_second_meter(tmp_path: Path) -> None:
    same = [100, 110, 120]
    (recording,) = read_bytes_as(tmp_path, with_developer_power(b"power", b"watts", same, same))
    assert "power_repeated" in slugs(recording)


def test_target_power_is_not_taken_for_a_meter(tmp_path: Path) -> None:
    (recording,) = read_bytes_as(tmp_path, with_developer_power(b"Target Power", b"W", [1, 2, 3], [100, 110, 120]))
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [100, 110, 120])
    assert "field_not_used" in slugs(recording)


@pytest.mark.parametrize(
    ("name", "units", "native_field", "expected"),
    [
        ("power", "watts", None, True),
        ("BikePower", "W", None, True),
        ("pedal_power", "", None, True),
        ("anything", "", 7, True),
        ("power", "watts", 4, False),
        ("leftPower", "W", None, False),
        ("Power Balance", "", None, False),
        ("AvgPower", "watts", None, False),
        ("power 30s", "W", None, False),
        ("power", "%", None, False),
        ("Heat", "W", None, False),
        ("cadence", "rpm", None, False),
    ],
)
def test_which_application_fields_are_power(name: str, units: str, native_field: int | None, expected: bool) -> None:
    field = DeveloperField(key=1000, name=name, units=units, native_field=native_field, scale=1.0, offset=0.0)
    assert is_power(field) is expected


def test_scale_and_offset_of_an_application_field_are_used(tmp_path: Path) -> None:
    body = APPLICATION + developer_field(5, b"power", b"W", extra=[(6, UINT8, 10), (7, SINT8, -5)])
    body += definition(0, RECORD, [(253, 4, UINT32)], developer=[(5, 2, 0)])
    body += b"".join(data(0, "IH", START + i, 2000 + 10 * i) for i in range(3))
    (recording,) = read_bytes_as(tmp_path, fit_file(body))
    np.testing.assert_allclose(recording.channels[ChannelName.POWER], [205, 206, 207])


def test_balance_is_the_left_share_where_the_right_is_flagged_and_missing_where_the_side_is_unknown() -> None:
    """left_right_balance: bits 0-6 the share in percent, bit 7 set where it is the right side's (FIT profile; read from
    fitdecode's table of left_right_balance: mask 0x7F, right 0x80)."""
    share, notices = left_share(np.array([0x80 | 53, 0x80, 0x80 | 100, 53, np.nan]))
    np.testing.assert_array_equal(share, [47, 100, 0, np.nan, np.nan])
    assert [notice.samples for notice in notices] == [1]


def test_fractional_cadence_and_speed_and_temperature_have_their_units(tmp_path: Path) -> None:
    fields = [(253, 4, UINT32), (4, 1, UINT8), (53, 1, UINT8), (73, 4, UINT32), (13, 1, SINT8), (30, 1, UINT8)]
    body = definition(0, RECORD, fields)
    body += data(0, "IBBIbB", START, 90, 64, 8250, -3, 0x80 | 48)
    body += data(0, "IBBIbB", START + 1, 91, 255, 8300, 20, 0x80 | 51)
    (recording,) = read_bytes_as(tmp_path, fit_file(body))
    channels = recording.channels
    np.testing.assert_allclose(channels[ChannelName.CADENCE], [90.5, 91])
    np.testing.assert_allclose(channels[ChannelName.SPEED], [8.25, 8.3])
    np.testing.assert_allclose(channels[ChannelName.TEMPERATURE], [-3, 20])
    np.testing.assert_allclose(channels[ChannelName.LEFT_SHARE], [52, 49])


def test_invalid_values_are_missing_and_coasting_is_zero(tmp_path: Path) -> None:
    body = definition(0, RECORD, [(253, 4, UINT32), (7, 2, UINT16), (4, 1, UINT8), (3, 1, UINT8)])
    rows = [(0, 0, 120), (0xFFFF, 0xFF, 0xFF), (200, 90, 0), (47_000, 90, 130)]
    body += b"".join(data(0, "IHBB", START + i, *row) for i, row in enumerate(rows))
    (recording,) = read_bytes_as(tmp_path, fit_file(body))
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [0, np.nan, 200, np.nan])
    np.testing.assert_array_equal(recording.channels[ChannelName.CADENCE], [0, np.nan, 90, 90])
    np.testing.assert_array_equal(recording.channels[ChannelName.HEART_RATE], [120, np.nan, np.nan, 130])
    assert slugs(recording)["implausible_values"] == 1
    assert slugs(recording)["power_missing"] == 2


def test_timer_pauses_are_kept_and_the_final_stop_is_none(tmp_path: Path) -> None:
    first, second = powers([200] * 60), powers([220] * 60, start=START + 100)
    body = timer(START, 0) + first + timer(START + 60, 4) + timer(START + 99, 0) + second + timer(START + 160, 4)
    (recording,) = read_bytes_as(tmp_path, fit_file(body))
    assert recording.pauses == (Pause(start_s=UNIX_START + 60, end_s=UNIX_START + 99),)


def test_two_activities_in_a_chain_are_two_recordings(tmp_path: Path) -> None:
    first = fit_file(file_id() + powers([200] * 30))
    second = fit_file(file_id(created=START + 5000) + powers([250] * 30, start=START + 5000))
    recordings = read_bytes_as(tmp_path, first + second)
    assert [r.source.part for r in recordings] == [1, 2]
    assert recordings[0].source.part_label != recordings[1].source.part_label
    assert recordings[1].time_s[0] == UNIX_START + 5000


def test_a_section_that_goes_on_with_the_same_activity_is_joined(tmp_path: Path) -> None:
    first = fit_file(file_id() + powers([200] * 30))
    second = fit_file(file_id() + powers([250] * 30, start=START + 30))
    (recording,) = read_bytes_as(tmp_path, first + second)
    np.testing.assert_array_equal(recording.time_s, UNIX_START + np.arange(60))
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [200] * 30 + [250] * 30)


def test_a_section_without_samples_is_said_on_the_other(tmp_path: Path) -> None:
    empty = fit_file(file_id() + definition(0, RECORD, [(253, 4, UINT32)]) + data(0, "I", START))
    (recording,) = read_bytes_as(tmp_path, fit_file(powers([200] * 5)) + empty)
    assert "section_without_samples" in slugs(recording)


def test_a_clock_that_was_never_set_gives_no_date(tmp_path: Path) -> None:
    """Time stamps below 0x10000000 are seconds since the recorder was switched on (FIT profile, date_time)."""
    body = timer(1000, 0) + powers([200] * 60, start=1000) + timer(1060, 4) + timer(1080, 0)
    body += powers([200] * 60, start=1080)
    (recording,) = read_bytes_as(tmp_path, fit_file(body))
    assert not recording.dated
    assert recording.time_s[0] == 0
    assert recording.pauses == (Pause(start_s=60, end_s=80),)
    assert "undated" in slugs(recording)


def test_power_meter_is_named_before_the_recorder_and_only_where_there_is_power(tmp_path: Path) -> None:
    def device(index: int, kind: int, source: int, name: bytes, serial: int) -> bytes:
        values: list[tuple[int, int, int | bytes]] = [
            (253, UINT32, START),
            (0, UINT8, index),
            (1, UINT8, kind),
            (25, ENUM, source),
            (5, UINT16, 312),
            (3, 0x8C, struct.pack("<I", serial)),
            (27, STRING, name + b"\0"),
        ]
        return simple(DEVICE_INFO, values)

    devices = device(0, 0, 5, b"Laboratory logger", 11) + device(3, 11, 1, b"Test \x1b[31mpedals", 42)
    (with_power,) = read_bytes_as(tmp_path, fit_file(file_id() + devices + powers([200] * 5)))
    assert with_power.meter.product == "Test [31mpedals"
    assert (with_power.meter.firmware, with_power.meter.serial) == ("3.12", "42")
    heart = definition(0, RECORD, [(253, 4, UINT32), (3, 1, UINT8)])
    heart += b"".join(data(0, "IB", START + i, 120) for i in range(5))
    (without,) = read_bytes_as(tmp_path, fit_file(file_id() + devices + heart))
    assert without.meter.product == "Laboratory logger"
