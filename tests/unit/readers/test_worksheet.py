"""The worksheet of hanging weights as typed, mistyped, saved by a spreadsheet, and empty."""

from __future__ import annotations

import hashlib
import math
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wattwitness.model.errors import WorksheetInvalid
from wattwitness.model.hanging_weights import HungReading, LoadStep, Side
from wattwitness.readers.worksheet import load_worksheet, parse_worksheet
from wattwitness.writers.worksheet import blank_worksheet_text

HEADINGS = "side, position, repeat, step, mass_kg, lever_mm, angle_deg, reading_nm, note"
PLAIN = f"""# hanging weights
# meter: pedals
# date: 2026-01-12
# latitude_deg: 47.4
# a remark
{HEADINGS}
left, forward, 1, zero_before, , , , 0.1
left, forward, 1, up, 10, 172.5, 3, 16.9, heavy
left, forward, 1, down, 5, 172.5, , 8.5
left, forward, 1, down, 2, 172.5, ,
"""


def test_it_is_read_as_typed() -> None:
    sheet = parse_worksheet(PLAIN, "a.csv")
    assert (sheet.meter, sheet.date, sheet.latitude_deg, sheet.source) == ("pedals", "2026-01-12", 47.4, "a.csv")
    assert sheet.gravity_m_s2 is None
    zero, up, down = sheet.readings
    assert (zero.step, zero.mass_kg, zero.reading_nm) == (LoadStep.ZERO_BEFORE, 0.0, 0.1)
    assert (up.side, up.position, up.mass_kg, up.lever_mm, up.angle_deg) == (Side.LEFT, "forward", 10, 172.5, 3)
    assert down.angle_deg == 0.0
    assert [item.line for item in sheet.readings] == [7, 8, 9]


def test_as_a_spreadsheet_saves_it(tmp_path: Path) -> None:
    """Semicolons, decimal commas, a mark of the encoding, Windows line ends, quoted comments with empty cells."""
    text = '"# hanging weights";;\r\n"# latitude_deg: 47,4";;\r\n' + HEADINGS.replace(", ", ";") + "\r\n"
    text += "left;vorne;1;zero_before;0;;;0,1;\r\nleft;vorne;1;up;10,5;172,5;0;17,7;\r\n"
    path = tmp_path / "sheet.csv"
    path.write_bytes(text.encode("utf-8-sig"))
    sheet = load_worksheet(path)
    assert sheet.latitude_deg == 47.4
    assert sheet.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (sheet.readings[1].mass_kg, sheet.readings[1].reading_nm) == (10.5, 17.7)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("# hanging weights", "# something", "The first line"),
        ("latitude_deg", "latitude", "“latitude” is no key"),
        ("47.4", "north", "“north” under latitude_deg"),
        ("47.4", "99", "“99” under latitude_deg is no number from -90 to 90"),
        ("2026-01-12", "12.1.2026", "is no date"),
        ("angle_deg", "angle", "“angle” is no heading"),
        ("mass_kg, ", "", "the heading mass_kg is missing"),
        ("repeat, step", "step, step", "stands twice"),
        ("1, up", "1, lifted", "“lifted” is no step; expected zero_before, up, down, zero_after"),
        ("left, forward, 1, up", "middle, forward, 1, up", "“middle” is no side"),
        ("10, 172.5", "10 kg, 172.5", "“10 kg” under mass_kg"),
        ("10, 172.5", ", 172.5", "a loaded row needs mass_kg"),
        ("10, 172.5", "0, 172.5", "nothing hangs here"),
        ("zero_before, ,", "zero_before, 7,", "is unloaded, yet a mass is given"),
        ("1, up", "one, up", "is no whole number"),
        ("47.4", "nan", "“nan” under latitude_deg is no number; leave it empty"),
        ("16.9, heavy", "nan", "“nan” under reading_nm is no number"),
        ("left, forward, 1, up", "le\0ft, forward, 1, up", "holds a NUL character"),
        ("16.9, heavy", "16,9", "with decimal commas part the cells by semicolons"),
    ],
)
def test_what_is_mistyped_is_named_with_its_line(old: str, new: str, said: str) -> None:
    assert old in PLAIN
    with pytest.raises(WorksheetInvalid, match=r"The first line|Line \d+") as caught:
        parse_worksheet(PLAIN.replace(old, new, 1))
    assert said in caught.value.what


def test_an_empty_one_is_refused_and_a_blank_one_can_be_filled() -> None:
    with pytest.raises(WorksheetInvalid, match="No row has a reading"):
        parse_worksheet(blank_worksheet_text())
    filled = blank_worksheet_text().replace("left,forward,1,up,,,,,", "left,forward,1,up,10,170,0,16.7,")
    assert len(parse_worksheet(filled).readings) == 3
    with pytest.raises(WorksheetInvalid, match="no line of headings"):
        parse_worksheet("# hanging weights\n")


def test_a_file_that_is_not_there_or_too_large(tmp_path: Path) -> None:
    with pytest.raises(WorksheetInvalid, match="cannot be read"):
        load_worksheet(tmp_path / "none.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(b"# hanging weights\n" + b"#" * 1_000_001)
    with pytest.raises(WorksheetInvalid, match="far too large"):
        load_worksheet(large)


@given(st.text(max_size=300))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    readings: tuple[HungReading, ...] = ()
    with suppress(WorksheetInvalid):
        readings = parse_worksheet(f"# hanging weights\n{text}").readings
    assert all(math.isfinite(item.reading_nm) for item in readings)
