"""Every table that can be written reads back to the same recording, through the opening of files."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording, Source
from wattwitness.readers.open import read_one
from wattwitness.writers.csv_table import CsvTable, TimeColumn, write_csv

SECONDS: FloatArray = np.arange(600, dtype=np.float64)
RIDE = Recording(
    source=Source(file_name="ride", sha256="0" * 64, size_bytes=0, format_name="made up"),
    time_s=1_768_212_000.0 + SECONDS * 1.0,
    dated=True,
    channels={
        ChannelName.POWER: np.where(SECONDS % 97 == 0, np.nan, 200.0 + 60 * np.sin(SECONDS / 20).round(2)),
        ChannelName.CADENCE: np.asarray(85.0 + SECONDS % 7, dtype=np.float64),
        ChannelName.HEART_RATE: np.asarray(120.0 + SECONDS // 20, dtype=np.float64),
        ChannelName.TORQUE: np.asarray(20.5 + SECONDS % 3, dtype=np.float64),
        ChannelName.SPEED: np.asarray(8.25 + SECONDS % 2, dtype=np.float64),
        ChannelName.LEFT_SHARE: np.asarray(48.5 + SECONDS % 2, dtype=np.float64),
    },
)


@pytest.mark.parametrize(("time", "delimiter"), list(itertools.product(TimeColumn, [",", ";", "\t"])))
def test_a_written_table_reads_back(time: TimeColumn, delimiter: str, tmp_path: Path) -> None:
    form = CsvTable(
        delimiter=delimiter,
        decimal_comma=delimiter != ",",
        time=time,
        preamble=("made up", "Start: 10:00"),
        line_end="\r\n",
    )
    write_csv(RIDE, tmp_path / "ride.csv", table=form)
    back = read_one(tmp_path / "ride.csv")
    np.testing.assert_allclose(back.time_s - back.time_s[0], SECONDS, atol=2e-3)
    assert set(back.channels) == set(RIDE.channels)
    for channel, values in RIDE.channels.items():
        np.testing.assert_allclose(back.channels[channel], values, atol=1e-6)
