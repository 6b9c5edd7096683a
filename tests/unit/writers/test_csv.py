"""CSV as the standard library's csv module and pandas read it, and the other tables it can be asked for."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.unit.writers.rides import START_UTC_S, awkward, with_channels
from wattwitness.model.errors import DateMissing
from wattwitness.model.recording import ChannelName
from wattwitness.writers.csv_table import HEADINGS, CsvTable, TimeColumn, write_csv


def rows(path: Path, delimiter: str = ",") -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text("utf-8")), delimiter=delimiter))


def test_the_plain_table_through_pandas(tmp_path: Path) -> None:
    ride = awkward()
    write_csv(ride, tmp_path / "a.csv")
    table = pd.read_csv(tmp_path / "a.csv", parse_dates=["time (UTC)"])
    assert list(table.columns) == ["time (UTC)", *HEADINGS.values()]
    for name, heading in HEADINGS.items():
        np.testing.assert_array_equal(table[heading], ride.channels[name], err_msg=heading)
    elapsed_s = (table["time (UTC)"] - pd.Timestamp(START_UTC_S, unit="s", tz="UTC")).dt.total_seconds()
    np.testing.assert_array_equal(elapsed_s, ride.time_s - START_UTC_S)


def test_undated_counts_from_its_own_zero(tmp_path: Path) -> None:
    write_csv(awkward(dated=False), tmp_path / "a.csv")
    table = rows(tmp_path / "a.csv")
    assert table[0][0] == "elapsed (s)"
    assert [row[0] for row in table[1:4]] == ["0", "1", "2"]


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        (TimeColumn.ISO_UTC, ["2026-01-12T10:00:00.000Z", "2026-01-12T10:00:00.250Z"]),
        (TimeColumn.CLOCK_TIME, ["10:00:00.000", "10:00:00.250"]),
        (TimeColumn.EPOCH_S, ["1768212000", "1768212000.25"]),
        (TimeColumn.EPOCH_MS, ["1768212000000", "1768212000250"]),
        (TimeColumn.ELAPSED_S, ["0", "0.25"]),
        (TimeColumn.ELAPSED_MIN_S, ["00:00.000", "00:00.250"]),
        (TimeColumn.DECIMAL_MINUTES, ["0.000000", "0.004167"]),
    ],
)
def test_kinds_of_time(tmp_path: Path, kind: TimeColumn, expected: list[str]) -> None:
    write_csv(awkward(step_s=0.25), tmp_path / "a.csv", table=CsvTable(time=kind))
    assert [row[0] for row in rows(tmp_path / "a.csv")[1:3]] == expected


def test_minutes_go_on_past_the_hour(tmp_path: Path) -> None:
    ride = awkward(step_s=400.0)
    write_csv(ride, tmp_path / "a.csv", table=CsvTable(time=TimeColumn.ELAPSED_MIN_S))
    assert rows(tmp_path / "a.csv")[20][0] == "127:10"


def test_another_countrys_table(tmp_path: Path) -> None:
    form = CsvTable(
        delimiter=";",
        decimal_comma=True,
        time=TimeColumn.ELAPSED_S,
        preamble=("studio bike", "winter study"),
        headings={ChannelName.POWER: "Leistung [W]"},
        line_end="\r\n",
        byte_order_mark=True,
    )
    write_csv(awkward(), tmp_path / "a.csv", table=form)
    content = (tmp_path / "a.csv").read_bytes()
    assert content.startswith(b"\xef\xbb\xbfstudio bike\r\nwinter study\r\nelapsed (s);Leistung [W];")
    table = rows(tmp_path / "a.csv", ";")
    assert table[3][3:6] == ["120", "20", "40"]
    assert table[4][4] == "20,03125"


def test_a_date_only_where_it_is_asked_for(tmp_path: Path) -> None:
    ride = awkward(dated=False)
    with pytest.raises(DateMissing):
        write_csv(ride, tmp_path / "a.csv", table=CsvTable(time=TimeColumn.EPOCH_S))
    write_csv(ride, tmp_path / "b.csv", start_utc_s=START_UTC_S)
    assert rows(tmp_path / "b.csv")[1][0] == "2026-01-12T10:00:00Z"


def test_parts_of_a_watt_and_missing_stay(tmp_path: Path) -> None:
    write_csv(with_channels(awkward(), {ChannelName.POWER: [0.0, np.nan, 200.5, 1e-6]}), tmp_path / "a.csv")
    assert [row[1] for row in rows(tmp_path / "a.csv")[1:]] == ["0", "", "200.5", "0.000001"]


def test_a_table_nobody_could_read_is_refused() -> None:
    with pytest.raises(ValueError, match="decimal comma"):
        CsvTable(decimal_comma=True)
