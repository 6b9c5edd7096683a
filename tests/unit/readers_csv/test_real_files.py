"""Two console exports by other people (see the README beside them for their licences)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.unit.readers_csv.reading import read, slugs
from wattwitness.model.recording import ChannelName

RECORDINGS = Path(__file__).resolve().parents[3].parent / "shared" / "recordings"


def content(name: str) -> bytes:
    path = RECORDINGS / name
    if not path.is_file():
        pytest.skip(f"no folder of recordings beside the project: {name} is not there")
    return path.read_bytes()


def test_console_a() -> None:
    """33 minutes at 1 Hz; the heart-rate strap joins after 18 s. Values read off the file."""
    recording = read(content("csv-console-a.csv"))
    assert not recording.dated
    np.testing.assert_array_equal(recording.time_s, np.arange(1981))
    power = recording.channels[ChannelName.POWER]
    assert power[:5].tolist() == [20.0, 1.0, 1.0, 2.0, 3.0]
    assert power[-5:].tolist() == [17.0, 8.0, 8.0, 8.0, 8.0]
    assert recording.channels[ChannelName.CADENCE][0] == 49.0
    assert recording.channels[ChannelName.RESISTANCE][-5:].tolist() == [6.0, 1.0, 1.0, 1.0, 1.0]
    assert recording.channels[ChannelName.SPEED][0] == pytest.approx(6.56 * 1609.344 / 3600)
    assert np.count_nonzero(np.isnan(recording.channels[ChannelName.HEART_RATE])) == 18


def test_console_b_with_nul_bytes_and_stage_totals() -> None:
    """The file states its own totals: 42:08 min, mean 147 W and 72 rpm, highest 393 W and 115 rpm."""
    recording = read(content("csv-console-b-nul.csv"))
    np.testing.assert_array_equal(recording.time_s, 1.0 + np.arange(2528))
    power, cadence = recording.channels[ChannelName.POWER], recording.channels[ChannelName.CADENCE]
    assert int(power.mean()) == 147
    assert int(cadence.mean()) == 72
    assert power.max() == 393.0
    assert cadence.max() == 115.0
    assert not recording.has(ChannelName.HEART_RATE)
    said = slugs(recording)
    assert said["nul_bytes"] == 2516
    assert said["rows_without_time"] == 5 * 13
