"""Each error of a meter, alone, against what it should do to the reading."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.efforts import Effort, GroupRide, Intervals, Steady
from wattwitness.simulate.meters import (
    Dropouts,
    HeartSensor,
    Meter,
    PowerSource,
    Sampling,
    Settling,
    exponential,
    mean_of,
)
from wattwitness.simulate.ride import RideSpec, SimulatedRide, simulate_ride
from wattwitness.simulate.rider import MOTOR, Rider

FINE = Meter(name="reference", power_step_w=0.0, cadence_step_rpm=0.0, channels=tuple(ChannelName))
STEP = Intervals(on_s=300.0, off_s=300.0, on_w=300.0, off_w=100.0)


def seen(meter: Meter, effort: Effort, rider: Rider = MOTOR, *, duration_s: float = 600.0, seed: int = 1) -> FloatArray:
    """Power as ``meter`` records it."""
    return both(meter, effort, rider, duration_s=duration_s, seed=seed).recordings[1].channels[ChannelName.POWER]


def both(
    meter: Meter,
    effort: Effort,
    rider: Rider = MOTOR,
    *,
    duration_s: float = 600.0,
    seed: int = 1,
    bike: ResistanceBike | None = None,
) -> SimulatedRide:
    spec = RideSpec(meters=(FINE, meter), effort=effort, rider=rider, duration_s=duration_s, bike=bike)
    return simulate_ride(spec, seed)


UNIT = replace(FINE, name="unit")


@pytest.mark.parametrize(
    ("change", "expected_w"),
    [
        ({"gain": 0.95}, 190.0),
        ({"loss_w": 2.5, "loss_pct": 1.2}, 195.1),
        # Set over true, where the unit is the one set wrong.
        ({"crank_set_mm": 170.0, "crank_true_mm": 172.5}, 200.0 * 170.0 / 172.5),
        # 1 N·m of zero error: 9.42 W at 90 rpm, 2·pi·n/60 (physics, recomputed).
        ({"zero_nm": 1.0}, 200.0 + 2.0 * math.pi * 90.0 / 60.0),
        ({"zero_nm": -1.0}, 200.0 - 2.0 * math.pi * 90.0 / 60.0),
        ({"per_10_rpm_pct": 2.0}, 204.0),
        ({"per_100_w_pct": 5.0}, 200.0),
    ],
    ids=lambda value: "-".join(value) if isinstance(value, dict) else "",
)
def test_systematic_errors(change: dict[str, float], expected_w: float) -> None:
    unit = replace(UNIT, **change)  # type: ignore[arg-type]
    assert seen(unit, Steady(power_w=200.0, cadence_rpm=90.0)) == pytest.approx(expected_w, abs=1e-5)


def test_error_that_grows_with_power() -> None:
    power_w = seen(replace(UNIT, per_100_w_pct=5.0), STEP)
    assert power_w[290] == pytest.approx(315.0, abs=0.1)
    assert power_w[590] == pytest.approx(95.0, abs=0.1)


def test_left_only_doubled_reads_twice_the_left_share() -> None:
    rider = replace(MOTOR, left_share_pct=48.0)
    ride = both(replace(UNIT, one_sided=True), Steady(power_w=480.0), rider, duration_s=1800.0)
    assert ride.truth.bias_pct == pytest.approx(2.0 * 48.0 - 100.0, abs=0.5)


def test_settling_dies_away() -> None:
    power_w = seen(replace(UNIT, settling=Settling(start_pct=-8.0, tau_min=2.0)), Steady(power_w=200.0))
    assert power_w[1] == pytest.approx(184.0, abs=0.3)
    assert power_w[120] == pytest.approx(200.0 * (1 - 0.08 * math.exp(-1.0)), abs=0.1)
    assert power_w[-1] == pytest.approx(200.0, abs=0.2)


def test_zero_drifts_with_the_room() -> None:
    ride = both(
        replace(UNIT, zero_nm_per_k=0.1), Steady(cadence_rpm=90.0), replace(MOTOR, warming_c=3.0), duration_s=3600.0
    )
    unit_w = ride.recordings[1].channels[ChannelName.POWER]
    warmed = 3.0 * (1.0 - math.exp(-3.0))
    assert unit_w[0] == pytest.approx(200.0, abs=0.05)
    assert unit_w[-1] - 200.0 == pytest.approx(0.1 * warmed * 3.0 * math.pi, abs=0.02)


def test_noise_and_wander_have_their_spread() -> None:
    noisy = seen(replace(UNIT, noise_pct=4.0), Steady(power_w=200.0), duration_s=3600.0)
    assert noisy.std() / 200.0 == pytest.approx(0.04, rel=0.05)
    assert float(np.corrcoef(noisy[:-1], noisy[1:])[0, 1]) == pytest.approx(0.0, abs=0.05)
    spreads = [
        seen(
            replace(UNIT, wander_pct=2.0, wander_tau_s=20.0), Steady(power_w=200.0), duration_s=1800.0, seed=seed
        ).std()
        for seed in range(5)
    ]
    assert np.mean(spreads) / 200.0 == pytest.approx(0.02, rel=0.1)


def test_mean_display_is_the_mean_of_the_last_seconds() -> None:
    ride = both(replace(UNIT, display=mean_of(8.0)), GroupRide(), Rider())
    prompt, late = (recording.channels[ChannelName.POWER] for recording in ride.recordings)
    expected = np.convolve(prompt, np.full(8, 1 / 8), mode="valid")
    np.testing.assert_allclose(late[7:], expected, atol=1e-5)


def test_exponential_display_goes_from_second_to_second() -> None:
    ride = both(replace(UNIT, display=exponential(4.0)), GroupRide(), Rider())
    prompt, late = (recording.channels[ChannelName.POWER] for recording in ride.recordings)
    keep = math.exp(-1.0 / 4.0)
    np.testing.assert_allclose(late[1:], keep * late[:-1] + (1.0 - keep) * prompt[1:], atol=1e-5)


def test_delay_shifts_by_its_seconds() -> None:
    ride = both(replace(UNIT, display=mean_of(1.0, delay_s=2.0)), GroupRide(), Rider())
    prompt, late = (recording.channels[ChannelName.POWER] for recording in ride.recordings)
    np.testing.assert_allclose(late[2:], prompt[:-2], atol=1e-5)


def test_cadence_has_a_display_of_its_own() -> None:
    ride = both(replace(UNIT, cadence_display=mean_of(5.0)), GroupRide(), Rider())
    prompt, late = (recording.channels[ChannelName.CADENCE] for recording in ride.recordings)
    np.testing.assert_allclose(late[4:], np.convolve(prompt, np.full(5, 1 / 5), mode="valid"), atol=1e-5)
    assert np.array_equal(
        ride.recordings[0].channels[ChannelName.POWER], ride.recordings[1].channels[ChannelName.POWER]
    )


def test_readings_are_rounded_to_the_meters_steps() -> None:
    coarse = Meter(name="unit", power_step_w=5.0, channels=(ChannelName.POWER, ChannelName.CADENCE, ChannelName.TORQUE))
    recording = both(coarse, GroupRide(), Rider()).recordings[1]
    assert not np.any(recording.channels[ChannelName.POWER] % 5.0)
    assert not np.any(recording.channels[ChannelName.CADENCE] % 1.0)
    assert not np.any(recording.channels[ChannelName.TORQUE] * 32.0 % 1.0)


def test_torque_and_power_of_a_meter_agree() -> None:
    recording = both(replace(UNIT, gain=0.9), Steady(power_w=200.0, cadence_rpm=90.0)).recordings[1]
    implied = recording.channels[ChannelName.TORQUE] * 3.0 * math.pi
    assert implied == pytest.approx(180.0, abs=0.3)


def test_a_table_shows_what_the_cold_brake_would_take() -> None:
    unit = replace(UNIT, source=PowerSource.TABLE)
    ride = both(
        unit, Steady(power_w=200.0), bike=ResistanceBike(warm_up_pct=-10.0, warm_up_tau_min=3.0), duration_s=1800.0
    )
    reference_w, unit_w = (recording.channels[ChannelName.POWER] for recording in ride.recordings)
    assert unit_w[10] / reference_w[10] - 1.0 == pytest.approx(0.0, abs=0.01)
    assert unit_w[-1] / reference_w[-1] - 1.0 == pytest.approx(1.0 / 0.9 - 1.0, abs=0.002)
    assert ride.truth.bias_pct > 5.0
    with pytest.raises(ValueError, match="needs a bike"):
        both(unit, Steady())


def test_a_target_hides_what_the_rider_does() -> None:
    shown = seen(replace(UNIT, source=PowerSource.TARGET), Steady(power_w=210.0), Rider())
    assert np.all(shown == 210.0)


def test_a_wrist_lags_behind_a_strap() -> None:
    wrist = replace(UNIT, heart_sensor=HeartSensor(lag_s=8.0, scatter_bpm=0.0))
    ride = both(wrist, STEP, Rider(), duration_s=1200.0)
    strap, late = (recording.channels[ChannelName.HEART_RATE] for recording in ride.recordings)
    errors = [float(np.mean((strap[: -lag or None] - late[lag:]) ** 2)) for lag in range(16)]
    assert 5 <= int(np.argmin(errors)) <= 9


@pytest.mark.parametrize(
    ("sampling", "step_s"),
    [
        (Sampling(step_s=0.25), 0.25),
        (Sampling(step_s=1.26), 1.26),
        (Sampling(step_s=3.0), 3.0),
        (Sampling(step_s=1.0, jitter_s=0.4), 1.0),
    ],
)
def test_samples_come_at_their_step(sampling: Sampling, step_s: float) -> None:
    recording = both(replace(UNIT, sampling=sampling), GroupRide(), Rider()).recordings[1]
    steps = np.diff(recording.time_s)
    assert recording.step_s == pytest.approx(step_s, abs=0.05)
    assert steps.min() >= step_s - sampling.jitter_s - 0.002
    assert steps.max() <= step_s + sampling.jitter_s + 0.002
    assert recording.time_s.size == pytest.approx(600.0 / step_s, abs=1)


def test_an_event_driven_recorder_leaves_steps_out() -> None:
    recording = both(replace(UNIT, sampling=Sampling(event_driven=True)), GroupRide(), Rider()).recordings[1]
    steps = np.diff(recording.time_s)
    assert recording.event_driven
    assert 1.0 <= steps.min() < steps.max() <= 8.0


@pytest.mark.parametrize("held", [False, True])
def test_dropouts_lose_or_hold_their_share(held: bool) -> None:
    dropouts = Dropouts(share=0.03, longest_s=5, held=held)
    ride = both(replace(UNIT, dropouts=dropouts), GroupRide(), Rider(), duration_s=3600.0)
    whole, broken = (recording.channels[ChannelName.POWER] for recording in ride.recordings)
    heart = ride.recordings[1].channels[ChannelName.HEART_RATE]
    assert np.all(np.isfinite(heart))
    touched = np.isnan(broken) if not held else broken != whole
    assert touched.mean() == pytest.approx(0.03, abs=0.012)
    assert np.any(np.isnan(broken)) is np.bool_(not held)


@pytest.mark.parametrize("sampling", [{"step_s": 0.0}, {"jitter_s": 1.0}, {"jitter_s": -0.1}])
def test_impossible_sampling_is_refused(sampling: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="step above 0"):
        Sampling(**sampling)  # type: ignore[arg-type]


def test_a_ride_needs_distinct_meters_and_some_length() -> None:
    with pytest.raises(ValueError, match="same name"):
        RideSpec(meters=(FINE, FINE))
    with pytest.raises(ValueError, match="at least one meter"):
        RideSpec(meters=())
    with pytest.raises(ValueError, match="less than 10 s"):
        RideSpec(meters=(FINE,), duration_s=5.0)
