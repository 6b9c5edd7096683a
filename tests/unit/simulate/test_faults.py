"""Each fault does what it says, where it says."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName
from wattwitness.simulate.clocks import Clock
from wattwitness.simulate.efforts import Steady
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import Meter, mean_of
from wattwitness.simulate.ride import RideSpec, SimulatedRide, simulate_ride
from wattwitness.simulate.rider import MOTOR, Rider


def ridden(fault: Fault, *, rider: Rider = MOTOR, width_s: float = 1.0, on_reference: bool = False) -> SimulatedRide:
    broken = Meter(name="a", faults=(fault,), display=mean_of(width_s), power_step_w=0.0)
    sound = Meter(name="b", power_step_w=0.0, clock=Clock(starts_s=100.0))
    meters = (broken, sound) if on_reference else (sound, broken)
    return simulate_ride(RideSpec(meters=meters, effort=Steady(power_w=200.0), rider=rider, duration_s=1200.0), 1)


def power(ride: SimulatedRide) -> FloatArray:
    return ride.recordings[1].channels[ChannelName.POWER]


def test_drop_and_surge() -> None:
    for kind, depth_pct in ((FaultKind.DROP, -30.0), (FaultKind.SURGE, 25.0)):
        power_w = power(ridden(Fault(kind=kind, start_s=400.0, duration_s=60.0, depth_pct=depth_pct)))
        assert power_w[:400] == pytest.approx(200.0)
        assert power_w[402:460] == pytest.approx(200.0 * (1.0 + depth_pct / 100.0))
        assert power_w[462:] == pytest.approx(200.0)


def test_edges_stand_at_half_depth_at_start_and_end() -> None:
    power_w = power(ridden(Fault(kind=FaultKind.DROP, start_s=400.0, duration_s=60.0, depth_pct=-40.0, edge_s=10.0)))
    # A sample is the mean of the second before it, so half depth is crossed half a second later.
    assert np.interp(400.5, np.arange(1200), power_w) == pytest.approx(160.0, abs=1.5)
    assert np.interp(460.5, np.arange(1200), power_w) == pytest.approx(160.0, abs=1.5)
    assert power_w[394] == pytest.approx(200.0)
    assert power_w[430] == pytest.approx(120.0)


def test_a_sensors_fault_passes_through_the_display() -> None:
    power_w = power(ridden(Fault(kind=FaultKind.DROP, start_s=400.0, duration_s=60.0, depth_pct=-50.0), width_s=10.0))
    assert power_w[405] == pytest.approx(150.0, abs=1.0)
    assert power_w[411] == pytest.approx(100.0, abs=1.0)


def test_a_step_stays() -> None:
    ride = ridden(Fault(kind=FaultKind.STEP, start_s=400.0, duration_s=60.0, depth_pct=8.0))
    assert power(ride)[402:] == pytest.approx(216.0)
    (episode,) = ride.truth.units[0].episodes
    assert episode.end_s == ride.recordings[0].duration_s


def test_faults_of_the_record() -> None:
    frozen = power(ridden(Fault(kind=FaultKind.FROZEN, start_s=400.0, duration_s=60.0), rider=Rider()))
    assert np.unique(frozen[400:460]).size == 1
    assert frozen[400] == frozen[399]
    assert np.unique(frozen[300:360]).size > 30
    missing = power(ridden(Fault(kind=FaultKind.MISSING, start_s=400.0, duration_s=60.0)))
    assert np.flatnonzero(np.isnan(missing)).tolist() == list(range(400, 460))
    zero = power(ridden(Fault(kind=FaultKind.ZERO, start_s=400.0, duration_s=60.0)))
    assert np.flatnonzero(zero == 0.0).tolist() == list(range(400, 460))
    spike = power(ridden(Fault(kind=FaultKind.SPIKE, start_s=400.0, duration_s=1.0, spike_w=47_000.0)))
    assert np.flatnonzero(spike > 1000.0).tolist() == [400]


def test_truth_lists_faults_of_both_meters_on_the_references_time() -> None:
    fault = Fault(kind=FaultKind.DROP, start_s=400.0, duration_s=60.0, depth_pct=-30.0)
    for on_reference, start_s in ((False, 300.0), (True, 400.0)):
        (episode,) = ridden(fault, on_reference=on_reference).truth.units[0].episodes
        assert episode.meter == "a"
        assert (episode.onset_s, episode.end_s) == pytest.approx((start_s, start_s + 60.0))


def test_bias_with_and_without_faults() -> None:
    # A drop of 30 % over 60 of the 1100 common seconds of a steady effort.
    unit = ridden(Fault(kind=FaultKind.DROP, start_s=400.0, duration_s=60.0, depth_pct=-30.0)).truth.units[0]
    assert unit.bias_without_faults_pct == pytest.approx(0.0, abs=1e-6)
    assert unit.bias_pct == pytest.approx(-30.0 * 60.0 / 1100.0, abs=0.01)


@pytest.mark.parametrize(
    ("kind", "depth_pct"), [(FaultKind.DROP, -20.0), (FaultKind.STEP, -20.0), (FaultKind.FROZEN, None)]
)
def test_only_what_has_a_depth_states_one(kind: FaultKind, depth_pct: float | None) -> None:
    (episode,) = ridden(Fault(kind=kind, start_s=400.0)).truth.units[0].episodes
    assert episode.depth_pct == depth_pct


def test_missing_power_is_no_common_second() -> None:
    unit = ridden(Fault(kind=FaultKind.MISSING, start_s=400.0, duration_s=60.0)).truth.units[0]
    assert unit.common_seconds == pytest.approx(1100 - 60, abs=1)


@pytest.mark.parametrize(("kind", "depth_pct"), [(FaultKind.DROP, 5.0), (FaultKind.SURGE, -5.0)])
def test_a_drop_falls_and_a_surge_rises(kind: FaultKind, depth_pct: float) -> None:
    with pytest.raises(ValueError, match="cannot have a depth"):
        Fault(kind=kind, start_s=1.0, depth_pct=depth_pct)
