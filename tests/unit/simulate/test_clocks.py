"""Clocks: what a comparison would report, told from the recordings alone.

Under a ramp ridden by a motor, power tells the true time of every sample, so that each recorder's clock can be read off
its own file without any of the simulator's bookkeeping.
"""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.simulate.clocks import Clock, RecorderPause
from wattwitness.simulate.efforts import Ramp
from wattwitness.simulate.meters import Meter, Sampling
from wattwitness.simulate.ride import RideSpec, SimulatedRide, simulate_ride
from wattwitness.simulate.rider import MOTOR

DURATION_S = 3600.0
LOW_W, HIGH_W = 100.0, 460.0
SLOPE = (HIGH_W - LOW_W) / DURATION_S


def pair(reference: Clock, unit: Clock, sampling: Sampling | None = None) -> SimulatedRide:
    meters = (
        Meter(name="pedals", power_step_w=0.0, clock=reference),
        Meter(name="bike", power_step_w=0.0, clock=unit, sampling=sampling or Sampling()),
    )
    effort = Ramp(start_w=LOW_W, end_w=HIGH_W)
    return simulate_ride(RideSpec(meters=meters, effort=effort, rider=MOTOR, duration_s=DURATION_S), 1)


def true_time(recording: Recording) -> FloatArray:
    """True time of each sample: the motor's one-second lag and the one-second mean shift all recordings alike."""
    return np.asarray((recording.channels[ChannelName.POWER] - LOW_W) / SLOPE)


def seconds_to_add(ride: SimulatedRide) -> tuple[FloatArray, FloatArray]:
    """For every unit sample well inside the ride: its time on the reference's clock and the seconds to add."""
    reference, unit = ride.recordings
    inside = (true_time(unit) > 20.0) & (true_time(unit) < DURATION_S - 20.0)
    on_reference = np.interp(true_time(unit)[inside], true_time(reference), reference.time_s)
    return on_reference - reference.time_s[0], on_reference - unit.time_s[inside]


@pytest.mark.parametrize("offset_s", [0.0, 12.25, -431.7])
@pytest.mark.parametrize("drift_ppm", [0.0, 120.0, -120.0])
def test_offset_and_drift_by_the_projects_signs(offset_s: float, drift_ppm: float) -> None:
    ride = pair(Clock(), Clock(offset_s=offset_s, drift_ppm=drift_ppm, starts_s=3.0, stops_s=3500.0))
    at_s, added_s = seconds_to_add(ride)
    slope, _ = np.polyfit(at_s, added_s, 1)
    middle_s = ride.recordings[0].duration_s / 2.0
    assert ride.truth.offset_s == pytest.approx(float(np.interp(middle_s, at_s, added_s)), abs=2e-3)
    assert ride.truth.drift_ppm == pytest.approx(1e6 * slope, abs=1.0)
    assert ride.truth.drift_ppm == pytest.approx(drift_ppm, abs=0.1)
    assert ride.truth.jumps == ()


def test_a_clock_that_runs_fast_has_a_negative_drift() -> None:
    ride = pair(Clock(), Clock(drift_ppm=-1000.0))
    shown_s = ride.recordings[1].duration_s
    assert shown_s > DURATION_S


def test_the_references_own_clock_counts_too() -> None:
    ride = pair(Clock(offset_s=5.0, drift_ppm=40.0), Clock(offset_s=8.5, drift_ppm=-60.0))
    at_s, added_s = seconds_to_add(ride)
    slope, _ = np.polyfit(at_s, added_s, 1)
    assert ride.truth.offset_s == pytest.approx(3.5, abs=1e-3)
    assert ride.truth.drift_ppm == pytest.approx(1e6 * slope, abs=1.0)


