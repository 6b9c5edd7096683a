"""What each detector tells from what only looks like it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.faults.made import (
    FAULTY,
    FROM,
    SECONDS,
    TO,
    cadence_rpm,
    changed,
    eased,
    effort_w,
    ride,
    shown_w,
    view_of,
    with_gap,
    with_jump,
)
from tests.unit.witnesses.rides import ride_of
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.detectors.frozen import least_run
from wattwitness.faults.detectors.registry import DETECTORS
from wattwitness.faults.find import find_candidates
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.recording import ChannelName
from wattwitness.model.settings import CompareSettings


def found(made: RideForFaults, **settings: float) -> tuple[Candidate, ...]:
    """All candidates of a ride."""
    return find_candidates(made, CompareSettings(**settings))[1]  # type: ignore[arg-type]


def of_detector(name: str, made: RideForFaults) -> tuple[Candidate, ...]:
    """What one detector alone finds."""
    return DETECTORS.get(name).find(view_of(made))


class TestDrop:
    def test_edges_depth_and_interval(self) -> None:
        (drop,) = found(FAULTY["drop"]())
        assert drop.kind is EpisodeKind.DROP
        assert abs(drop.start_s - FROM) <= 1
        assert abs(drop.end_s - TO) <= 1
        assert drop.depth_pct.low is not None
        assert drop.depth_pct.high is not None
        assert drop.depth_pct.low <= -20 <= drop.depth_pct.high
        assert drop.depth_pct.high - drop.depth_pct.low < 4
        assert not drop.lasts
        assert not drop.rider

    def test_edges_that_take_some_seconds_stand_at_half_depth(self) -> None:
        slope = np.clip(np.minimum(np.arange(60) / 10, (59 - np.arange(60)) / 10), 0.0, 1.0)
        (drop,) = found(changed(FROM, FROM + 60, lambda power_w: power_w * (1 - 0.3 * slope)))
        assert abs(drop.start_s - (FROM + 5)) <= 2
        assert abs(drop.end_s - (FROM + 55)) <= 2
        assert drop.depth_pct.value == pytest.approx(-30, abs=2)

    def test_one_still_on_at_the_end_lasts(self) -> None:
        (drop,) = found(changed(SECONDS - 120, SECONDS, lambda power_w: 0.8 * power_w))
        assert drop.kind is EpisodeKind.DROP
        assert drop.lasts

    def test_a_steady_bias_of_any_size_is_none(self) -> None:
        reference_w = effort_w()
        assert found(ride(reference_w, shown_w(reference_w, gain=0.6))) == ()

    def test_a_bias_that_settles_is_none(self) -> None:
        reference_w = effort_w()
        settling = 1 + 0.12 * np.exp(-np.arange(SECONDS) / 400.0)
        assert found(ride(reference_w, shown_w(reference_w) * settling)) == ()

    def test_a_drift_of_a_fifth_over_the_ride_is_none(self) -> None:
        reference_w = effort_w()
        assert found(ride(reference_w, shown_w(reference_w) * np.linspace(1.0, 0.8, SECONDS))) == ()

    def test_ten_minutes_are_not_swallowed_by_the_fit(self) -> None:
        (drop,) = found(changed(900, 1500, lambda power_w: 0.88 * power_w))
        assert abs(drop.start_s - 900) <= 3
        assert abs(drop.end_s - 1500) <= 3
        assert drop.depth_pct.value == pytest.approx(-12, abs=1.5)

    def test_three_in_one_ride_are_three(self) -> None:
        reference_w = effort_w()
        unit_w = shown_w(reference_w)
        for first, depth in ((500, 0.75), (1100, 0.7), (1900, 0.8)):
            unit_w[first : first + 100] *= depth
        drops = found(ride(reference_w, unit_w))
        assert [abs(one.start_s - first) <= 2 for one, first in zip(drops, (500, 1100, 1900), strict=True)] == [
            True
        ] * 3

    def test_thresholds_are_the_settings(self) -> None:
        made = changed(FROM, FROM + 40, lambda power_w: 0.91 * power_w)
        assert len(found(made)) == 1
        assert found(made, episode_depth_pct=15.0) == ()
        assert found(made, episode_duration_s=60.0) == ()

    def test_a_flywheel_that_runs_on_while_the_cranks_stand_is_none(self) -> None:
        reference_w = effort_w()
        unit_w, turning = shown_w(reference_w), cadence_rpm()
        unit_w[FROM : FROM + 14] = 0.0
        turning[FROM - 1 : FROM + 15] = 5.0
        cadence = {ChannelName.CADENCE: turning}
        assert found(ride_of(reference_w, unit_w, reference=cadence, unit=cadence)) == ()


class TestStep:
    def test_its_size_is_after_over_before(self) -> None:
        (step,) = found(FAULTY["step"]())
        assert step.kind is EpisodeKind.STEP
        assert step.depth_pct.value == pytest.approx(-15, abs=1.5)
        assert step.lasts

    def test_a_step_early_in_the_ride_is_one_too(self) -> None:
        (step,) = found(changed(500, SECONDS, lambda power_w: 1.15 * power_w))
        assert step.kind is EpisodeKind.STEP
        assert abs(step.start_s - 500) <= 3

    def test_what_creeps_is_left_to_settling(self) -> None:
        reference_w = effort_w()
        creeping = 1 - 0.15 * np.clip((np.arange(SECONDS) - 900) / 600, 0, 1)
        assert [one.kind for one in found(ride(reference_w, shown_w(reference_w) * creeping))] == []

    def test_beside_a_drop_both_are_told(self) -> None:
        reference_w = effort_w()
        unit_w = shown_w(reference_w)
        unit_w[1400:] *= 0.87
        unit_w[600:680] *= 0.75
        kinds = [one.kind for one in found(ride(reference_w, unit_w))]
        assert kinds == [EpisodeKind.DROP, EpisodeKind.STEP]

    @pytest.mark.parametrize("share", [0.8, 1.2])
    def test_what_comes_back_before_the_end_is_none(self, share: float) -> None:
        (one,) = found(changed(1500, 2100, lambda power_w: share * power_w))
        assert one.kind is (EpisodeKind.DROP if share < 1 else EpisodeKind.SURGE)
        assert abs(one.end_s - 2100) <= 3


class TestFrozen:
    def test_either_meter(self) -> None:
        reference_w = effort_w()
        unit_w = shown_w(reference_w)
        reference_w[FROM:TO] = 214.0
        (frozen,) = of_detector("frozen", ride(reference_w, unit_w))
        assert frozen.seen_in is MeterSide.REFERENCE

    def test_no_steady_ride_on_a_coarse_display(self) -> None:
        generator = np.random.default_rng(5)
        reference_w = np.round(200 + 2 * generator.standard_normal(SECONDS))
        unit_w = 5 * np.round((reference_w + generator.standard_normal(SECONDS)) / 5)
        assert of_detector("frozen", ride(reference_w, unit_w)) == ()

    def test_no_mean_of_five_seconds(self) -> None:
        reference_w = effort_w()
        smooth = np.convolve(reference_w, np.ones(5) / 5, mode="same")
        assert of_detector("frozen", ride(np.round(smooth), np.round(0.97 * smooth))) == ()

    def test_no_target_shown_in_place_of_a_measurement(self) -> None:
        target_w = np.repeat(np.array([150.0, 210.0, 180.0, 240.0]), SECONDS // 4)
        assert of_detector("frozen", ride(effort_w(), target_w)) == ()

    def test_coasting_is_the_riders_alone(self) -> None:
        reference_w = effort_w()
        reference_w[FROM:TO] = 0.0
        assert all(one.rider for one in found(ride(reference_w, shown_w(reference_w))))

    def test_a_recorder_that_holds_through_losses_asks_for_longer_runs(self) -> None:
        prompt = np.array([1] * 900 + [2] * 40 + [3])
        holding = np.concatenate([prompt, np.array([3, 4, 5, 6] * 8)])
        assert least_run(prompt) < 15
        assert least_run(holding) > 1.5 * least_run(prompt)


class TestMissing:
    def test_announced_pauses_are_none(self) -> None:
        assert of_detector("missing", with_gap(ride(), FROM, TO, announced=True)) == ()

    def test_a_gap_while_the_other_stood_is_none(self) -> None:
        reference_w = effort_w()
        reference_w[FROM - 2 : TO + 2] = 0.0
        assert of_detector("missing", with_gap(ride(reference_w), FROM, TO)) == ()

    def test_a_few_lost_samples_are_none(self) -> None:
        assert of_detector("missing", with_gap(ride(), FROM, FROM + 5)) == ()

    def test_an_event_driven_recorder_may_leave_more_between_samples(self) -> None:
        made = with_gap(ride(), FROM, FROM + 13)
        assert len(of_detector("missing", made)) == 1
        quiet = replace(made, recorded_unit=replace(made.recorded_unit, event_driven=True))
        assert of_detector("missing", quiet) == ()


class TestSpikeAndZeros:
    def test_a_sprint_that_both_saw_is_no_spike(self) -> None:
        reference_w = effort_w()
        reference_w[FROM : FROM + 3] = 900.0
        assert of_detector("spike", ride(reference_w)) == ()

    def test_a_spike_of_the_reference_is_its_own(self) -> None:
        reference_w = effort_w()
        unit_w = shown_w(reference_w)
        reference_w[FROM] = 2000.0
        (spike,) = of_detector("spike", ride(reference_w, unit_w))
        assert spike.seen_in is MeterSide.REFERENCE

    def test_zeros_while_the_cranks_stand_are_none(self) -> None:
        reference_w = effort_w()
        reference_w[FROM : FROM + 20] = 0.0
        assert of_detector("zeros", ride(reference_w)) == ()

    def test_one_fault_is_told_once(self) -> None:
        for name in ("zeros", "frozen", "spike"):
            assert [one.kind.value for one in found(FAULTY[name]())] == [name]


class TestEasing:
    def test_it_is_told_apart_from_a_drop_it_overlaps(self) -> None:
        made = eased()
        unit_w = np.array(made.unit_w)
        unit_w[FROM + 30 : FROM + 180] *= 0.75
        both = found(ride(np.array(made.expected_w), unit_w))
        assert [(one.rider, abs(one.start_s - at) <= 3) for one, at in zip(both, (FROM, FROM + 30), strict=True)] == [
            (True, True),
            (False, True),
        ]

    def test_the_rests_of_a_session_are_its_plan(self) -> None:
        reference_w = effort_w()
        for rest in range(300, SECONDS - 200, 360):
            reference_w[rest : rest + 100] *= 0.5
        assert found(ride(reference_w)) == ()

    def test_easing_off_within_a_session_stands_out(self) -> None:
        reference_w = effort_w()
        for rest in range(300, SECONDS - 200, 400):
            reference_w[rest : rest + 100] *= 0.5
        reference_w[1280:1320] *= 0.7
        (eased_off,) = found(ride(reference_w))
        assert eased_off.rider
        assert abs(eased_off.start_s - 1280) <= 5


class TestClockJump:
    def test_whose_clock_it_was(self) -> None:
        sides = [of_detector("clock_jump", with_jump(ride(), 900.0, step))[0].seen_in for step in (30.0, -30.0)]
        assert sides == [MeterSide.UNIT, MeterSide.REFERENCE]

    def test_a_pause_of_both_is_none(self) -> None:
        reference_w = effort_w()
        reference_w[900:960] = np.nan
        assert of_detector("clock_jump", with_jump(ride(reference_w, shown_w(reference_w)), 900.0, 60.0)) == ()
