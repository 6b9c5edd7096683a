"""Every scenario goes out in every format and comes back as it was."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wattwitness.model.recording import ChannelName
from wattwitness.model.response import ResponseKind
from wattwitness.readers.open import read_recordings
from wattwitness.simulate.meters import Display
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import SCENARIOS
from wattwitness.writers.registry import WRITERS

SHORT_S = 400.0


def shortened(spec: RideSpec) -> RideSpec:
    """The ride's beginning, so that reading it back takes little time; whole where a recorder is paused later on."""
    paused = any(meter.clock.pauses for meter in spec.meters)
    return spec if paused else replace(spec, duration_s=min(spec.duration_s, SHORT_S))


@pytest.mark.parametrize("name", SCENARIOS.names())
def test_out_and_back_in_every_format(name: str, tmp_path: Path) -> None:
    spec = shortened(SCENARIOS.get(name).rides[-1])
    for recording in simulate_ride(spec, 2).recordings:
        for writer in WRITERS:
            path = tmp_path / f"{recording.label}{writer.suffix}"
            writer.write(recording, path)
            (found,) = read_recordings(path)
            np.testing.assert_array_equal(found.time_s, recording.time_s)
            np.testing.assert_array_equal(found.channels[ChannelName.POWER], recording.channels[ChannelName.POWER])
            assert set(found.channels) == set(recording.channels) & writer.channels


def mean_lag_s(display: Display) -> float:
    """How late a display is on average, in seconds."""
    if display.kind is ResponseKind.EXPONENTIAL:
        keep = math.exp(-1.0 / display.tau_s)
        return display.delay_s + keep / (1.0 - keep)
    return display.delay_s + (display.width_s - 1.0) / 2.0


@pytest.mark.parametrize("name", SCENARIOS.names())
def test_the_truth_is_what_the_recordings_show(name: str) -> None:
    """The ratio of what was recorded, the unit moved back by its display's mean lag, is the realised bias."""
    for spec in SCENARIOS.get(name).rides:
        ride = simulate_ride(spec, 2)
        reference, *units = ride.recordings
        for unit, truth in zip(units, ride.truth.units, strict=True):
            if truth.jumps or unit.event_driven:
                continue
            on_reference = unit.time_s + truth.offset_s - mean_lag_s(truth.display)
            shared = (reference.time_s >= on_reference[0]) & (reference.time_s <= on_reference[-1])
            unit_w = np.interp(reference.time_s[shared], on_reference, unit.channels[ChannelName.POWER])
            found_pct = 100.0 * (unit_w.sum() / reference.channels[ChannelName.POWER][shared].sum() - 1.0)
            assert found_pct == pytest.approx(truth.realised_bias_pct, abs=0.15)
            assert int(shared.sum()) == pytest.approx(truth.common_seconds, abs=4)
