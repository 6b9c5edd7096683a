"""Rows that are no samples and cells that are no numbers: left out, counted, never taken for zero."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.readers_csv.reading import opened, read, slugs, table
from wattwitness.model.errors import CorruptFile, NoSamples
from wattwitness.model.recording import ChannelName
from wattwitness.readers import csv_body
from wattwitness.readers.csv_table import READER

POWER = ChannelName.POWER
RIDE = table("Time,Power,Cadence", lambda i: f"0:{i // 60:02d}:{i % 60:02d},{150 + i},80")


@pytest.mark.parametrize("word", ["", "--", "-", "n/a", "N/A", "NaN", "null", "None", " ", "#N/A"])
def test_words_for_no_value_are_missing_and_not_zero(word: str) -> None:
    recording = read(table("Time,Power,Cadence", lambda i: f"{i},{word if i % 3 == 0 else 150},80"))
    assert np.all(np.isnan(recording.channels[POWER][::3]))
    assert np.all(recording.channels[POWER][1::3] == 150.0)
    assert "cells_unreadable" not in slugs(recording)


@pytest.mark.parametrize("word", ["oops", "12-13", "1_50", "=1+1", "inf", "1e999", "0x96", "15O"])
def test_cells_that_are_no_numbers_are_counted(word: str) -> None:
    recording = read(table("Time,Power,Cadence", lambda i: f"{i},{word if i == 7 else 150},80"))
    assert slugs(recording)["cells_unreadable"] == 1
    assert np.flatnonzero(np.isnan(recording.channels[POWER])).tolist() == [7]


@pytest.mark.parametrize(
    "footer",
    [
        "Average,194,80\n",
        "Total,,\n,194,80\n",
        "\nSummary\nDuration,Avg power,Max power\n0:01:30,194,239\n",
        "\nSummary,,\nTime,Power,Cadence avg\n0:01:30,194,80\n",
        "Totals\n0:01:30,194,80\n",
        "Ride,,\nTime,0:01:30\nWatts_Avg,194\nWatts_Max,239\n",
        "\nLap,Time,Power\n1,0:00:30,164\n2,0:01:00,194\n3,0:01:30,224\n",
        "Laps\n0:00:30,164,80\n",
    ],
)
def test_sums_at_the_end_are_no_samples(footer: str) -> None:
    recording = read(RIDE + footer)
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))
    assert {"rows_without_time", "summary_rows"} & set(slugs(recording))


def test_marks_in_the_middle_are_left_out_and_the_ride_goes_on() -> None:
    lines = RIDE.splitlines()
    text = "\n".join([*lines[:31], "Stage 1", "Time,0:00:30", "Watts_Avg,164", *lines[31:]]) + "\n"
    recording = read(text)
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))
    assert slugs(recording)["rows_without_time"] == 3


def test_remarks_between_the_rows_lose_no_sample() -> None:
    lines = RIDE.splitlines()
    text = "\n".join([lines[0], *(f"{line}\nremark,," for line in lines[1:])])
    assert read(text).time_s.size == 90


def test_headings_that_repeat() -> None:
    lines = RIDE.splitlines()
    recording = read("\n".join([*lines[:40], lines[0], *lines[40:70], lines[0], *lines[70:]]))
    assert slugs(recording)["repeated_header"] == 2
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))


def test_rows_cut_short_keep_what_they_hold() -> None:
    recording = read(table("Time,Power,Cadence", lambda i: f"{i},{150 + i}" if i == 40 else f"{i},{150 + i},80"))
    assert slugs(recording)["rows_cut_short"] == 1
    assert np.isnan(recording.channels[ChannelName.CADENCE][40])
    assert recording.channels[POWER][40] == 190.0


def test_rows_too_wide_are_left_out() -> None:
    recording = read(table("Time,Power", lambda i: f"{i},{150 + i}" + (",9,9" if i == 40 else ",," if i == 41 else "")))
    assert slugs(recording)["rows_too_wide"] == 1
    assert recording.time_s.size == 89


def test_a_file_cut_in_the_middle_of_a_row() -> None:
    for cut in (4, 5, 8):
        recording = read(RIDE[:-cut])
        np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(89))
        assert "file_cut_short" in slugs(recording)
    assert read(RIDE[:-1]).time_s.size == 90


def test_headings_without_rows() -> None:
    with pytest.raises((NoSamples, CorruptFile)):
        READER.read(opened("Time,Power,Cadence\n"))


def test_sentinels_and_a_spike_go_through_the_shared_cleaning() -> None:
    odd = {3: "65535", 4: "-1", 5: "47000"}
    recording = read(table("Time,Power", lambda i: f"{i},{odd.get(i, '150')}"))
    assert np.flatnonzero(np.isnan(recording.channels[POWER])).tolist() == [3, 4, 5]


def test_a_line_without_end_does_not_fill_the_memory() -> None:
    lines = RIDE.splitlines()
    recording = read("\n".join([*lines[:40], "x," * 200_000, *lines[40:]]).encode())
    assert slugs(recording)["overlong_lines"] == 1
    assert recording.time_s.size == 90


def test_more_rows_than_any_ride_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from wattwitness.model.errors import FileTooLarge

    monkeypatch.setattr(csv_body, "MAX_ROWS", 50)
    with pytest.raises(FileTooLarge):
        read(RIDE)


def test_the_first_sample_may_lack_its_power() -> None:
    recording = read(table("Time,Power,HR", lambda i: f"{i},{'' if i < 1200 else 150},120", 1500))
    assert int(np.isfinite(recording.channels[POWER]).sum()) == 300
