"""Two recordings on one grid, at every spacing of samples, across gaps, pauses and jumps."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.clock.grid import align
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit, ClockJump, ClockSegment, ClockStatus, ClockWindows
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Pause, Recording, Source

SOURCE = Source(file_name="ride", sha256="", size_bytes=0, format_name="made up")
START_S = 1_768_212_000.0
"""An epoch like that of a dated file: fractions of a second have to survive it."""


def recording(
    time_s: FloatArray,
    power_w: FloatArray,
    *,
    pauses: tuple[Pause, ...] = (),
    event_driven: bool = False,
    spot: bool = False,
    cadence_rpm: FloatArray | None = None,
) -> Recording:
    """A recording of power, and of cadence where it is given."""
    channels = {ChannelName.POWER: power_w}
    if cadence_rpm is not None:
        channels[ChannelName.CADENCE] = cadence_rpm
    return Recording(
        source=SOURCE,
        time_s=START_S + time_s,
        dated=True,
        channels=channels,
        pauses=pauses,
        event_driven=event_driven,
        spot=spot,
    )


def smooth_power(time_s: FloatArray) -> FloatArray:
    """Power that changes over tens of seconds, so that a straight line over a few seconds is close."""
    return np.asarray(200 + 60 * np.sin(time_s / 25) + 20 * np.sin(time_s / 9), dtype=np.float64)


def every_second(size: int = 600) -> Recording:
    """A reference at whole seconds."""
    second = np.arange(size, dtype=np.float64)
    return recording(second, smooth_power(second))


def on_grid(unit: Recording, reference: Recording | None = None, offset_s: float = 0.0) -> AlignedPair:
    """Aligned by a clock given by hand."""
    reference = reference or every_second()
    return align(reference, unit, clock_by_hand(unit, offset_s))


def power(pair: AlignedPair) -> FloatArray:
    """The unit's power."""
    return pair.unit[ChannelName.POWER]


def test_samples_on_whole_seconds_are_used_untouched() -> None:
    second = np.arange(900, dtype=np.float64)
    values = np.random.default_rng(3).uniform(0, 500, 900)
    pair = on_grid(recording(second - 12, values), reference=recording(second, values), offset_s=12.0)
    np.testing.assert_array_equal(pair.reference[ChannelName.POWER], values)
    np.testing.assert_array_equal(power(pair), values)
    np.testing.assert_array_equal(pair.time_s, second)
    assert pair.unit_blend is not None
    assert np.all(pair.unit_blend.since_s == 0)


@pytest.mark.parametrize("step_s", [0.25, 0.5, 1.0, 1.26, 3.0, 5.0])
@pytest.mark.parametrize("first_s", [0.0, 0.37])
def test_no_spacing_of_samples_makes_power_late_or_early(step_s: float, first_s: float) -> None:
    time_s = np.arange(first_s, 600, step_s)
    unit = on_grid(recording(time_s, smooth_power(time_s)))
    truth = smooth_power(unit.time_s)
    both = np.isfinite(power(unit))
    assert both.sum() >= 594
    both[[0, -1]] = False  # half a second of the first and the last is outside the recording
    error = power(unit)[both] - truth[both]
    slope = np.gradient(truth)[both]
    late_s = -float(error @ slope / (slope @ slope))
    assert abs(late_s) < 0.02
    # A straight line misses a curve by at most step^2/8 of its second derivative, here 60/25^2 + 20/9^2 W/s^2; at the
    # ends of the recording one sample speaks for half a second.
    assert np.max(np.abs(error[1:-1])) < max(step_s, 1.0) ** 2 / 8 * (60 / 25**2 + 20 / 9**2) + 1e-6


def test_irregular_steps_are_interpolated_between_their_own_times() -> None:
    generator = np.random.default_rng(5)
    time_s = np.cumsum(generator.uniform(0.7, 1.6, 500))
    unit = on_grid(recording(time_s, smooth_power(time_s)))
    both = np.isfinite(power(unit)) & (unit.time_s > time_s[0]) & (unit.time_s < time_s[-1])
    assert both.sum() > 480
    np.testing.assert_allclose(power(unit)[both], smooth_power(unit.time_s)[both], atol=1.6**2 / 8 * 0.35)


def test_half_a_second_between_samples_keeps_the_sum() -> None:
    second = np.arange(600, dtype=np.float64)
    values = np.random.default_rng(7).uniform(0, 500, 600)
    unit = on_grid(recording(second + 0.5, values))
    assert np.nansum(power(unit)) == pytest.approx(values.sum(), abs=500)


def test_four_samples_a_second_are_averaged() -> None:
    time_s = np.arange(0, 600, 0.25)
    values = 200 + 100 * (np.arange(time_s.size) % 4 == 0)
    unit = on_grid(recording(time_s, values.astype(np.float64)))
    inside = power(unit)[1:-1]
    np.testing.assert_allclose(inside, 225.0)


def test_a_gap_stays_missing_and_a_skipped_second_does_not() -> None:
    second = np.arange(600, dtype=np.float64)
    kept = ~np.isin(second, [100.0, 200, 201, 300, 301, 302, 303])
    unit = on_grid(recording(second[kept], smooth_power(second[kept])))
    assert np.isfinite(power(unit)[[100, 200, 201]]).all()
    assert np.isnan(power(unit)[300:304]).all()
    assert np.isnan(power(unit)).sum() == 4


def test_a_sample_without_a_value_is_missing_for_its_own_second_only() -> None:
    second = np.arange(600, dtype=np.float64)
    values = smooth_power(second)
    values[100] = np.nan
    for shift_s in (0.0, 0.3, 0.5, 0.8):
        unit = on_grid(recording(second + shift_s, values))
        assert np.isnan(power(unit)[5:595]).sum() <= 1


