"""The surface never falls, is not bent by outliers, and says how well it is known."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.alone_rides import MadeBike
from wattwitness.faults.alone.ride import ride_of
from wattwitness.model.recording import ChannelName, Recording, Source


def test_a_resistance_written_when_it_changes_holds_until_then() -> None:
    time_s = np.arange(100.0)
    level = np.full(100, np.nan)
    level[[0, 40]] = 12.0, 20.0
    source = Source(file_name="x", sha256="0", size_bytes=1, format_name="simulated")
    recording = Recording(
        source=source,
        time_s=time_s,
        dated=False,
        channels={ChannelName.POWER: np.full(100, 150.0), ChannelName.RESISTANCE: level},
    )
    ride = ride_of(recording)
    assert ride.resistance is None or (ride.resistance[39], ride.resistance[41]) == (12.0, 20.0)


@pytest.mark.parametrize("make", ["eddy", "air", "magnet", "friction"])
def test_the_truth_runs_bikes_rise_with_cadence_and_level(make: str) -> None:
    """Else the surface would be asked for what it must not do."""
    bike = MadeBike(make=make)  # type: ignore[arg-type]
    for level in (3.0, 8.0):
        power = bike.table_w(np.linspace(50, 110, 13), np.full(13, level))
        assert np.all(np.diff(power) > 0)
