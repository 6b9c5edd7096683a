"""FIT as two decoders of other people read it: fitdecode, and fit-tool where it is installed."""

from __future__ import annotations

import struct
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import fitdecode
import numpy as np
import pytest
from fitdecode.utils import compute_crc

from tests.unit.writers.rides import START_UTC_S, awkward, with_channels
from wattwitness.model.errors import DateMissing, NoSamples
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.writers.fit import write_fit
from wattwitness.writers.fit_messages import checksum


def messages(path: Path) -> list[tuple[str, dict[str, Any]]]:
    """Every message of the file, checksums enforced."""
    with fitdecode.FitReader(path, check_crc=fitdecode.CrcCheck.RAISE) as reader:
        return [
            (frame.name, {field.name: field.value for field in frame.fields})
            for frame in reader
            if isinstance(frame, fitdecode.FitDataMessage)
        ]


def records(path: Path) -> list[dict[str, Any]]:
    return [fields for name, fields in messages(path) if name == "record"]


def column(path: Path, name: str) -> list[float]:
    return [np.nan if row.get(name) is None else float(row[name]) for row in records(path)]


def test_checksum_is_the_published_one() -> None:
    # CRC-16, reflected polynomial 0xA001, from 0: check value 0xBB3D (catalogue of CRCs, from memory), and fitdecode.
    assert checksum(b"123456789") == 0xBB3D
    assert checksum(b"") == 0
    rng = np.random.default_rng(1)
    for size in (1, 13, 511, 512, 513, 5000, 70_001):
        content = rng.integers(0, 256, size, dtype=np.uint8).tobytes()
        assert checksum(content) == compute_crc(content)


def test_every_channel_comes_back_through_fitdecode(tmp_path: Path) -> None:
    ride = awkward()
    write_fit(ride, tmp_path / "a.fit")
    rows = records(tmp_path / "a.fit")
    stamps = [row["timestamp"].timestamp() for row in rows]
    assert stamps == ride.time_s.tolist()
    names = {
        ChannelName.POWER: "power",
        ChannelName.CADENCE: "cadence",
        ChannelName.HEART_RATE: "heart_rate",
        ChannelName.TORQUE: "torque",
        ChannelName.RESISTANCE: "resistance",
        ChannelName.SPEED: "speed",
        ChannelName.TEMPERATURE: "temperature",
    }
    for channel, name in names.items():
        np.testing.assert_array_equal(column(tmp_path / "a.fit", name), ride.channels[channel], err_msg=name)
    balance = [row.get("left_right_balance") for row in rows]
    assert balance[7] is None
    shares = [100 - (int(value) & 0x7F) for value in balance if value is not None]
    assert shares == [share for share in ride.channels[ChannelName.LEFT_SHARE].tolist() if share == share]
    assert all(int(value) & 0x80 for value in balance if value is not None)


def test_the_rest_of_an_activity_is_there(tmp_path: Path) -> None:
    write_fit(awkward(), tmp_path / "a.fit")
    found = messages(tmp_path / "a.fit")
    names = [name for name, _ in found if name != "record"]
    assert names[:4] == ["file_id", "device_info", "developer_data_id", "field_description"]
    assert names[4:] == ["event", "event", "event", "event", "lap", "session", "activity"]
    by_name = dict(found)
    assert by_name["file_id"]["type"] == "activity"
    assert by_name["file_id"]["time_created"] == datetime(2026, 1, 12, 10, 0, tzinfo=UTC)
    assert datetime(2026, 1, 12, 10, 0, tzinfo=UTC).timestamp() == START_UTC_S
    assert by_name["device_info"]["product_name"] == "studio bike B"
    assert by_name["device_info"]["software_version"] == 1.04
    assert by_name["session"]["sport"] == "cycling"
    assert by_name["session"]["total_elapsed_time"] == 49.0
    assert by_name["session"]["total_timer_time"] == 19.0
    assert by_name["activity"]["num_sessions"] == 1
    assert "serial_number" not in by_name["file_id"]


def test_timer_events_stand_where_the_ride_paused(tmp_path: Path) -> None:
    write_fit(awkward(), tmp_path / "a.fit")
    found = [(name, fields) for name, fields in messages(tmp_path / "a.fit") if name in ("record", "event")]
    kinds = [fields["event_type"] if name == "event" else "." for name, fields in found]
    assert kinds == ["start", *"." * 10, "stop_all", "start", *"." * 10, "stop_all"]
    stop, start = (fields["timestamp"].timestamp() - START_UTC_S for name, fields in found[11:13])
    assert 9.0 <= stop <= 10.0
    assert 39.0 <= start <= 40.0


def test_parts_of_a_turn_of_cadence_are_kept(tmp_path: Path) -> None:
    ride = with_channels(awkward(), {ChannelName.CADENCE: [80.0, 80.5, np.nan, 0.0, 91.2578125]})
    write_fit(ride, tmp_path / "a.fit")
    whole, part = column(tmp_path / "a.fit", "cadence"), column(tmp_path / "a.fit", "fractional_cadence")
    total = [a + b for a, b in zip(whole, part, strict=True)]
    assert total == pytest.approx([80.0, 80.5, np.nan, 0.0, 91.2578125], abs=1 / 256, nan_ok=True)


