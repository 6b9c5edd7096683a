"""Delimiters, decimal signs, encodings and what stands before the headings."""

from __future__ import annotations

import codecs
import contextlib

import numpy as np
import pytest

from tests.unit.readers_csv.reading import opened, read, slugs, sniffed, table
from wattwitness.model.errors import WattwitnessError
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_table import READER

POWER = ChannelName.POWER


@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(d, sign) for d in [",", ";", "\t", "|", "   "] for sign in ".," if d != sign]
)
def test_delimiters_and_decimal_signs(delimiter: str, decimal: str) -> None:
    text = table(f"Time (s){delimiter}Power (W)", lambda i: f"{i}.0{delimiter}{150 + i}.25".replace(".", decimal))
    np.testing.assert_allclose(read(text).channels[POWER], 150.25 + np.arange(90))


@pytest.mark.parametrize(
    ("cell", "expected"),
    [("1 234,5", 1234.5), ("1\u00a0234,5", 1234.5), ("1\u202f234,5", 1234.5), ("1.234,5", 1234.5), ("1'234,5", 1234.5)],
)
def test_thousands_with_a_decimal_comma(cell: str, expected: float) -> None:
    recording = read(table("Zeit (s);Leistung (W)", lambda i: f"{i},0;{cell if i % 2 else '980,5'}"))
    np.testing.assert_array_equal(recording.channels[POWER][1::2], expected)


def test_thousands_with_a_comma_in_quotes() -> None:
    recording = read(table("Time,Power", lambda i: f'{i},"1,{100 + i}"' if i % 2 else f"{i},980"))
    assert recording.channels[POWER][1] == 1101.0


def test_quoted_decimal_commas() -> None:
    recording = read(table('"Time","Power"', lambda i: f'"{i},5","{150 + i},25"'))
    assert recording.channels[POWER][2] == 152.25


def test_an_unclosed_quote_swallows_nothing() -> None:
    recording = read(table("Time,Power,Note", lambda i: f"{i},{150 + i},{'5 inch 3/4' + chr(34) if i == 10 else 'ok'}"))
    assert recording.time_s.size == 90
    recording = read(table("Time,Power,Note", lambda i: f"{i},{150 + i},{chr(34) + 'open' if i == 10 else 'ok'}"))
    assert recording.time_s.size == 90


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252"])
def test_encodings(encoding: str) -> None:
    text = table("Zeit (s);Leistung (W);Temperatur (°C);Gerät", lambda i: f"{i},0;{150 + i},5;21,5;Größe")
    recording = read(text.encode(encoding))
    assert recording.channels[ChannelName.TEMPERATURE][0] == 21.5
    assert ("text_encoding_assumed" in slugs(recording)) == (encoding in ("latin-1", "cp1252"))


def test_big_endian_with_its_mark() -> None:
    raw = codecs.BOM_UTF16_BE + table("Time,Power", lambda i: f"{i},{150 + i}").encode("utf-16-be")
    assert read(raw).time_s.size == 90


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end: str) -> None:
    text = table("Time,Power", lambda i: f"{i},{150 + i}").replace("\n", end)
    assert read(text.encode()).time_s.size == 90


def test_nul_bytes_are_left_out_and_counted() -> None:
    recording = read(table("Time,Power,Mark", lambda i: f"{i},{150 + i},\0"))
    assert slugs(recording)["nul_bytes"] == 90
    assert recording.time_s.size == 90


PREAMBLES = {
    "comments": "# bike 3\n# rig: room 12\n",
    "keys": "Device: bike 3\nStart: 2026-01-12 10:00:00\nRider mass (kg): 71.5\n\n",
    "keys in cells": "Device,bike 3,,\nStart,2026-01-12 10:00:00,,\nMass,71.5,,\n,,,\n",
    "delimiter hint": "sep=,\n",
    "words": "Ride of the day\nAll values as shown by the console\n",
    "a table of its own": "Lap,Time,Avg power (W),Max power (W)\n1,300,150,210\n2,300,160,230\n3,300,170,220\n\n",
    "a table that looks the part": "Lap,Time,Power,Cadence\n1,300,150,80\n2,600,160,82\n3,900,170,84\n\n",
}


@pytest.mark.parametrize("kind", PREAMBLES)
def test_what_stands_before_the_headings(kind: str) -> None:
    recording = read(PREAMBLES[kind] + table("Time,Power (W),Cadence", lambda i: f"{i},{150 + i},{80 + i % 5}"))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))
    np.testing.assert_array_equal(recording.time_s, np.arange(90))


def test_headings_behind_a_comment_sign() -> None:
    recording = read(table("# time (s), power (W), cadence (rpm)", lambda i: f"{i},{150 + i},80"))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))


def test_aligned_blanks() -> None:
    recording = read(
        table("  Time (s)    Power (W)   Heart rate (bpm)", lambda i: f"{i:10d}   {150.5 + i:10.1f}   {120:10d}")
    )
    np.testing.assert_array_equal(recording.channels[POWER], 150.5 + np.arange(90))


def test_a_heading_over_several_lines_in_quotes() -> None:
    recording = read(table('Time,"Power\n(W)","Heart\nrate [bpm]"', lambda i: f"{i},{150 + i},120"))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))
    assert recording.has(ChannelName.HEART_RATE)


@pytest.mark.parametrize(
    "below", ["----;-----;-----", "[s];[W];[bpm]", "elapsed seconds;watts measured;heart rate", ";;"]
)
def test_a_second_line_below_the_headings(below: str) -> None:
    recording = read(f"time;power;hr\n{below}\n" + "".join(f"{i};{150 + i};120\n" for i in range(90)))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))


def test_blanks_after_the_delimiter() -> None:
    recording = read(table('"time", "power"', lambda i: f'"{i}", "{150 + i}"'))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))


HOSTILE = {
    "a heading of blanks and bars": "Time,Power" + "_ " * 30_000,
    "a heading of brackets": "Time," + "(" * 60_000,
    "a cell of blanks": "Time,Power\n" + ("1" + " " * 60_000 + "x,2\n") * 5,
    "a cell of digits": "Time,Power\n" + ("1" * 60_000 + ",2\n") * 5,
    "a row of delimiters": "Time,Power\n" + "," * 60_000,
    "a row of quotes": '"' * 60_001 + "\nTime,Power",
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_is_made_to_hang_a_pattern_ends(kind: str) -> None:
    """These end at once or, were a pattern quadratic, practically never; a recording or a clear error will do."""
    text = HOSTILE[kind] + "\n" + "".join(f"{i},{150 + i}\n" for i in range(90))
    with contextlib.suppress(WattwitnessError):
        sniffed(text)
        assert READER.read(opened(text))[0].time_s.size <= 95
