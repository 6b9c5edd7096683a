"""Every usual way in which a table writes its times comes out as the same seconds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from tests.unit.readers_csv.reading import read, slugs, table
from wattwitness.model.errors import ColumnsUnclear
from wattwitness.model.recording import ChannelName

START = datetime(2026, 1, 12, 10, 0, 0, tzinfo=UTC)
START_S = START.timestamp()


def stamp(index: float, form: str, hours: float = 0.0) -> str:
    return (START + timedelta(seconds=index, hours=hours)).strftime(form)


def colon(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


DATED: dict[str, tuple[str, Callable[[int], str]]] = {
    "iso, Z": ("time", lambda i: stamp(i, "%Y-%m-%dT%H:%M:%SZ")),
    "iso, offset": (
        "Timestamp",
        lambda i: (START + timedelta(seconds=i)).astimezone(timezone(timedelta(hours=5.5))).isoformat(),
    ),
    "iso, blank, no zone": ("Date time", lambda i: stamp(i, "%Y-%m-%d %H:%M:%S")),
    "iso, thousandths": ("time", lambda i: stamp(i, "%Y-%m-%dT%H:%M:%S.000Z")),
    "iso, basic": ("time", lambda i: stamp(i, "%Y%m%dT%H%M%SZ")),
    "with slashes": ("time", lambda i: stamp(i, "%Y/%m/%d %H:%M:%S")),
    "with points": ("Zeit", lambda i: stamp(i, "%d.%m.%Y %H:%M:%S")),
    "two-digit year": ("Zeit", lambda i: stamp(i, "%d.%m.%y %H:%M:%S")),
    "month's name": ("time", lambda i: stamp(i, "%d-%b-%Y %H:%M:%S")),
    "half days": ("time", lambda i: stamp(i, "%d %B %Y %I:%M:%S %p")),
    "run together": ("time", lambda i: stamp(i, "%Y%m%d%H%M%S")),
    "zone in words": ("time", lambda i: stamp(i, "%Y-%m-%d %H:%M:%S UTC")),
    "as in mail": ("time", lambda i: stamp(i, '"%a, %d %b %Y %H:%M:%S +0000"')),
    "epoch s": ("timestamp", lambda i: f"{START_S + i:.0f}"),
    "epoch s, decimals": ("unix time (s)", lambda i: f"{START_S + i:.3f}"),
    "epoch ms": ("time", lambda i: f"{(START_S + i) * 1000:.0f}"),
    "epoch µs": ("Timestamp (us)", lambda i: f"{(START_S + i) * 1e6:.0f}"),
    "epoch ns": ("t", lambda i: f"{int(START_S + i)}000000000"),
    "serial days": ("Date", lambda i: f"{46034 + (36000 + i) / 86400:.9f}"),
    "date beside clock": ("Date,Time", lambda i: stamp(i, "%Y-%m-%d,%H:%M:%S")),
}


@pytest.mark.parametrize("form", DATED)
def test_dated_times(form: str) -> None:
    heading, cell = DATED[form]
    recording = read(table(f"{heading},Power (W)", lambda i: f"{cell(i)},{150 + i}"))
    assert recording.dated
    np.testing.assert_allclose(recording.time_s, START_S + np.arange(90), atol=1e-5)


ELAPSED: dict[str, tuple[str, Callable[[int], str]]] = {
    "seconds": ("secs", lambda i: f"{i}"),
    "decimal seconds": ("Elapsed (s)", lambda i: f"{i}.000"),
    "seconds, no unit": ("time", lambda i: f"{i}"),
    "milliseconds": ("time (ms)", lambda i: f"{i * 1000}"),
    "milliseconds, no unit": ("time", lambda i: f"{i * 1000}"),
    "minutes": ("Minutes", lambda i: f"{i / 60:.4f}"),
    "minutes, no unit": ("time", lambda i: f"{i / 60:.5f}"),
    "minutes of two decimals": ("Time [min]", lambda i: f"{i / 60:.2f}"),
    "hours": ("Time (h)", lambda i: f"{i / 3600:.6f}"),
    "days": ("Time (d)", lambda i: f"{i / 86400:.8f}"),
    "m:ss": ("Time", lambda i: f"{i // 60}:{i % 60:02d}"),
    "mm:ss": ("Elapsed time", lambda i: f"{i // 60:02d}:{i % 60:02d}"),
    "mm:ss.s": ("Time", lambda i: f"{i // 60:02d}:{i % 60:02d}.0"),
    "h:mm:ss": ("Duration", colon),
    "hh:mm:ss in the heading": ("Time (hh:mm:ss)", lambda i: f"0{colon(i)}"),
    "time delta": ("time", lambda i: f"0 days 0{colon(i)}"),
    "as a spreadsheet saves it": ("Time", lambda i: f"12:{i // 60:02d}:{i % 60:02d} AM"),
}


@pytest.mark.parametrize("form", ELAPSED)
def test_elapsed_times(form: str) -> None:
    heading, cell = ELAPSED[form]
    recording = read(table(f"{heading},Power (W)", lambda i: f"{cell(i)},{150 + i}"))
    assert not recording.dated
    np.testing.assert_allclose(recording.time_s, np.arange(90), atol=0.011)


def test_elapsed_times_keep_the_zero_of_the_file() -> None:
    recording = read(
        table("Time,Power", lambda i: f"0:{i + 12 if i < 48 else 0:02d},150" if i < 48 else f"1:{i - 48:02d},150")
    )
    assert recording.time_s[0] == 12.0


@pytest.mark.parametrize("step_s", [0.25, 0.1, 1.26, 5.0])
def test_no_time_is_cut_to_whole_seconds(step_s: float) -> None:
    for heading, cell in (
        ("time (s)", lambda i: f"{i * step_s:.3f}"),
        ("epoch (ms)", lambda i: f"{(START_S + i * step_s) * 1000:.0f}"),
        ("time", lambda i: (START + timedelta(seconds=i * step_s)).isoformat(timespec="milliseconds")),
        ("elapsed", lambda i: f"{int(i * step_s) // 60}:{i * step_s % 60:06.3f}"),
    ):
        recording = read(table(f"{heading},power", lambda i, cell=cell: f"{cell(i)},150", 400))  # type: ignore[misc]
        np.testing.assert_allclose(recording.time_s - recording.time_s[0], np.arange(400) * step_s, atol=2e-3)


def test_clock_times_past_midnight_go_on() -> None:
    recording = read(table("Time,Power", lambda i: f"{colon((86350 + i) % 86400)},150"))
    assert not recording.dated
    np.testing.assert_array_equal(recording.time_s, np.arange(90))
    assert {"midnight_crossed", "clock_times_without_date"} <= set(slugs(recording))


def test_a_date_that_stays_while_the_clock_passes_midnight() -> None:
    recording = read(table("Date,Clock,Power", lambda i: f"2026-01-12,{colon((86350 + i) % 86400)},150"))
    assert recording.dated
    np.testing.assert_array_equal(np.diff(recording.time_s), 1.0)
    assert recording.time_s[0] == datetime(2026, 1, 12, 23, 59, 10, tzinfo=UTC).timestamp()


def test_a_date_that_changes_at_midnight_shows_its_order() -> None:
    later = START.replace(hour=23, minute=59, second=30, day=4)
    for form in ("%d/%m/%Y,%H:%M:%S", "%m/%d/%Y,%H:%M:%S"):
        recording = read(
            table("Date,Time,Power", lambda i, form=form: f"{(later + timedelta(seconds=i)).strftime(form)},150")  # type: ignore[misc]
        )
        np.testing.assert_array_equal(recording.time_s, later.timestamp() + np.arange(90))
        assert "date_order_assumed" not in slugs(recording)


def test_a_date_of_unknown_order_is_said() -> None:
    assert "date_order_assumed" in slugs(read(table("time,W", lambda i: stamp(i, "04/05/2026 %H:%M:%S") + ",150")))
    assert "date_order_assumed" not in slugs(read(table("time,W", lambda i: stamp(i, "01/14/%Y %H:%M:%S") + ",150")))


def test_minutes_that_wrap_at_the_hour() -> None:
    recording = read(table("Time,Power", lambda i: f"{i // 60 % 60:02d}:{i % 60:02d},150", 4000))
    np.testing.assert_array_equal(recording.time_s, np.arange(4000))
    assert "hours_added" in slugs(recording)


def test_mm_ss_that_becomes_h_mm_ss() -> None:
    def cell(index: int) -> str:
        return colon(index) if index >= 3600 else f"{index // 60}:{index % 60:02d}"

    recording = read(table("Time,Power", lambda i: f"{cell(i)},150", 4000))
    np.testing.assert_array_equal(recording.time_s, np.arange(4000))


def test_end_of_summer_time() -> None:
    before = datetime(2026, 10, 25, 2, 59, 0, tzinfo=UTC)
    recording = read(
        table(
            "time,power",
            lambda i: (
                f"{(before + timedelta(seconds=i, hours=-1 if i >= 60 else 0)).strftime('%Y-%m-%d %H:%M:%S')},150"
            ),
        )
    )
    np.testing.assert_array_equal(np.diff(recording.time_s), 1.0)
    assert "summer_time_ended" in slugs(recording)


def test_hours_and_minutes_are_not_minutes_and_seconds() -> None:
    """A clock that shows minutes only, with sixty rows to each."""
    recording = read(table("Time,Power", lambda i: f"13:{45 + i // 60:02d},{i}", 600))
    np.testing.assert_allclose(recording.time_s, np.arange(600), atol=1e-9)
    assert "times_spread" in slugs(recording)


def test_one_row_a_unit_from_13_45_is_either() -> None:
    with pytest.raises(ColumnsUnclear) as error:
        read(table("Time,Power", lambda i: f"{13 + (45 + i) // 60}:{(45 + i) % 60:02d},150"))
    assert "elapsed, clock" in error.value.hint


def test_several_rows_to_a_second_are_spread_within_it() -> None:
    recording = read(table("time,power", lambda i: stamp(i // 4, "%Y-%m-%dT%H:%M:%SZ") + f",{i}", 401))
    np.testing.assert_allclose(recording.time_s, START_S + np.arange(401) / 4)


def test_a_few_double_stamps_are_no_reason_to_spread() -> None:
    recording = read(table("time,power", lambda i: f"{i - i // 20},{i}"))
    assert "times_spread" not in slugs(recording)
    assert slugs(recording)["duplicate_times"] == 4


def test_the_finest_time_is_used_and_the_other_named() -> None:
    recording = read(
        table("timestamp,elapsed (s),power", lambda i: f"{stamp(i // 4, '%Y-%m-%dT%H:%M:%SZ')},{i / 4},150")
    )
    np.testing.assert_allclose(recording.time_s, np.arange(90) / 4)
    assert "other_times_not_used" in slugs(recording)


def test_a_dated_time_goes_before_an_elapsed_one() -> None:
    recording = read(table("elapsed (s),timestamp,power", lambda i: f"{i},{stamp(i, '%Y-%m-%dT%H:%M:%SZ')},150"))
    assert recording.dated


def test_lap_and_remaining_times_are_not_the_time() -> None:
    recording = read(
        table("Lap time,Time remaining,Time,Power", lambda i: f"0:{i % 30:02d},{colon(600 - i)},{colon(i)},150")
    )
    np.testing.assert_array_equal(recording.time_s, np.arange(90))


@pytest.mark.parametrize("step", ["777777", "0.0003"])
def test_steps_that_fit_no_unit_are_asked_about(step: str) -> None:
    with pytest.raises(ColumnsUnclear):
        read(table("time,power", lambda i: f"{i * float(step):.4f},150", 40))


def test_no_time_at_all_is_refused() -> None:
    with pytest.raises(ColumnsUnclear, match="no column that can be read as time") as error:
        read(table("power,cadence", lambda i: f"{150 + i},80"))
    assert "row_number" in error.value.hint


def test_the_zone_that_a_heading_names_is_used() -> None:
    recording = read(
        table(
            "local time,UTC time,power",
            lambda i: f"{stamp(i, '%Y-%m-%d %H:%M:%S', 1.0)},{stamp(i, '%Y-%m-%d %H:%M:%S')},150",
        )
    )
    assert recording.time_s[0] == START_S
    assert "time_zone_assumed" not in slugs(recording)


def test_the_newest_row_may_stand_first() -> None:
    for cell in (lambda i: str(89 - i), lambda i: colon(89 - i), lambda i: stamp(89 - i, "%Y-%m-%dT%H:%M:%SZ")):
        recording = read(table("time,power", lambda i, cell=cell: f"{cell(i)},{150 + i}"))  # type: ignore[misc]
        np.testing.assert_array_equal(recording.time_s - recording.time_s[0], np.arange(90))
        assert recording.channels[ChannelName.POWER][0] == 239.0


def test_a_counter_within_minutes_is_not_the_time() -> None:
    with pytest.raises(ColumnsUnclear, match="starts again"):
        read(table("Minutes,Seconds,Power", lambda i: f"{i // 60},{i % 60},150", 400))


def test_stray_stamps_are_no_restart() -> None:
    recording = read(table("epoch,power", lambda i: f"{0 if i in (20, 40, 60) else START_S + i:.0f},150"))
    assert slugs(recording)["stray_times"] == 3


def test_two_rides_in_one_file_are_said() -> None:
    ride = table("Time,Power", lambda i: f"{i},{150 + i}")
    assert {"clock_set_back", "repeated_header"} <= set(slugs(read(ride + ride.replace(",1", ",2"))))
