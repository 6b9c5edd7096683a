"""The truth against the recordings themselves, and against the errors that were put in."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.model.recording import ChannelName
from wattwitness.simulate.clocks import Clock
from wattwitness.simulate.efforts import GroupRide, Mixed, Steady
from wattwitness.simulate.meters import Dropouts, Meter, Settling, mean_of
from wattwitness.simulate.ride import RideSpec, simulate_ride

PEDALS = Meter(name="pedals")


def test_bias_is_the_gain_where_the_gain_is_all() -> None:
    spec = RideSpec(meters=(PEDALS, Meter(name="bike", gain=0.957, display=mean_of(8.0))), effort=GroupRide())
    assert simulate_ride(spec, 1).truth.bias_pct == pytest.approx(-4.3, abs=1e-5)


def test_bias_is_of_unit_over_reference() -> None:
    spec = RideSpec(meters=(Meter(name="pedals", gain=1.02), Meter(name="bike", gain=0.98)), effort=Mixed())
    assert simulate_ride(spec, 1).truth.bias_pct == pytest.approx(100.0 * (0.98 / 1.02 - 1.0), abs=1e-5)


def test_chance_is_no_part_of_the_nominal_bias_but_of_the_realised_one() -> None:
    bike = Meter(name="bike", gain=0.95, wander_pct=2.0, wander_tau_s=40.0, noise_pct=2.0)
    spec = RideSpec(meters=(PEDALS, bike), effort=Steady(), duration_s=900.0)
    units = [simulate_ride(spec, seed).truth.units[0] for seed in range(60)]
    assert all(unit.bias_pct == pytest.approx(-5.0, abs=1e-6) for unit in units)
    spread = np.std([unit.realised_bias_pct - unit.bias_pct for unit in units])
    # Mean of an Ornstein-Uhlenbeck process over T: variance 2·s²·(tau/T)·(1 - (tau/T)·(1 - exp(-T/tau))) (textbook).
    share = 40.0 / 900.0
    assert spread == pytest.approx(0.95 * 2.0 * math.sqrt(2.0 * share * (1.0 - share)), rel=0.3)


def test_realised_bias_is_what_the_recordings_hold() -> None:
    bike = Meter(name="bike", gain=1.03, wander_pct=2.0, noise_pct=3.0, settling=Settling(start_pct=-6.0, tau_min=5.0))
    ride = simulate_ride(RideSpec(meters=(PEDALS, bike), effort=GroupRide()), 3)
    reference_w, unit_w = (recording.channels[ChannelName.POWER].sum() for recording in ride.recordings)
    assert ride.truth.units[0].realised_bias_pct == pytest.approx(100.0 * (unit_w / reference_w - 1.0), abs=0.02)


def test_common_seconds_are_those_both_recorded() -> None:
    bike = Meter(name="bike", clock=Clock(offset_s=3.4, starts_s=120.0, stops_s=3000.0))
    unit = simulate_ride(RideSpec(meters=(PEDALS, bike)), 1).truth.units[0]
    assert unit.common_seconds == pytest.approx(2880, abs=1)


def test_lost_samples_are_no_common_seconds() -> None:
    bike = Meter(name="bike", dropouts=Dropouts(share=0.05))
    ride = simulate_ride(RideSpec(meters=(PEDALS, bike)), 1)
    lost = int(np.isnan(ride.recordings[1].channels[ChannelName.POWER]).sum())
    assert lost > 100
    assert ride.truth.units[0].common_seconds == 3600 - lost


def test_without_power_there_is_no_bias_but_a_clock() -> None:
    bike = Meter(name="bike", channels=(ChannelName.CADENCE,), clock=Clock(offset_s=3.0))
    unit = simulate_ride(RideSpec(meters=(PEDALS, bike)), 1).truth.units[0]
    assert unit.common_seconds == 0
    assert math.isnan(unit.bias_pct)
    assert unit.offset_s == pytest.approx(3.0)


def test_the_true_series_is_what_a_perfect_meter_records() -> None:
    exact = Meter(name="exact", power_step_w=0.0, cadence_step_rpm=0.0)
    ride = simulate_ride(RideSpec(meters=(exact,), effort=GroupRide(), duration_s=600.0), 1)
    truth, recording = ride.truth, ride.recordings[0]
    np.testing.assert_allclose(recording.channels[ChannelName.POWER][1:], truth.power_w[:-1], atol=2e-6)
    np.testing.assert_allclose(recording.channels[ChannelName.CADENCE][1:], truth.cadence_rpm[:-1], atol=2e-6)
    assert truth.units == ()
    assert truth.time_s[0] == 1.0


def test_three_meters_have_two_truths() -> None:
    spec = RideSpec(meters=(PEDALS, Meter(name="crank", gain=1.01), Meter(name="bike", gain=0.9)))
    truth = simulate_ride(spec, 1).truth
    assert [unit.name for unit in truth.units] == ["crank", "bike"]
    assert [unit.bias_pct for unit in truth.units] == pytest.approx([1.0, -10.0], abs=1e-5)
    assert (truth.bias_pct, truth.offset_s, truth.drift_ppm, truth.jumps) == (truth.units[0].bias_pct, 0.0, 0.0, ())


def test_meters_do_not_share_their_noise() -> None:
    noisy = [Meter(name=name, noise_pct=3.0) for name in ("a", "b")]
    ride = simulate_ride(RideSpec(meters=tuple(noisy), effort=Steady()), 1)
    first, second = (recording.channels[ChannelName.POWER] / ride.truth.power_w.mean() for recording in ride.recordings)
    assert (first - second).std() == pytest.approx(0.03 * math.sqrt(2.0), rel=0.1)


def test_same_seed_same_ride_other_seed_other_ride() -> None:
    spec = RideSpec(meters=(PEDALS, Meter(name="bike", wander_pct=2.0)), effort=GroupRide(), duration_s=300.0)
    one, again, other = (simulate_ride(spec, seed) for seed in (1, 1, 2))
    for first, second, third in zip(one.recordings, again.recordings, other.recordings, strict=True):
        assert first.source.sha256 == second.source.sha256 != third.source.sha256
        assert np.array_equal(first.channels[ChannelName.POWER], second.channels[ChannelName.POWER])
