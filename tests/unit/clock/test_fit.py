"""The whole clock on rides made for one question each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.truth.clock_rides import meters_alone, one_ride, other_rides
from tests.unit.clock.rides import recording, seen, varied
from wattwitness.clock.fit import fit_clock
from wattwitness.clock.mapping import to_reference_s
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Recording

HOURS_14 = 14 * 3600.0
YEARS_37 = 37 * 365.25 * 86400.0


def two(
    *, offset_s: float = 0.0, drift_ppm: float = 0.0, seconds: int = 2400, seed: int = 1, dated: bool = True
) -> tuple[Recording, Recording]:
    """One ride of cadence and power on two clocks; the unit starts 100 s later."""
    cadence, power = varied(seconds + 20, seed=seed), varied(seconds + 20, seed=seed + 1, level=200, spread=25)
    zero_s = 1_768_212_000.0 if dated else 0.0
    first = np.arange(10.0, seconds)
    own = np.arange(np.ceil(110.0 - offset_s), np.floor(seconds - offset_s))
    true = own + offset_s + drift_ppm * 1e-6 * (own + offset_s - seconds / 2)
    a = recording(zero_s + first, dated=dated, cadence=seen(cadence, first, seed=11), power=seen(power, first, seed=12))
    b = recording(zero_s + own, dated=dated, cadence=seen(cadence, true, seed=13), power=seen(power, true, seed=14))
    return a, b


def holds(estimate: Estimate, truth: float) -> bool:
    return estimate.low is not None and estimate.high is not None and estimate.low <= truth <= estimate.high


@pytest.mark.parametrize("offset_s", [0.0, 0.4, -312.7, HOURS_14 + 3.25, -HOURS_14, YEARS_37])
def test_an_offset_is_found_wherever_it_is(offset_s: float) -> None:
    """Fractions of a second, time zones, and a clock that was never set."""
    clock = fit_clock(*two(offset_s=offset_s))
    assert clock.status is ClockStatus.FOUND
    assert clock.channel is ChannelName.CADENCE
    assert clock.offset_s.value == pytest.approx(offset_s, abs=0.15)
    assert clock.runner_up_ratio < 0.7
    assert clock.jumps == ()


@pytest.mark.parametrize("drift_ppm", [-140.0, 90.0])
def test_drift_has_the_sign_of_the_seconds_to_add(drift_ppm: float) -> None:
    """Negative where the unit's clock runs fast; the segments map with it."""
    a, b = two(offset_s=35.5, drift_ppm=drift_ppm, seconds=3600)
    clock = fit_clock(a, b)
    assert clock.drift_ppm.value == pytest.approx(drift_ppm, abs=60)
    assert holds(clock.drift_ppm, drift_ppm)
    own = b.time_s - 1_768_212_000.0
    true = own + 35.5 + drift_ppm * 1e-6 * (own + 35.5 - 1800.0)
    assert to_reference_s(clock, b.time_s) - 1_768_212_000.0 == pytest.approx(true, abs=0.15)


def test_one_file_without_a_date_is_found_too() -> None:
    """The offset is then a whole epoch."""
    a, _ = two()
    _, b = two(offset_s=-20.0, dated=False)
    clock = fit_clock(a, b)
    assert clock.status is ClockStatus.FOUND
    assert clock.offset_s.value == pytest.approx(1_768_212_000.0 - 20.0, abs=0.15)


def test_both_orders_give_opposite_answers() -> None:
    """Reference and unit exchanged: offset and drift change sign."""
    a, b = two(offset_s=77.3, drift_ppm=60.0)
    one, other = fit_clock(a, b), fit_clock(b, a)
    assert one.offset_s.value is not None
    assert other.offset_s.value == pytest.approx(-one.offset_s.value, abs=0.15)


@pytest.mark.parametrize("reference_pauses", [False, True])
def test_a_pause_of_one_recorders_clock_is_a_jump(reference_pauses: bool) -> None:
    """The step is a change of the seconds to add: up where the unit stood still, down where the reference did."""
    case = one_ride(4, pause=True)
    (start_s, seconds), first = case.stops[0], case.reference.time_s[0]
    a, b = (case.unit, case.reference) if reference_pauses else (case.reference, case.unit)
    clock = fit_clock(a, b)
    assert clock.status.usable
    assert len(clock.jumps) == 1
    assert clock.jumps[0].step_s.value == pytest.approx(-seconds if reference_pauses else seconds, abs=0.3)
    paused_at_s = 1200.0 + start_s - first if not reference_pauses else 1200.0 + start_s - (first + 1200.0)
    if not reference_pauses:
        assert clock.jumps[0].at_s.value == pytest.approx(paused_at_s, abs=20)
        assert holds(clock.jumps[0].at_s, paused_at_s)
    assert len(clock.segments) == 2
    assert clock.segments[0].start_unit_s == -np.inf
    assert clock.segments[1].end_unit_s == np.inf
    assert clock.segments[0].end_unit_s == clock.segments[1].start_unit_s


