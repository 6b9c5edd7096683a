"""A saved mapping: written from what is proposed, checked strictly, obeyed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.unit.readers_csv.reading import opened, read, slugs, table
from wattwitness.model.errors import ColumnsUnclear, MappingInvalid
from wattwitness.model.recording import ChannelName, Severity
from wattwitness.readers.csv_mapping import load_mapping, parse_mapping
from wattwitness.readers.csv_propose import mapping_to_toml, propose_mapping, proposed_mapping_text
from wattwitness.readers.csv_time_kinds import TimeKind

POWER = ChannelName.POWER
TWO = table("Time,Power,Pedal power,Cadence", lambda i: f"{i},{150 + i},{140 + i},80")
LEGS = table("Time,Left power,Right power", lambda i: f"{i},{70 + i},{80 + i}")


def saved(folder: Path, text: str) -> Path:
    path = folder / "mapping.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_proposal_reads_the_file_as_it_was_read(tmp_path: Path) -> None:
    text = "# bike 3\n" + table(
        "Zeit (min);Leistung [kW];Trittfrequenz", lambda i: f"{i / 60:.4f};0,{150 + i};80".replace(".", ",")
    )
    mapping = saved(tmp_path, proposed_mapping_text(opened(text)))
    plain, mapped = read(text), read(text, mapping)
    np.testing.assert_array_equal(plain.time_s, mapped.time_s)
    assert set(plain.channels) == set(mapped.channels)
    for channel, values in plain.channels.items():
        np.testing.assert_array_equal(values, mapped.channels[channel])


def test_a_proposal_of_two_powers_needs_the_testers_hand(tmp_path: Path) -> None:
    text = proposed_mapping_text(opened(TWO))
    assert '# power_w = "Pedal power"' in text
    assert not read(TWO, saved(tmp_path, text)).has(POWER)
    chosen = read(TWO, saved(tmp_path, text.replace('# power_w = "Pedal power"', 'power_w = "Pedal power"')))
    np.testing.assert_array_equal(chosen.channels[POWER], 140 + np.arange(90))


def test_both_legs_are_added_up_where_the_mapping_says_so(tmp_path: Path) -> None:
    text = proposed_mapping_text(opened(LEGS))
    line = '# power_w = ["Left power", "Right power"]'
    recording = read(LEGS, saved(tmp_path, text.replace(line, line[2:])))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + 2 * np.arange(90))
    assert "power_summed" in slugs(recording)


def test_an_unclear_time_is_left_to_the_tester(tmp_path: Path) -> None:
    text = table("Time,Power", lambda i: f"{13 + (45 + i) // 60}:{(45 + i) % 60:02d},{150 + i}")
    with pytest.raises(ColumnsUnclear):
        read(text)
    proposal = propose_mapping(opened(text))
    assert proposal.time_kind is None
    toml = mapping_to_toml(proposal)
    as_elapsed = read(text, saved(tmp_path, toml.replace('# kind = "elapsed"', 'kind = "elapsed"')))
    as_clock = read(text, saved(tmp_path, toml.replace('# kind = "clock"', 'kind = "clock"')))
    assert as_elapsed.duration_s == 89.0
    assert as_clock.duration_s == 89.0 * 60


def test_columns_by_number_without_headings(tmp_path: Path) -> None:
    text = "\n".join(f"{i},{150 + i},80" for i in range(90))
    with pytest.raises(ColumnsUnclear):
        read(text)
    mapping = saved(tmp_path, "[table]\nheader_line = 0\n[columns]\ntime = 1\npower_w = 2\ncadence_rpm = 3\n")
    np.testing.assert_array_equal(read(text, mapping).channels[POWER], 150 + np.arange(90))


def test_rows_without_times_by_number(tmp_path: Path) -> None:
    text = table("power,cadence", lambda i: f"{150 + i},80") + "Average,80\n"
    mapping = saved(tmp_path, '[time]\nkind = "row_number"\nstep_s = 0.5\n[columns]\npower_w = "power"\n')
    recording = read(text, mapping)
    np.testing.assert_array_equal(recording.time_s, np.arange(90) / 2)
    assert "times_from_row_numbers" in slugs(recording)


def test_zone_date_order_and_units(tmp_path: Path) -> None:
    text = table("When,Bike", lambda i: f"05/04/2026 10:00:{i:02d},0.{200 + i}", 60)
    mapping = saved(
        tmp_path,
        '[time]\nkind = "date_time"\ndate_order = "month_first"\nutc_offset_min = 120\n'
        '[columns]\ntime = "When"\npower_w = "Bike"\n[units]\npower_w = "kW"\n',
    )
    recording = read(text, mapping)
    assert recording.time_s[0] == np.datetime64("2026-05-04T08:00:00").astype(float)
    assert recording.channels[POWER][0] == 200.0
    assert not {"time_zone_assumed", "date_order_assumed"} & set(slugs(recording))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[column]\npower_w = 1", "“column” is no table"),
        ("[columns]\npower = 1", "“power” is no key in"),
        ("[columns]\ntime = 1\npower_w = 0", "number from 1"),
        ("[columns]\ntime = 1\npower_w = true", "number from 1"),
        ('[columns]\ntime = 1\npower_w = ""', "heading in quotes"),
        ("[columns]\ntime = 1\npower_w = []", "at least one column"),
        ("[columns]\ntime = 1\npower_w = [2, 2]", "none twice"),
        ("[columns]\ntime = 1\ncadence_rpm = [2, 3]", "only those of power_w"),
        ("[columns]\ntime = [1, 2, 3]\npower_w = 4", "a date column and a clock column"),
        ("[columns]\ntime = 1", "names no channel"),
        ("columns = 3", "must be a table"),
        ('[time]\nkind = "secs"\n[columns]\ntime = 1\npower_w = 2', "must be one of: “date_time”"),
        ('[time]\nkind = "row_number"\n[columns]\ntime = 1\npower_w = 2', "must not name a time"),
        ("[time]\nstep_s = 2\n[columns]\ntime = 1\npower_w = 2", "goes with kind"),
        ('[units]\npower_w = "hamsters"\n[columns]\ntime = 1\npower_w = 2', "known are: W, kW"),
        ('[units]\ncadence_rpm = "rpm"\n[columns]\ntime = 1\npower_w = 2', r"\[units\] has cadence_rpm"),
        ('[table]\ndelimiter = ":"\n[columns]\ntime = 1\npower_w = 2', "must be one of"),
        ("[table]\nheader_line = -1\n[columns]\ntime = 1\npower_w = 2", "number of a line"),
        ('[table]\nencoding = "klingon"\n[columns]\ntime = 1\npower_w = 2', "no known encoding"),
        ("[time]\nutc_offset_min = 5000\n[columns]\ntime = 1\npower_w = 2", "from -1440 to 1440"),
        ("[columns\n", "not valid TOML"),
    ],
)
def test_a_mapping_is_checked_strictly(text: str, said: str) -> None:
    with pytest.raises(MappingInvalid, match=said):
        parse_mapping(text)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ('time = "Time"\npower_w = "Watts"', "“Watts”, which the file has not"),
        ("time = 1\npower_w = 9", "names column 9, but the table has 4"),
        ('power_w = "Power"', "names no time column"),
    ],
)
def test_a_mapping_that_does_not_fit_the_file(columns: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(MappingInvalid, match=said) as error:
        read(TWO, saved(tmp_path, f"[columns]\n{columns}\n"))
    assert error.value.where == "ride.csv"


def test_a_heading_that_stands_twice_needs_its_number(tmp_path: Path) -> None:
    text = table("Time,Power,Power", lambda i: f"{i},{150 + i},{140 + i}")
    with pytest.raises(MappingInvalid, match="stands 2 times"):
        read(text, saved(tmp_path, '[columns]\ntime = "Time"\npower_w = "Power"\n'))
    assert "# power_w = 3" in proposed_mapping_text(opened(text))


def test_headings_with_quotes_and_signs_survive_the_mapping(tmp_path: Path) -> None:
    text = table('Time,"Power ""bike"" \\ [W]",Herz–Rate ☂ (bpm)', lambda i: f"{i},{150 + i},120")
    mapping = load_mapping(saved(tmp_path, proposed_mapping_text(opened(text))))
    assert mapping.channels[POWER] == ('Power "bike" \\ [W]',)
    assert mapping.time_kind is TimeKind.SECONDS


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 200_000, b"[columns]\ntime=1\npower_w=" + b"[" * 5000])
def test_a_mapping_that_is_no_mapping(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "mapping.toml"
    path.write_bytes(content)
    with pytest.raises(MappingInvalid):
        load_mapping(path)


def test_a_missing_mapping(tmp_path: Path) -> None:
    with pytest.raises(MappingInvalid, match="cannot be read"):
        load_mapping(tmp_path / "none.toml")
    with pytest.raises(MappingInvalid, match="cannot be read"):
        load_mapping(tmp_path)


def test_a_mapping_saved_and_not_edited_says_that_it_names_no_power(tmp_path: Path) -> None:
    text = table("Time,Power,Power,Cadence", lambda i: f"{i},{150 + i},{140 + i},85")
    mapped = read(text, saved(tmp_path, proposed_mapping_text(opened(text))))
    assert not mapped.has(POWER)
    (said,) = (notice for notice in mapped.notices if notice.slug == "mapping_without_power")
    assert said.severity is Severity.WARNING
    assert "2 “Power”" in said.message or "“Power”" in said.message
    assert "Cadence" not in said.message
    assert "power_w in [columns]" in said.message


def test_a_mapping_that_names_the_power_says_nothing_of_it(tmp_path: Path) -> None:
    text = table("Time,Power,Power,Cadence", lambda i: f"{i},{150 + i},{140 + i},85")
    mapped = read(text, saved(tmp_path, '[columns]\ntime = "Time"\npower_w = 2\n'))
    assert "mapping_without_power" not in {notice.slug for notice in mapped.notices}
