"""One simulated ride: recordings of every meter, and the truth they should be held against."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.recording import ChannelName, Pause, Recording, Source
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.clocks import RunningClock, sample_stamps
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.efforts import Ease, Effort, Steady, plan
from wattwitness.simulate.faults import record_faults, sensor_factor
from wattwitness.simulate.meters import Dropouts, Meter, Sampling, chance_factor, heart_seen, shown, systematic_w
from wattwitness.simulate.rider import Rider, TrueRide, ride, torque
from wattwitness.simulate.signals import at_times, grid_size, grid_times
from wattwitness.simulate.truth import MeterTrace, RideTruth, ride_truth

_METRES_PER_TURN = 5.6  # of an invented flywheel's rim; only so that a speed goes with the cadence


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSpec:
    """A ride to simulate. The first meter is the reference. ``start_utc_s``: seconds since 1970 UTC at the start.

    Raises ValueError without meters, with two of one name, or with a ride shorter than 10 s.
    """

    meters: tuple[Meter, ...]
    effort: Effort = field(default_factory=Steady)
    rider: Rider = field(default_factory=Rider)
    bike: ResistanceBike | None = None
    eases: tuple[Ease, ...] = ()
    duration_s: float = 3600.0
    start_utc_s: float = 1_768_212_000.0
    name: str = "ride"

    def __post_init__(self) -> None:
        """Check what cannot be simulated."""
        names = {meter.name for meter in self.meters}
        if not names or len(names) != len(self.meters):
            raise ValueError("a ride needs at least one meter, and no two of the same name")
        if self.duration_s < 10.0:
            raise ValueError("a ride of less than 10 s holds nothing to compare")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedRide:
    """Recordings in the order of the spec's meters (the reference first), and the truth."""

    spec: RideSpec
    recordings: tuple[Recording, ...]
    truth: RideTruth


def simulate_ride(spec: RideSpec, seed: int) -> SimulatedRide:
    """Ride ``spec`` under ``seed`` (a whole number from 0): the same samples on every machine."""
    size = grid_size(spec.duration_s)
    targets = plan(spec.effort, spec.duration_s, size, spec.eases, Draws(seed, "effort"))
    true_ride = ride(spec.rider, targets, spec.bike, seed)
    traces, recordings = [], []
    for meter in spec.meters:
        trace = _trace(meter, spec, true_ride, seed)
        traces.append(trace)
        recordings.append(_recording(trace, spec, true_ride, seed))
    truth = ride_truth(true_ride, traces, recordings, spec.duration_s)
    return SimulatedRide(spec=spec, recordings=tuple(recordings), truth=truth)


def _trace(meter: Meter, spec: RideSpec, true_ride: TrueRide, seed: int) -> MeterTrace:
    """The meter's readings on the time line and the times of its samples."""
    size = true_ride.power_w.size
    systematic = systematic_w(meter, true_ride, spec.bike)
    faulty = sensor_factor(meter.faults, grid_times(size))
    running = RunningClock(meter.clock, start_utc_s=spec.start_utc_s, duration_s=spec.duration_s)
    stamps, true_s = _sample_times(meter, running, seed)
    return MeterTrace(
        meter=meter,
        running=running,
        systematic_w=systematic,
        sensed_w=systematic * faulty * chance_factor(meter, size, seed),
        fault_factor=faulty,
        stamp_s=stamps,
        true_s=true_s,
    )


def _sample_times(meter: Meter, running: RunningClock, seed: int) -> tuple[FloatArray, FloatArray]:
    """Stamps as written and the true time of each; shape (m,) both."""
    draws, step_s = Draws(seed, f"{meter.name} sampling"), meter.sampling.step_s
    phase_s = 0.0 if meter.clock.whole_seconds else float(np.round(draws.between(0.0, step_s) * 1000.0) / 1000.0)
    jitter = meter.sampling.jitter_s * draws.uniform(997) if meter.sampling.jitter_s > 0 else np.zeros(0)
    stamps, runs = sample_stamps(running, step_s=step_s, phase_s=phase_s, jitter_s=jitter)
    if meter.sampling.event_driven:
        kept = _event_driven(meter.sampling, stamps.size, draws)
        stamps, runs = stamps[kept], runs[kept]
    true_s = np.empty(stamps.size)
    for run in range(running.run_count):
        true_s[runs == run] = running.true_in_run(run, stamps[runs == run])
    if not meter.clock.dated:
        running.count_from(float(stamps[0]))
        stamps = np.round((stamps - stamps[0]) * 1000.0) / 1000.0
    return stamps, true_s


def _event_driven(sampling: Sampling, size: int, draws: Draws) -> IntArray:
    """Which of ``size`` samples an event-driven recorder writes: short steps often, long ones now and then."""
    share = draws.uniform(size)
    steps = 1 + np.floor(sampling.longest_s * share * share * share).astype(np.int64)
    kept = np.concatenate(([0], np.add.accumulate(steps)))
    return np.asarray(kept[kept < size], dtype=np.int64)