@pytest.mark.parametrize("of_reference", [False, True])
def test_a_pause_that_leaves_no_gap_is_a_jump(of_reference: bool) -> None:
    paused = Clock(pauses=(RecorderPause(start_s=1000.0, duration_s=37.0, shows_gap=False),))
    ride = pair(paused, Clock(offset_s=2.0)) if of_reference else pair(Clock(), paused)
    stopped = ride.recordings[0 if of_reference else 1]
    assert np.diff(stopped.time_s).max() == pytest.approx(1.0)
    (jump,) = ride.truth.jumps
    at_s, added_s = seconds_to_add(ride)
    before, after = np.median(added_s[at_s < 900.0]), np.median(added_s[at_s > 1100.0])
    assert jump.step_s == pytest.approx(after - before, abs=0.02)
    assert jump.step_s == pytest.approx(-37.0 if of_reference else 37.0, abs=0.01)
    assert jump.at_s == pytest.approx(1000.0, abs=1.0)
    assert jump.until_s - jump.at_s == pytest.approx(0.0 if of_reference else 37.0, abs=0.01)
    assert ride.truth.offset_s == pytest.approx(
        float(np.interp(ride.recordings[0].duration_s / 2.0, at_s, added_s)), abs=0.02
    )


def test_a_pause_in_real_time_is_a_gap_and_no_jump() -> None:
    ride = pair(Clock(), Clock(offset_s=4.0, pauses=(RecorderPause(start_s=1000.0, duration_s=37.0),)))
    unit = ride.recordings[1]
    assert np.diff(unit.time_s).max() == pytest.approx(37.0, abs=1.0)
    assert ride.truth.jumps == ()
    (pause,) = unit.pauses
    start = 1_768_212_000.0 + 1000.0 - 4.0
    assert (pause.start_s, pause.end_s) == pytest.approx((start, start + 37.0), abs=0.001)
    assert ride.truth.units[0].common_seconds == pytest.approx(3600 - 37, abs=2)


def test_an_unannounced_gap_is_not_told_of() -> None:
    quiet = Clock(pauses=(RecorderPause(start_s=1000.0, duration_s=37.0, announced=False),))
    assert pair(Clock(), quiet).recordings[1].pauses == ()


def test_an_undated_recording_starts_at_its_own_zero() -> None:
    clock = Clock(dated=False, starts_s=60.0, pauses=(RecorderPause(start_s=500.0, duration_s=20.0),))
    ride = pair(Clock(), clock)
    unit = ride.recordings[1]
    assert not unit.dated
    assert unit.time_s[0] == 0.0
    at_s, added_s = seconds_to_add(ride)
    assert ride.truth.offset_s == pytest.approx(float(np.interp(1799.5, at_s, added_s)), abs=2e-3)
    (pause,) = unit.pauses
    assert (pause.start_s, pause.end_s) == pytest.approx((440.0, 460.0), abs=0.001)


def test_whole_and_broken_seconds() -> None:
    whole, broken = (pair(Clock(), Clock(offset_s=0.37, whole_seconds=kind)) for kind in (True, False))
    assert not np.any(whole.recordings[1].time_s % 1.0)
    parts = broken.recordings[1].time_s % 1.0
    assert np.ptp(parts) < 1e-6
    assert 0.0 < parts[0] < 1.0
    assert whole.truth.offset_s == broken.truth.offset_s == pytest.approx(0.37)


@pytest.mark.parametrize("sampling", [Sampling(step_s=0.25), Sampling(step_s=1.26), Sampling(step_s=3.0)])
def test_the_step_of_sampling_does_not_move_the_clock(sampling: Sampling) -> None:
    ride = pair(Clock(), Clock(offset_s=7.0), sampling)
    _, added_s = seconds_to_add(ride)
    assert np.median(added_s) == pytest.approx(7.0, abs=2e-3)


@pytest.mark.parametrize(
    "pauses",
    [
        (RecorderPause(start_s=5000.0, duration_s=10.0),),
        (RecorderPause(start_s=100.0, duration_s=50.0), RecorderPause(start_s=120.0, duration_s=50.0)),
    ],
)
def test_impossible_pauses_are_refused(pauses: tuple[RecorderPause, ...]) -> None:
    with pytest.raises(ValueError, match="pauses"):
        pair(Clock(), Clock(pauses=pauses))