def test_a_unit_that_saw_a_third_of_the_ride_is_found() -> None:
    """Started late and stopped early."""
    a, b = two(offset_s=10.0, seconds=3600)
    part = (b.time_s > b.time_s[0] + 1500) & (b.time_s < b.time_s[0] + 2600)
    b = replace(b, time_s=b.time_s[part], channels={name: values[part] for name, values in b.channels.items()})
    clock = fit_clock(a, b)
    assert clock.status is ClockStatus.FOUND
    assert clock.offset_s.value == pytest.approx(10.0, abs=0.3)


def without(made: Recording, *names: ChannelName) -> Recording:
    return replace(made, channels={name: values for name, values in made.channels.items() if name not in names})


def test_power_alone_is_found_with_a_delay_and_one_sided() -> None:
    """A display can only be late: the offset may be larger by seconds, and no smaller."""
    a, b = (without(one, ChannelName.CADENCE) for one in two(offset_s=5.0))
    clock = fit_clock(a, b)
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert clock.channel is ChannelName.POWER
    value, low, high = clock.offset_s.value, clock.offset_s.low, clock.offset_s.high
    assert value is not None
    assert low is not None
    assert high is not None
    assert value == pytest.approx(5.0, abs=0.2)
    assert value - low < 2.0
    assert high - value > 8.0
    assert "delay" in clock.reason


def test_cadence_decides_where_power_is_late() -> None:
    """A power display 6 s late does not move the clock."""
    a, b = two(offset_s=5.0)
    late = np.concatenate([np.full(6, np.nan), b.channels[ChannelName.POWER][:-6]])
    b = replace(b, channels={**b.channels, ChannelName.POWER: late})
    clock = fit_clock(a, b)
    assert clock.status is ClockStatus.FOUND
    assert clock.offset_s.value == pytest.approx(5.0, abs=0.15)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("intervals_s", [0.0, 30.0])
def test_constant_effort_and_equal_intervals_are_ambiguous(seed: int, intervals_s: float) -> None:
    """Nothing fixes the offset: candidates are listed, no segment maps, no number is given."""
    clock = fit_clock(*meters_alone(seed, intervals_s=intervals_s))
    assert clock.status is ClockStatus.AMBIGUOUS
    assert len(clock.candidates) >= 2
    assert clock.segments == ()
    assert not clock.offset_s.assessed
    if intervals_s:
        spaced = {round(one.offset_s - clock.candidates[0].offset_s) % 60 for one in clock.candidates}
        assert spaced <= {0, 1, 59}


def test_numbers_that_never_change_are_ambiguous() -> None:
    """Nothing varies at all; the starts put together are one of the plausible offsets."""
    first, second = np.arange(3600.0), np.arange(3000.0) + 7.0
    clock = fit_clock(
        recording(first, power=np.full(3600, 200.0), cadence=np.full(3600, 90.0)),
        recording(second, power=np.full(3000, 190.0), cadence=np.full(3000, 90.0)),
    )
    assert clock.status is ClockStatus.AMBIGUOUS
    assert -7.0 in [one.offset_s for one in clock.candidates]


@pytest.mark.parametrize("seed", range(4))
def test_rides_that_have_nothing_in_common_are_never_put_on_one_clock(seed: int) -> None:
    """No common effort, or too little in them to tell."""
    clock = fit_clock(*other_rides(10 + seed))
    assert clock.status in (ClockStatus.NO_COMMON_EFFORT, ClockStatus.AMBIGUOUS)
    assert clock.segments == ()


def test_a_varied_ride_that_is_another_has_no_common_effort() -> None:
    """Both vary and do not match: that is said, not guessed at."""
    a, _ = two(seed=1, seconds=3600)
    _, b = two(seed=50, seconds=3600)
    clock = fit_clock(a, b)
    assert clock.status is ClockStatus.NO_COMMON_EFFORT
    assert clock.candidates == ()
    assert "match at no offset" in clock.reason