def test_values_the_format_cannot_hold_are_missing(tmp_path: Path) -> None:
    channels = {
        ChannelName.POWER: [-5.0, 65_534.0, 65_535.0, 1e9, np.nan],
        ChannelName.HEART_RATE: [254.0, 255.0, 0.0, -1.0, np.nan],
        ChannelName.TEMPERATURE: [-127.0, 126.0, 127.0, -300.0, np.nan],
    }
    write_fit(with_channels(awkward(), channels), tmp_path / "a.fit")
    nothing = np.nan
    assert column(tmp_path / "a.fit", "power") == pytest.approx([nothing, 65_534.0] + [nothing] * 3, nan_ok=True)
    assert column(tmp_path / "a.fit", "heart_rate") == pytest.approx(
        [254.0, nothing, 0.0, nothing, nothing], nan_ok=True
    )
    assert column(tmp_path / "a.fit", "temperature") == pytest.approx([-127.0, 126.0] + [nothing] * 3, nan_ok=True)


def test_a_resistance_in_parts_goes_into_a_field_of_its_own(tmp_path: Path) -> None:
    write_fit(with_channels(awkward(), {ChannelName.RESISTANCE: [0.5, np.nan, 40.25]}), tmp_path / "a.fit")
    assert column(tmp_path / "a.fit", "resistance") == pytest.approx([0.5, np.nan, 40.25], nan_ok=True)
    described = dict(messages(tmp_path / "a.fit"))["field_description"]
    assert described["fit_base_type_id"] == "float32"


def test_a_second_power_source_goes_beside_the_first(tmp_path: Path) -> None:
    ride = with_channels(awkward(), {ChannelName.POWER: [100.0, 110.0, np.nan]})
    write_fit(ride, tmp_path / "a.fit", second_power_w=np.array([90.0, np.nan, 95.0]))
    with fitdecode.FitReader(tmp_path / "a.fit") as reader:
        rows = [
            [field.value for field in frame.fields if field.name == "power"]
            for frame in reader
            if isinstance(frame, fitdecode.FitDataMessage) and frame.name == "record"
        ]
    assert rows == [[100, 90], [110, None], [None, 95]]


def test_stamps_go_to_the_nearest_second_and_one_sample_stays(tmp_path: Path) -> None:
    quick = awkward(step_s=0.25)
    write_fit(quick, tmp_path / "a.fit")
    stamps = np.array([row["timestamp"].timestamp() for row in records(tmp_path / "a.fit")]) - START_UTC_S
    assert stamps.tolist() == [0.0, 1.0, 2.0, 33.0, 34.0, 35.0]
    # Of 0.5, 0.75, 1.0 and 1.25 s, all nearest to second 1, the sample at 1.0 is kept.
    assert column(tmp_path / "a.fit", "heart_rate")[1] == quick.channels[ChannelName.HEART_RATE][4]


def test_a_hostile_name_stays_a_name(tmp_path: Path) -> None:
    name = "bike\0 <é> " + "ü" * 200 + "\ud800"
    write_fit(awkward(product=name), tmp_path / "a.fit")
    written = dict(messages(tmp_path / "a.fit"))["file_id"]["product_name"]
    assert name.replace("\0", "").startswith(written)
    assert len(written.encode()) <= 60


@pytest.mark.parametrize("start_utc_s", [None, 0.0, 8e8, 5e9])
def test_a_date_is_needed_and_must_fit(tmp_path: Path, start_utc_s: float | None) -> None:
    with pytest.raises(DateMissing):
        write_fit(awkward(dated=False), tmp_path / "a.fit", start_utc_s=start_utc_s)
    assert list(tmp_path.iterdir()) == []


def test_no_channel_no_file(tmp_path: Path) -> None:
    empty = with_channels(awkward(), {ChannelName.POWER: [np.nan, np.nan]})
    with pytest.raises(NoSamples):
        write_fit(empty, tmp_path / "a.fit")


def test_fit_tool_reads_it_too(tmp_path: Path) -> None:
    fit_file = pytest.importorskip("fit_tool.fit_file", reason="fit-tool is not installed")
    records_module = pytest.importorskip("fit_tool.profile.messages.record_message")
    ride = awkward()
    write_fit(ride, tmp_path / "a.fit")
    read = fit_file.FitFile.from_file(str(tmp_path / "a.fit"))
    rows = [row.message for row in read.records if isinstance(row.message, records_module.RecordMessage)]
    # fit-tool hands out the sign for “no value” as it stands in the file.
    power = [np.nan if row.power == 0xFFFF else float(row.power) for row in rows]
    np.testing.assert_array_equal(power, ride.channels[ChannelName.POWER])
    assert [row.timestamp / 1000.0 for row in rows] == ride.time_s.tolist()


def test_header_states_the_size(tmp_path: Path) -> None:
    write_fit(awkward(), tmp_path / "a.fit")
    content = (tmp_path / "a.fit").read_bytes()
    size, protocol, _, body, magic = struct.unpack_from("<BBHI4s", content)
    assert (size, protocol, magic) == (14, 0x20, b".FIT")
    assert len(content) == 14 + body + 2


def test_an_empty_pause_list_and_one_sample(tmp_path: Path) -> None:
    one: Recording = with_channels(awkward(), {ChannelName.POWER: [200.0]})
    write_fit(one, tmp_path / "a.fit")
    assert column(tmp_path / "a.fit", "power") == [200.0]
