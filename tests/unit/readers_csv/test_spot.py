"""Spot readings: what a display showed at noted times."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from tests.unit.readers_csv.reading import opened, read_spot, slugs, sniffed
from wattwitness.model.errors import NoSamples, SpotReadingInvalid
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_table import READER as CSV
from wattwitness.readers.spot import READER as SPOT

POWER, CADENCE = ChannelName.POWER, ChannelName.CADENCE
SHEET = (
    "# spot readings\nat, shows_w, shows_rpm, note\n"
    "0:30, 148, 82\n1:15, 205, 90, end of the hill, windy\n1:40, -, 91\n\n1:02:05, 180\n"
)


def test_a_sheet_of_readings() -> None:
    recording = read_spot(SHEET)
    assert recording.spot
    assert not recording.dated
    assert not recording.event_driven
    np.testing.assert_array_equal(recording.time_s, [30.0, 75.0, 100.0, 3725.0])
    np.testing.assert_array_equal(recording.channels[POWER], [148.0, 205.0, np.nan, 180.0])
    np.testing.assert_array_equal(recording.channels[CADENCE], [82.0, 90.0, 91.0, np.nan])
    assert slugs(recording)["spot_readings"] == 4


@pytest.mark.parametrize(
    "text",
    [
        SHEET,
        SHEET.replace("# spot readings\n", ""),
        "\ufeff# Spot Readings of bike 3\n" + SHEET.split("\n", 1)[1],
        '"# spot readings",,,\n' + SHEET.split("\n", 1)[1],
        SHEET.replace(",", ";"),
        SHEET.replace(",", "\t"),
        SHEET.replace("\n", "\r\n"),
    ],
)
def test_forms_a_sheet_can_take(text: str) -> None:
    assert read_spot(text).time_s.size == 4
    assert not sniffed(text, CSV)


def test_a_table_is_no_sheet_of_readings() -> None:
    assert not sniffed("time,power\n0,150\n1,151\n", SPOT)


def test_decimal_comma() -> None:
    recording = read_spot("# spot readings\nat;shows_w\n0:30,5;148,5\n1:15;205\n")
    assert recording.time_s[0] == 30.5
    assert recording.channels[POWER][0] == 148.5


def test_times_of_day_with_a_date_pass_midnight() -> None:
    recording = read_spot(
        "# spot readings\n# date: 2026-01-12\n# utc offset: +01:00\nat,shows_w\n23:59:30,150\n0:00:10,155\n0:01,160\n"
    )
    assert recording.dated
    assert recording.time_s[0] == datetime(2026, 1, 12, 22, 59, 30, tzinfo=UTC).timestamp()
    np.testing.assert_array_equal(np.diff(recording.time_s), [40.0, 50.0])


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("at,shows_w\n0:3o,148", "Line 3: “0:3o” is no time; expected m:ss or h:mm:ss"),
        ("at,shows_w\n90,148", "Line 3: “90” is no time"),
        ("at,shows_w\n1:75,148", "Line 3: “1:75” is no time"),
        ("at,shows_w\n1:70:00,148", "Line 3: “1:70:00” is no time"),
        ("at,shows_w\n0:30,14B", "Line 3: “14B” under shows_w is no reading; expected a number"),
        ("at,shows_w\n0:30,-5", "is no reading"),
        ("at,shows_w\n0:30,148\n0:20,150", "Line 4: 0:20 is not later"),
        ("at,shows_w\n0:30,148\n0:30,150", "Line 4: 0:30 is not later"),
        ("at,shows_w\n0:30,148,5", "Line 3: 3 cells, expected 2 cells"),
        ("at,watts\n0:30,148", "Line 2: “watts” is no heading; known are: at, shows_w"),
        ("at,note\n0:30,ok", "at least one of shows_w"),
        ("at,shows_w,shows_w\n0:30,1,2", "stands twice"),
        ("shows_w\n148", "expected the headings “at”"),
        ("", "no line of headings"),
        ("# date: 12.1.2026\nat,shows_w\n10:00:00,1", "Line 2: “12.1.2026” is no date"),
        ("# utc offset: CET\nat,shows_w\n10:00:00,1", "Line 2: “CET” is no offset"),
        ("# date: 2026-01-12\nat,shows_w\n25:00:00,1", "expected the time of day"),
    ],
)
def test_mistyped_lines_are_named(lines: str, said: str) -> None:
    text = f"# spot readings\n{lines}\n"
    assert sniffed(text, SPOT)
    with pytest.raises(SpotReadingInvalid) as error:
        SPOT.read(opened(text))
    assert said in error.value.what
    assert error.value.where == "ride.csv"


def test_many_mistakes_are_counted() -> None:
    text = "# spot readings\nat,shows_w\n" + "x,1\n" * 20
    with pytest.raises(SpotReadingInvalid, match="And 15 more mistakes"):
        SPOT.read(opened(text))


def test_headings_alone() -> None:
    with pytest.raises(NoSamples):
        SPOT.read(opened("# spot readings\nat,shows_w\n"))