def test_two_riders_of_one_plan_are_not_put_on_one_clock() -> None:
    """The same steps of power at the same seconds, but other legs: power fits, cadence contradicts."""
    rng = np.random.default_rng(8)
    plan = np.repeat(rng.choice([120.0, 180, 240, 300], size=60), rng.integers(30, 90, size=60))[:3000]
    time_s = np.arange(float(plan.size))
    rides = [
        recording(
            time_s,
            power=np.round(plan * (1 + 0.03 * rng.standard_normal(plan.size))),
            cadence=seen(varied(plan.size, seed=seed), time_s, seed=seed),
        )
        for seed in (21, 22)
    ]
    clock = fit_clock(*rides)
    assert clock.status in (ClockStatus.AMBIGUOUS, ClockStatus.NO_COMMON_EFFORT)


def test_heart_rate_alone_is_good_to_a_sensors_lag() -> None:
    """Twenty seconds either way, and said so."""
    heart = varied(3600, seed=4, level=140, spread=8, memory_s=60)
    first, own = np.arange(0.0, 3500), np.arange(0.0, 3400)
    a = recording(first, heart_rate=seen(heart, first, seed=1))
    b = recording(own, heart_rate=seen(heart, own + 40.0 - 12.0, seed=2))
    clock = fit_clock(a, b)
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert clock.channel is ChannelName.HEART_RATE
    assert holds(clock.offset_s, 40.0)


def test_heart_rate_does_not_rescue_a_constant_effort() -> None:
    """Power and cadence are shared and say nothing: the clock stays ambiguous."""
    heart = varied(3600, seed=4, level=140, spread=8, memory_s=60)
    time_s, rng = np.arange(0.0, 3500), np.random.default_rng(5)
    sides = [
        recording(
            time_s,
            heart_rate=seen(heart, time_s, seed=k),
            power=np.round(200 + 4 * rng.standard_normal(time_s.size)),
        )
        for k in range(2)
    ]
    assert fit_clock(*sides).status is ClockStatus.AMBIGUOUS


def test_nothing_shared_is_said() -> None:
    """Power here, cadence there."""
    time_s = np.arange(600.0)
    clock = fit_clock(recording(time_s, power=time_s), recording(time_s, cadence=time_s))
    assert clock.status is ClockStatus.NO_COMMON_EFFORT
    assert clock.channel is None
    assert "none of cadence, power and heart rate in common" in clock.reason


@pytest.mark.parametrize("sizes", [(1, 1), (2, 500), (5, 5), (0, 100), (40, 3600)])
def test_very_short_recordings_are_no_error(sizes: tuple[int, int]) -> None:
    """Too little for a clock is an answer."""
    rng = np.random.default_rng(3)
    a, b = (recording(np.arange(float(n)), cadence=80 + 5 * rng.standard_normal(n)) for n in sizes)
    assert not fit_clock(a, b).status.usable


def test_a_short_ride_gives_no_drift_and_does_not_pretend() -> None:
    """Six minutes: the offset is found, drift is not assessed, and the segments carry the likeliest."""
    clock = fit_clock(*two(seconds=460, offset_s=3.0))
    assert clock.status.usable
    assert clock.offset_s.value == pytest.approx(3.0, abs=0.3)
    assert clock.drift_ppm.not_assessed == "ride_too_short"
    assert abs(clock.segments[0].drift_ppm) < 200


def test_windows_and_estimates_are_whole() -> None:
    """Every array of one length, times inside the ride, the standard uncertainty positive, the level as asked."""
    a, b = two(offset_s=12.0)
    clock: ClockFit = fit_clock(a, b, level=0.8)
    assert clock.offset_s.level == 0.8
    assert clock.windows.at_s.shape == clock.windows.offset_s.shape == clock.windows.correlation.shape
    assert 0 <= clock.windows.at_s.min() <= clock.windows.at_s.max() <= a.duration_s
    assert np.nanmedian(clock.windows.offset_s) == pytest.approx(12.0, abs=0.3)
    assert clock.standard_uncertainty_s > 0


@pytest.mark.parametrize("noise_w", [0.0, 3.0, 8.0])
def test_one_power_and_another_in_turns_on_power_alone_is_ambiguous(noise_w: float) -> None:
    """A trainer that sets the power: nothing between the changes is shared, and yet it is one ride."""
    rng = np.random.default_rng(1)
    power_w = np.where((np.arange(2400) // 60) % 2 == 0, 250.0, 120.0)
    shown = [np.round(gain * power_w + noise_w * rng.standard_normal(2400)) for gain in (1.0, 0.94)]
    first = recording(np.arange(2400.0), power=shown[0])
    second = recording(np.arange(2363.0), power=shown[1][37:])
    found = fit_clock(first, second)
    assert found.status is ClockStatus.AMBIGUOUS
    assert len(found.candidates) > 1
