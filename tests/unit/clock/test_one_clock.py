"""The search for one clock as a whole: signs, statuses, and what must never be called found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.truth.clock_rides import Effort, Recorder, record, ride
from wattwitness.clock.fit import fit_clock
from wattwitness.clock.mapping import to_reference_s
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.recording import ChannelName, Recording

HALF_HOUR_S = 1800.0
POWER_ALONE = (ChannelName.POWER,)


def recordings(
    unit: Recorder, reference: Recorder | None = None, *, seed: int = 1, length_s: float = HALF_HOUR_S
) -> tuple[Recording, Recording]:
    rng = np.random.default_rng(seed)
    effort = ride("group", rng, length_s=length_s)
    first = record(effort, reference or Recorder(), rng, length_s=length_s)
    return first, record(effort, unit, rng, length_s=length_s)


def covers(clock: ClockFit, truth: float) -> bool:
    low, high = clock.offset_s.low, clock.offset_s.high
    assert low is not None
    assert high is not None
    return low <= truth <= high


def value(clock: ClockFit) -> float:
    assert clock.offset_s.value is not None
    return clock.offset_s.value


def test_the_offset_is_what_is_added_to_the_unit() -> None:
    clock = fit_clock(*recordings(Recorder(offset_s=123.4)))
    assert clock.status is ClockStatus.FOUND
    assert clock.channel is ChannelName.CADENCE
    assert value(clock) == pytest.approx(123.4, abs=0.15)
    assert covers(clock, 123.4)
    assert clock.jumps == ()


def test_the_other_way_round_the_sign_turns() -> None:
    reference, unit = recordings(Recorder(offset_s=-77.25))
    assert value(fit_clock(unit, reference)) == pytest.approx(77.25, abs=0.15)


def test_drift_is_negative_where_the_units_clock_runs_fast() -> None:
    # A clock that runs fast counts too many seconds: ever less has to be added to it.
    clock = fit_clock(*recordings(Recorder(offset_s=5.0, drift_ppm=-140.0), length_s=5400.0))
    assert clock.drift_ppm.value == pytest.approx(-140.0, abs=45.0)


@pytest.mark.parametrize("offset_s", [14 * 3600.0, -9.5 * 3600, 3.2e8])
def test_no_offset_is_too_far(offset_s: float) -> None:
    reference, unit = recordings(Recorder(offset_s=3.0))
    moved = replace(unit, time_s=unit.time_s - offset_s)
    clock = fit_clock(reference, moved)
    assert clock.status is ClockStatus.FOUND
    assert value(clock) == pytest.approx(offset_s + 3.0, abs=0.15)


def test_a_part_of_the_ride_is_enough() -> None:
    reference, unit = recordings(Recorder(offset_s=8.0, first_s=600.0, last_s=1500.0))
    clock = fit_clock(reference, unit)
    assert clock.status is ClockStatus.FOUND
    assert value(clock) == pytest.approx(8.0, abs=0.2)


def test_a_pause_of_the_unit_is_a_jump_of_the_seconds_to_add() -> None:
    reference, unit = recordings(Recorder(offset_s=10.0, stops=((1100.0, 90.0),)))
    clock = fit_clock(reference, unit)
    (jump,) = clock.jumps
    assert jump.step_s.value == pytest.approx(90.0, abs=0.5)
    assert jump.at_s.value == pytest.approx(1100.0, abs=100.0)
    assert value(clock) == pytest.approx(10.0, abs=0.3)
    (turned,) = fit_clock(unit, reference).jumps
    assert turned.step_s.value == pytest.approx(-90.0, abs=0.5)


def test_the_segments_map_the_units_time() -> None:
    reference, unit = recordings(Recorder(offset_s=10.0, stops=((900.0, 60.0),)))
    mapped = to_reference_s(fit_clock(reference, unit), unit.time_s)
    assert mapped[5] - unit.time_s[5] == pytest.approx(10.0, abs=0.3)
    assert mapped[-5] - unit.time_s[-5] == pytest.approx(70.0, abs=0.3)


@pytest.mark.parametrize(
    "smooth", [{"cadence_mean_s": 7.0}, {"cadence_tau_s": 4.0}], ids=["mean of 7 s", "exponential of 4 s"]
)
@pytest.mark.parametrize("side", ["unit", "reference"])
def test_a_smoothed_cadence_is_never_a_clean_find(smooth: dict[str, float], side: str) -> None:
    plain = Recorder()
    late = Recorder(cadence_mean_s=smooth.get("cadence_mean_s", 0.0), cadence_tau_s=smooth.get("cadence_tau_s", 0.0))
    unit, reference = (late, plain) if side == "unit" else (plain, late)
    clock = fit_clock(*recordings(replace(unit, offset_s=20.0), reference))
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert covers(clock, 20.0)


def test_power_alone_is_one_sided() -> None:
    late = Recorder(offset_s=20.0, channels=POWER_ALONE, power_mean_s=5.0, power_delay_s=2.0)
    clock = fit_clock(*recordings(late, Recorder(channels=POWER_ALONE)))
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert clock.channel is ChannelName.POWER
    assert 20.0 - 4.5 - 0.3 <= value(clock) <= 20.3, "right to within the display's delay"
    assert covers(clock, 20.0)
    assert not covers(clock, value(clock) - 1.0), "a display is never early"
    assert covers(clock, value(clock) + 3.0), "it may be later than its shape says"


@pytest.mark.parametrize("step_s", [0.25, 1.26, 3.0])
def test_other_spacings(step_s: float) -> None:
    clock = fit_clock(*recordings(Recorder(offset_s=31.5, step_s=step_s)))
    assert clock.status.usable
    assert value(clock) == pytest.approx(31.5, abs=0.5)
    assert covers(clock, 31.5)


def _two_levels(hard: np.ndarray) -> Effort:
    return Effort(
        power_w=np.where(hard, 300.0, 120.0),
        cadence_rpm=np.where(hard, 92.0, 85.0),
        heart_rate_bpm=np.full(hard.size, 140.0),
    )


@pytest.mark.parametrize("period_s", [0, 60], ids=["constant", "30 s hard, 30 s easy"])
def test_an_effort_that_fits_many_offsets_is_ambiguous(period_s: int) -> None:
    second = np.arange(36_000) * 0.1
    effort = _two_levels(second % period_s < 30 if period_s else np.zeros(second.size, bool))
    rng = np.random.default_rng(4)
    pair = [record(effort, Recorder(offset_s=offset), rng, length_s=HALF_HOUR_S) for offset in (0.0, 12.0)]
    clock = fit_clock(pair[0], pair[1])
    assert clock.status is ClockStatus.AMBIGUOUS
    assert not clock.offset_s.assessed
    assert clock.segments == ()
    assert clock.candidates


def test_two_rides_share_no_clock() -> None:
    for seed in range(3):
        first, _ = recordings(Recorder(), seed=10 + seed)
        _, second = recordings(Recorder(), seed=20 + seed)
        assert fit_clock(first, second).status is ClockStatus.NO_COMMON_EFFORT


def test_copies_of_one_recording_are_one_source() -> None:
    reference, _ = recordings(Recorder())
    shifted = replace(reference, time_s=reference.time_s + 7200)
    assert fit_clock(reference, shifted).status is ClockStatus.SAME_SOURCE
    thinned = {name: values[::2] for name, values in reference.channels.items()}
    every_other = replace(reference, time_s=reference.time_s[::2], channels=thinned)
    assert fit_clock(reference, every_other).status is ClockStatus.SAME_SOURCE


def test_a_shared_cadence_sensor_and_strap_is_no_copy() -> None:
    reference, unit = recordings(Recorder(power_noise=0.03))
    channels = dict(reference.channels)
    channels[ChannelName.POWER] = np.round(np.interp(reference.time_s, unit.time_s, unit.channels[ChannelName.POWER]))
    assert fit_clock(reference, replace(reference, channels=channels)).status is ClockStatus.FOUND


def test_nothing_in_common_to_read_a_clock_from() -> None:
    reference, unit = recordings(
        Recorder(channels=(ChannelName.CADENCE,)), Recorder(channels=(ChannelName.HEART_RATE,))
    )
    clock = fit_clock(reference, unit)
    assert not clock.status.usable
    assert clock.reason