def test_event_driven_recordings_are_bridged_over_their_usual_spacings() -> None:
    time_s = np.cumsum(np.random.default_rng(2).choice([1.0, 1, 2, 2, 9, 12], 120))
    time_s[80:] += 40.0
    unit_w = smooth_power(time_s)
    for event_driven in (True, False):
        unit = on_grid(recording(time_s, unit_w, event_driven=event_driven))
        inside = (unit.time_s > time_s[0]) & (unit.time_s < time_s[79])
        assert np.isfinite(power(unit)[inside]).all() == event_driven
        gap = (unit.time_s > time_s[79] + 1) & (unit.time_s < time_s[80] - 1)
        assert np.isnan(power(unit)[gap]).all()


def test_a_pause_is_a_gap_however_short() -> None:
    second = np.arange(600, dtype=np.float64)
    kept = (second < 100) | (second >= 102)
    pauses = (Pause(start_s=START_S + 99.4, end_s=START_S + 101.6),)
    bridged = on_grid(recording(second[kept], smooth_power(second[kept])))
    paused = on_grid(recording(second[kept], smooth_power(second[kept]), pauses=pauses))
    assert np.isfinite(power(bridged)[[100, 101]]).all()
    assert np.isnan(power(paused)[[100, 101]]).all()


def test_a_channel_of_its_own_spacing_keeps_it() -> None:
    second = np.arange(600, dtype=np.float64)
    cadence = np.where(second % 3 == 0, 80 + second / 100, np.nan)
    unit = on_grid(recording(second, smooth_power(second), cadence_rpm=cadence))
    np.testing.assert_allclose(unit.unit[ChannelName.CADENCE][:595], 80 + second[:595] / 100, atol=1e-9)


def test_spot_readings_stand_at_their_nearest_second_and_nowhere_else() -> None:
    unit = on_grid(recording(np.array([10.2, 29.7, 30.1, 52.4]), np.array([100.0, 200, 220, 300]), spot=True))
    assert np.flatnonzero(np.isfinite(power(unit))).tolist() == [10, 30, 52]
    assert power(unit)[30] == pytest.approx(210.0)


def segmented(*parts: tuple[float, float], jump_at_s: float | None) -> ClockFit:
    """A clock of (first unit second, offset) parts on undrifted clocks; unit seconds after ``START_S``."""
    starts = [-math.inf] + [START_S + start for start, _ in parts[1:]]
    ends = [*starts[1:], math.inf]
    segments = tuple(
        ClockSegment(start_unit_s=start, end_unit_s=end, anchor_unit_s=START_S, offset_s=offset, drift_ppm=0.0)
        for (_, offset), start, end in zip(parts, starts, ends, strict=True)
    )
    step = parts[1][1] - parts[0][1]
    jumps: tuple[ClockJump, ...] = ()
    if jump_at_s is not None:
        at_s = Estimate(value=jump_at_s, low=jump_at_s, high=jump_at_s, unit="s")
        jumps = (ClockJump(at_s=at_s, step_s=Estimate(value=step, low=step, high=step, unit="s")),)
    zero = Estimate(value=0.0, low=0.0, high=0.0, unit="s")
    empty = np.empty(0)
    return ClockFit(
        status=ClockStatus.FOUND,
        offset_s=zero,
        drift_ppm=zero,
        jumps=jumps,
        segments=segments,
        standard_uncertainty_s=0.0,
        runner_up_ratio=0.0,
        candidates=(),
        channel=ChannelName.CADENCE,
        windows=ClockWindows(at_s=empty, offset_s=empty, correlation=empty),
        reason="",
    )


@pytest.mark.parametrize("boundary_s", [300.0, 330.0, 360.0])
def test_what_the_unit_saw_while_the_reference_stood_still_is_left_out(boundary_s: float) -> None:
    """The reference's clock stood still at 300 s while the unit recorded 60 s more, at 500 W."""
    second = np.arange(600, dtype=np.float64)
    reference = recording(second, smooth_power(second))
    unit_w = np.concatenate((smooth_power(second[:300]), np.full(60, 500.0), smooth_power(second[300:])))
    unit = recording(np.arange(660, dtype=np.float64), unit_w)
    pair = align(reference, unit, segmented((0.0, 0.0), (boundary_s, -60.0), jump_at_s=299.5))
    both = np.isfinite(power(pair))
    assert both.sum() >= 598
    np.testing.assert_allclose(power(pair)[both], smooth_power(second)[both], atol=1e-6)


def test_where_the_unit_stood_still_nothing_is_made_up() -> None:
    second = np.arange(600, dtype=np.float64)
    reference = recording(second, smooth_power(second))
    unit_w = np.concatenate((smooth_power(second[:300]), smooth_power(second[302:])))
    unit = recording(np.arange(598, dtype=np.float64), unit_w)
    pair = align(reference, unit, segmented((0.0, 0.0), (299.5, 2.0), jump_at_s=300.0))
    assert np.flatnonzero(np.isnan(power(pair))).tolist() == [300, 301]


def test_a_clock_that_maps_no_time_is_refused() -> None:
    reference = every_second()
    clock = segmented((0.0, 0.0), (300.0, 0.0), jump_at_s=None)
    unusable = ClockFit(
        status=ClockStatus.AMBIGUOUS,
        offset_s=clock.offset_s,
        drift_ppm=clock.drift_ppm,
        jumps=(),
        segments=(),
        standard_uncertainty_s=math.nan,
        runner_up_ratio=math.nan,
        candidates=(),
        channel=None,
        windows=clock.windows,
        reason="",
    )
    with pytest.raises(ValueError, match="maps no time"):
        align(reference, reference, unusable)
