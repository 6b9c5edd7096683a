"""The truth of a simulated ride, in the words and signs of a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.simulate.clocks import RunningClock, TrueJump, true_jumps
from wattwitness.simulate.faults import OF_THE_SENSOR, FaultKind
from wattwitness.simulate.meters import Display, Meter, shown
from wattwitness.simulate.rider import TrueRide
from wattwitness.simulate.signals import at_times, box_mean


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeterTrace:
    """One meter on the time line (``systematic_w``, ``sensed_w``, ``fault_factor``) and at its m samples."""

    meter: Meter
    running: RunningClock
    systematic_w: FloatArray
    sensed_w: FloatArray
    fault_factor: FloatArray
    stamp_s: FloatArray
    true_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueEpisode:
    """A fault of one meter, in seconds after the reference's first sample; onset and end at half depth.

    The times are the sensor's: a display that averages or is late shows them later. ``depth_pct`` is ``None`` for what
    has no depth (frozen, missing, zero, spike).
    """

    meter: str
    kind: FaultKind
    onset_s: float
    end_s: float
    depth_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTruth:
    """The truth of one unit against the reference (the ride's first meter).

    ``offset_s``, ``drift_ppm`` and ``jumps`` are as a comparison reports them: seconds to add to the unit's stamps, at
    the middle of the reference's ride.

    ``bias_pct`` is what an interval should cover: the ratio of sums over the common seconds of what both sensors say
    without noise and without wander (whose means are zero), the reference through the unit's display, faults of the
    sensor included. ``bias_without_faults_pct`` leaves those out. ``realised_bias_pct`` is the same ratio with this
    ride's own noise and wander: what a longer look at this ride alone could at best find. ``common_seconds`` are whole
    seconds of the reference at which both have a sample of power.
    """

    name: str
    offset_s: float
    drift_ppm: float
    jumps: tuple[TrueJump, ...]
    bias_pct: float
    bias_without_faults_pct: float
    realised_bias_pct: float
    common_seconds: int
    display: Display
    episodes: tuple[TrueEpisode, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideTruth:
    """What really happened: second by second (means over the second before ``time_s``, seconds after the start), and
    for each unit against the reference. ``display`` is the reference's own. The properties are the first unit's.
    """

    time_s: FloatArray
    power_w: FloatArray
    cadence_rpm: FloatArray
    torque_nm: FloatArray
    heart_rate_bpm: FloatArray
    display: Display
    units: tuple[UnitTruth, ...]

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("time_s", "power_w", "cadence_rpm", "torque_nm", "heart_rate_bpm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    @property
    def offset_s(self) -> float:
        """Seconds to add to the first unit's stamps."""
        return self.units[0].offset_s

    @property
    def drift_ppm(self) -> float:
        """Drift of the first unit's clock."""
        return self.units[0].drift_ppm

    @property
    def jumps(self) -> tuple[TrueJump, ...]:
        """Jumps of the first unit's clock."""
        return self.units[0].jumps

    @property
    def bias_pct(self) -> float:
        """Bias of the first unit."""
        return self.units[0].bias_pct


def ride_truth(
    ride: TrueRide, traces: Sequence[MeterTrace], recordings: Sequence[Recording], duration_s: float
) -> RideTruth:
    """The truth of a ride that left ``traces`` and ``recordings``, the reference's first."""
    present_s = [_with_power(trace, recording) for trace, recording in zip(traces, recordings, strict=True)]
    time_s = np.arange(1.0, np.floor(duration_s) + 1.0)

    def per_second(line: FloatArray) -> FloatArray:
        return np.round(at_times(box_mean(line, 4), time_s) * 1e6) / 1e6

    return RideTruth(
        time_s=time_s,
        power_w=per_second(ride.power_w),
        cadence_rpm=per_second(ride.cadence_rpm),
        torque_nm=per_second(ride.torque_nm),
        heart_rate_bpm=per_second(ride.heart_rate_bpm),
        display=traces[0].meter.display,
        units=tuple(
            _unit_truth(traces[0], unit, _common_true_s(traces[0], unit, present_s[0], unit_s))
            for unit, unit_s in zip(traces[1:], present_s[1:], strict=True)
        ),
    )


def _unit_truth(reference: MeterTrace, unit: MeterTrace, when: FloatArray) -> UnitTruth:
    first, last = float(reference.stamp_s[0]), float(reference.stamp_s[-1])
    middle_s = reference.running.true_at((first + last) / 2.0)
    pauses = [(True, pause) for pause in reference.meter.clock.pauses]
    pauses += [(False, pause) for pause in unit.meter.clock.pauses]
    plain = _bias_pct(reference.systematic_w, unit.systematic_w, unit.meter.display, when)
    return UnitTruth(
        name=unit.meter.name,
        offset_s=round((first + last) / 2.0 - unit.running.stamp_at(middle_s), 6),
        drift_ppm=round((unit.running.rate / reference.running.rate - 1.0) * 1e6, 6),
        jumps=true_jumps(reference.running, unit.running, pauses, first),
        bias_pct=_bias_pct(
            reference.systematic_w * reference.fault_factor,
            unit.systematic_w * unit.fault_factor,
            unit.meter.display,
            when,
        ),
        bias_without_faults_pct=plain,
        realised_bias_pct=_bias_pct(reference.sensed_w, unit.sensed_w, unit.meter.display, when),
        common_seconds=int(when.size),
        display=unit.meter.display,
        episodes=_episodes(reference, unit, first),
    )


def _bias_pct(reference_w: FloatArray, unit_w: FloatArray, display: Display, when: FloatArray) -> float:
    """Ratio of sums at the true times ``when``, both through the unit's display; NaN where the reference has none."""
    late = when - display.delay_s
    below = float(at_times(shown(display, reference_w), late).sum())
    above = float(at_times(shown(display, unit_w), late).sum())
    return round(100.0 * (above / below - 1.0), 6) if below > 0.0 else float("nan")


def _with_power(trace: MeterTrace, recording: Recording) -> FloatArray:
    """True times of the samples that hold a power."""
    if not recording.has(ChannelName.POWER):
        return np.zeros(0)
    return np.asarray(trace.true_s[np.isfinite(recording.channels[ChannelName.POWER])])


def _common_true_s(reference: MeterTrace, unit: MeterTrace, reference_s: FloatArray, unit_s: FloatArray) -> FloatArray:
    """True times of the whole seconds after the reference's first sample at which both have a sample of power."""
    seconds = np.arange(np.floor(reference.true_s[-1] - reference.true_s[0]) + 1.0) + reference.true_s[0]
    return np.asarray(seconds[_near(reference, reference_s, seconds) & _near(unit, unit_s, seconds)])


def _near(trace: MeterTrace, present_s: FloatArray, seconds: FloatArray) -> BoolArray:
    """Whether the meter has a sample of power close to each second."""
    if not present_s.size:
        return np.zeros(seconds.size, dtype=bool)
    sampling = trace.meter.sampling
    reach = sampling.longest_s / 2.0 if sampling.event_driven else max(sampling.step_s, 1.0) / 2.0 + 1e-3
    after = np.minimum(np.searchsorted(present_s, seconds), present_s.size - 1)
    before = np.maximum(after - 1, 0)
    nearest_s = np.minimum(np.abs(present_s[after] - seconds), np.abs(present_s[before] - seconds))
    return np.asarray(nearest_s <= reach)


def _episodes(reference: MeterTrace, unit: MeterTrace, first: float) -> tuple[TrueEpisode, ...]:
    return tuple(
        TrueEpisode(
            meter=trace.meter.name,
            kind=fault.kind,
            onset_s=round(reference.running.stamp_at(fault.start_s) - first, 6),
            end_s=round(
                float(reference.stamp_s[-1]) - first
                if fault.kind is FaultKind.STEP
                else reference.running.stamp_at(fault.start_s + fault.duration_s) - first,
                6,
            ),
            depth_pct=fault.depth_pct if fault.kind in OF_THE_SENSOR else None,
        )
        for trace in (reference, unit)
        for fault in trace.meter.faults
    )
