"""A channel on whole seconds: samples as they stand, nothing invented."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.clock.rides import recording
from wattwitness.clock.sampling import BRIDGE_HZ, SNAP_S, grid_start_s, main_part, sampled
from wattwitness.model.recording import ChannelName

CADENCE = ChannelName.CADENCE


def test_whole_seconds_are_taken_as_they_stand_whatever_their_phase() -> None:
    """Stamps at .37 of every second are a grid of their own; a lost second stays missing."""
    time_s = 1.7e9 + 0.37 + np.array([0.0, 1, 2, 4, 5])
    made = recording(time_s, dated=True, cadence=np.array([80.0, 81, 82, 84, 85]))
    on_grid = sampled(made, CADENCE, grid_start_s(made), 6)
    assert on_grid.values[[0, 1, 2, 4, 5]].tolist() == [80, 81, 82, 84, 85]
    assert np.isnan(on_grid.values[3])
    assert np.all(on_grid.bridge_share == 1)


def test_samples_every_1_26_s_are_joined_by_lines_whose_response_is_known() -> None:
    """A straight line through straight values changes nothing; the response falls with frequency and starts at 1."""
    time_s = 1.26 * np.arange(400)
    made = recording(time_s, cadence=np.asarray(50 + 0.1 * time_s))
    on_grid = sampled(made, CADENCE, 0.0, 500)
    assert on_grid.values == pytest.approx(50 + 0.1 * np.arange(500), abs=0.11 * SNAP_S)
    assert on_grid.bridge_share[0] == pytest.approx(1.0)
    # Averaged over all positions between two samples h apart: sinc²(f·h).
    assert on_grid.bridge_share == pytest.approx(np.sinc(BRIDGE_HZ * 1.26) ** 2, abs=0.02)


def test_sparse_samples_stay_alone_and_are_filled_beside() -> None:
    """Every 3 s: two of three seconds missing, and lines between them for the rough search only."""
    time_s = 3.0 * np.arange(50)
    made = recording(time_s, cadence=80 + np.arange(50.0))
    on_grid = sampled(made, CADENCE, 0.0, 148)
    assert np.isfinite(on_grid.values).sum() == 50
    assert np.isfinite(on_grid.filled).sum() == 148
    assert on_grid.filled[1] == pytest.approx(80 + 1 / 3)


def test_a_gap_is_not_filled() -> None:
    """A minute without samples is missing in both."""
    time_s = np.concatenate([3.0 * np.arange(20), 120 + 3.0 * np.arange(20)])
    on_grid = sampled(recording(time_s, cadence=np.full(40, 80.0)), CADENCE, 0.0, 180)
    assert np.isnan(on_grid.filled[60:118]).all()


def test_one_wrong_stamp_does_not_make_a_recording_years_long() -> None:
    """The fullest part between long silences is searched."""
    time_s = np.concatenate([[0.0], 1.7e9 + np.arange(1000.0)])
    assert main_part(time_s) == slice(1, 1001)
    assert main_part(np.arange(1000.0)) == slice(0, 1000)


def test_what_no_ride_can_show_counts_as_missing() -> None:
    """Numbers beyond any unit would swamp every sum."""
    made = recording(np.arange(5.0), cadence=np.array([80.0, 1e300, 81, np.nan, 82]))
    assert np.isnan(sampled(made, CADENCE, 0.0, 5).values[[1, 3]]).all()