def _recording(trace: MeterTrace, spec: RideSpec, true_ride: TrueRide, seed: int) -> Recording:
    meter = trace.meter
    channels = {name: _channel(name, trace, true_ride, seed) for name in ChannelName if name in meter.channels}
    if meter.dropouts is not None:
        lost = _lost(meter.dropouts, trace.stamp_s.size, Draws(seed, f"{meter.name} dropouts"))
        for name in (ChannelName.POWER, ChannelName.CADENCE, ChannelName.TORQUE, ChannelName.LEFT_SHARE):
            if name in channels:
                channels[name] = _with_losses(channels[name], lost, meter.dropouts.held)
    digest = hashlib.sha256(trace.stamp_s.tobytes())
    for values in channels.values():
        digest.update(values.tobytes())
    return Recording(
        source=Source(
            file_name=f"{spec.name}-{meter.name}",
            sha256=digest.hexdigest(),
            size_bytes=trace.stamp_s.nbytes * (1 + len(channels)),
            format_name="simulated",
        ),
        time_s=trace.stamp_s,
        dated=meter.clock.dated,
        channels=channels,
        meter=meter.record,
        pauses=_announced(trace),
        event_driven=meter.sampling.event_driven,
        label=meter.name,
    )


def _channel(name: ChannelName, trace: MeterTrace, ride: TrueRide, seed: int) -> FloatArray:
    """One channel as recorded, rounded as the meter rounds it."""
    meter, when = trace.meter, trace.true_s
    cadence_when = when - meter.cadence_display.delay_s
    match name:
        case ChannelName.POWER:
            power_w = at_times(shown(meter.display, trace.sensed_w), when - meter.display.delay_s)
            return record_faults(meter.faults, when, _stepped(power_w, meter.power_step_w))
        case ChannelName.CADENCE:
            cadence_rpm = at_times(shown(meter.cadence_display, ride.cadence_rpm), cadence_when)
            return _stepped(cadence_rpm, meter.cadence_step_rpm)
        case ChannelName.HEART_RATE:
            seen = heart_seen(meter.heart_sensor, ride.heart_rate_bpm, Draws(seed, f"{meter.name} heart"))
            return _stepped(at_times(seen, when), 1.0)
        case ChannelName.TORQUE:
            torque_nm = torque(trace.sensed_w, ride.cadence_rpm)
            return _stepped(at_times(shown(meter.display, torque_nm), when - meter.display.delay_s), 1.0 / 32.0)
        case ChannelName.RESISTANCE:
            return at_times(ride.resistance, np.floor(when * 4.0) / 4.0)
        case ChannelName.SPEED:
            speed = shown(meter.cadence_display, ride.cadence_rpm) * (_METRES_PER_TURN / 60.0)
            return _stepped(at_times(speed, cadence_when), 0.001)
        case ChannelName.TEMPERATURE:
            return _stepped(at_times(ride.temperature_c, when), 1.0)
        case ChannelName.LEFT_SHARE:
            share = _stepped(at_times(shown(meter.display, ride.left_share_pct), when - meter.display.delay_s), 1.0)
            return np.where(at_times(ride.power_w, when) > 0.0, share, np.nan)


def _stepped(values: FloatArray, step: float) -> FloatArray:
    """``values`` to the nearest whole multiple of ``step``; a step of 0 keeps six decimals.

    Six decimals first, so that a last bit that differs between machines never decides which way a half goes.
    """
    kept = np.round(values * 1e6) / 1e6
    if step == 0.0:
        return kept
    return np.round(kept / step) * step if step >= 1.0 else np.round(kept / step) / np.round(1.0 / step)


def _lost(dropouts: Dropouts, size: int, draws: Draws) -> BoolArray:
    """Which samples are lost."""
    lost = np.zeros(size, dtype=bool)
    pieces = round(dropouts.share * size / ((1 + dropouts.longest_s) / 2.0))
    starts = draws.whole(1, max(size - 1, 1), pieces)
    for start, length in zip(starts, draws.whole(1, dropouts.longest_s, pieces), strict=True):
        lost[start : start + length] = True
    return lost


def _with_losses(values: FloatArray, lost: BoolArray, held: bool) -> FloatArray:
    if not held:
        return np.where(lost, np.nan, values)
    return np.asarray(values[np.maximum.accumulate(np.where(lost, 0, np.arange(values.size)))])


def _announced(trace: MeterTrace) -> tuple[Pause, ...]:
    """Pauses that the file tells of, on its own clock."""
    running = trace.running
    return tuple(
        Pause(
            start_s=round(running.stamp_at(pause.start_s), 3),
            end_s=round(running.stamp_at(pause.start_s + pause.duration_s), 3),
        )
        for pause in trace.meter.clock.pauses
        if pause.shows_gap and pause.announced
    )
