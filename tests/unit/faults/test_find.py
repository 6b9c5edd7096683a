"""Episodes as a whole: energy, bias without them, seconds outside, order, and what comes of empty rides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.faults.made import FAULTY, FROM, SECONDS, TO, changed, effort_w, nothing, ride, shown_w, with_gap
from tests.unit.witnesses.rides import ride_of
from wattwitness.clock.response import fit_response
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.find import find_faults, power_without_recorded_faults
from wattwitness.faults.masking import seconds_outside, seconds_within
from wattwitness.faults.merging import bridged, merged
from wattwitness.faults.relation import fit_relation
from wattwitness.faults.robust import biweight_fit
from wattwitness.faults.running import near, running_range, running_sums, stretches
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.episodes import EpisodeKind, FaultsFound, Finding, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.settings import CompareSettings

SETTINGS = CompareSettings()


class TestAWholeRideOfNothing:
    """A unit that shows 0 W throughout while the rider once eases off, with cadence and heart rate recorded."""

    @staticmethod
    def found() -> FaultsFound:
        made = FAULTY["easing"]()
        zeros = np.zeros(SECONDS)
        heart = np.round(140 + 10 * np.sin(np.arange(SECONDS) / 200.0))
        cadence = made.pair.reference[ChannelName.CADENCE]
        return find_faults(
            ride_of(
                made.expected_w,
                zeros,
                reference={ChannelName.CADENCE: cadence, ChannelName.HEART_RATE: heart},
                unit={ChannelName.CADENCE: cadence, ChannelName.RESISTANCE: np.full(SECONDS, 30.0)},
            ),
            SETTINGS,
        )

    def test_its_moments_are_counted_once(self) -> None:
        found = self.found()
        assert [one.kind for one in found.episodes] == [EpisodeKind.ZEROS]
        assert found.patterns == (), "what fills the ride has no rate"

    def test_a_witness_that_was_recorded_is_not_said_to_be_missing(self) -> None:
        (zeros,) = self.found().episodes
        says = {witness.kind: witness.says for witness in zeros.witnesses}
        for kind in (WitnessKind.CADENCE, WitnessKind.RESISTANCE):
            assert "nothing lies beside it" in says[kind]
            assert "missing" not in says[kind]
        assert says[WitnessKind.HEART_RATE].startswith("Heart rate was recorded, but too little of the ride")

    def test_one_that_is_missing_still_is(self) -> None:
        made = FAULTY["drop"]()
        gone = np.array(made.pair.reference[ChannelName.CADENCE])
        gone[FROM - 200 : TO + 200] = np.nan
        channels = {ChannelName.CADENCE: gone}
        found = find_faults(ride_of(made.expected_w, made.unit_w, reference=channels, unit=channels), SETTINGS)
        (drop,) = found.episodes
        says = {witness.kind: witness.says for witness in drop.witnesses}
        assert "is missing in or beside this stretch" in says[WitnessKind.CADENCE]


class TestFoundFaults:
    def test_a_drop_of_the_unit_is_measured(self) -> None:
        made = FAULTY["drop"]()
        found = find_faults(made, SETTINGS)
        (drop,) = found.episodes
        lost_kj = float(np.sum(shown_w(effort_w())[FROM:TO] - made.unit_w[FROM:TO])) / 1000
        assert drop.energy_kj.value == pytest.approx(lost_kj, rel=0.1)
        assert drop.energy_kj.low is not None
        assert drop.energy_kj.high is not None
        assert drop.energy_kj.low <= lost_kj <= drop.energy_kj.high
        whole_kj = float(shown_w(effort_w()).sum()) / 1000
        assert drop.energy_share_pct == pytest.approx(100 * lost_kj / whole_kj, rel=0.1)
        assert drop.before_w == pytest.approx(210, abs=10)
        assert drop.before_rpm == pytest.approx(86, abs=3)
        assert found.hours == pytest.approx(SECONDS / 3600, rel=0.01)
        assert found.channels == (ChannelName.CADENCE,)

    def test_the_bias_without_it_is_that_of_the_other_seconds(self) -> None:
        found = find_faults(FAULTY["drop"](), SETTINGS)
        bias = found.bias_without_pct
        assert bias.low is not None
        assert bias.high is not None
        assert bias.low <= -6.0 <= bias.high
        clean = find_faults(ride(), SETTINGS)
        assert clean.episodes == ()
        assert clean.lost_kj == 0.0
        assert clean.bias_without_pct.value == pytest.approx(bias.value, abs=0.2)

    def test_a_gap_of_the_unit_loses_all_that_was_ridden(self) -> None:
        (gap,) = find_faults(with_gap(ride(), FROM, TO), SETTINGS).episodes
        assert gap.kind is EpisodeKind.MISSING
        assert gap.energy_kj.value == pytest.approx(0.94 * 210 * (TO - FROM) / 1000, rel=0.1)

    def test_a_step_bias_without_is_that_before_it(self) -> None:
        found = find_faults(FAULTY["step"](), SETTINGS)
        assert found.bias_without_pct.value == pytest.approx(-6.0, abs=1.0)

    def test_episodes_stand_in_order_of_time(self) -> None:
        reference_w = effort_w()
        unit_w = shown_w(reference_w)
        unit_w[1800:1900] *= 0.7
        unit_w[600:620] = 0.0
        unit_w[1200:1260] *= 1.3
        found = find_faults(ride(reference_w, unit_w), SETTINGS)
        kinds = [one.kind for one in found.episodes]
        assert kinds == [EpisodeKind.ZEROS, EpisodeKind.SURGE, EpisodeKind.DROP]

    def test_what_the_rider_did_costs_the_unit_nothing(self) -> None:
        (eased,) = find_faults(FAULTY["easing"](), SETTINGS).episodes
        assert eased.finding is Finding.RIDER
        assert eased.energy_kj.not_assessed == "not_of_the_unit"
        assert eased.depth_pct.value == pytest.approx(-40, abs=4)

    @pytest.mark.parametrize("seconds", [0, 1, 40, 900])
    def test_nothing_recorded_gives_no_episode_and_no_number(self, seconds: int) -> None:
        found = find_faults(nothing(seconds), SETTINGS)
        assert found.episodes == ()
        assert not found.bias_without_pct.assessed
        assert found.hours == 0

    def test_a_ride_of_two_minutes_can_be_asked(self) -> None:
        assert find_faults(ride(effort_w(seconds=120)), SETTINGS).episodes == ()

    def test_spot_readings_hold_no_episode(self) -> None:
        made = FAULTY["drop"]()
        spot = replace(made, recorded_unit=replace(made.recorded_unit, spot=True))
        assert find_faults(spot, SETTINGS).episodes == ()


class TestRelation:
    def test_a_drop_of_ten_minutes_does_not_bend_it(self) -> None:
        made = changed(1500, 2100, lambda power_w: 0.7 * power_w)
        relation = fit_relation(made, None, np.zeros(SECONDS, dtype=bool))
        np.testing.assert_allclose(relation.foretold_w.sum(), 0.94 * effort_w().sum(), rtol=0.006)

    def test_a_zero_is_told_from_a_gain(self) -> None:
        reference_w = np.round(effort_w() * np.repeat([0.6, 1.0, 1.5, 0.8], SECONDS // 4))
        unit_w = np.round(reference_w + 1.5 * 86 * np.pi / 30)
        made = ride(reference_w, unit_w)
        assert find_faults(made, SETTINGS).episodes == ()

    def test_a_biweight_fit_leaves_strays_alone(self) -> None:
        generator = np.random.default_rng(1)
        at = np.linspace(0, 1, 200)
        response = 0.02 + 0.1 * at + 0.005 * generator.standard_normal(200)
        response[60:110] -= 0.3
        fit = biweight_fit(response, np.column_stack([np.ones(200), at]), np.array([10.0, 10.0]), scatter=0.006)
        np.testing.assert_allclose(fit.coefficients, [0.02, 0.1], atol=0.004)


class TestResponseUnderFaults:
    def test_numbers_that_nobody_rode_are_left_out(self) -> None:
        reference_w = effort_w()
        late = np.convolve(reference_w, np.ones(4) / 4)[:SECONDS]
        unit_w = np.round(0.95 * late)
        unit_w[300:480] = unit_w[299]
        unit_w[900:902] = 2500.0
        unit_w[1500:1530] = 0.0
        made = ride(reference_w, unit_w)
        kept = power_without_recorded_faults(made, SETTINGS)
        assert kept is not None
        assert np.isnan(kept[1][305:475]).all()
        assert np.isnan(kept[1][900:902]).all()
        assert np.isfinite(kept[0]).all()
        fit = fit_response(*kept, clock_channel=ChannelName.CADENCE)
        assert fit.unit.width_s.value == pytest.approx(4.0, abs=0.3)

    def test_a_clean_ride_is_left_as_it_is(self) -> None:
        assert power_without_recorded_faults(ride(), SETTINGS) is None


class TestMasking:
    def test_seconds_in_and_outside(self) -> None:
        found = find_faults(FAULTY["drop"](), SETTINGS)
        time_s = np.arange(float(SECONDS))
        outside = seconds_outside(time_s, found.episodes)
        assert not outside[FROM + 1 : TO - 1].any()
        assert outside[: FROM - 3].all()
        assert outside[TO + 3 :].all()
        rider = [replace(one, finding=Finding.RIDER) for one in found.episodes]
        assert seconds_outside(time_s, rider).all()

    def test_a_margin_widens(self) -> None:
        (one,) = find_faults(FAULTY["drop"](), SETTINGS).episodes
        within = seconds_within(np.arange(float(SECONDS)), [one], margin_s=10.0)
        assert within.sum() == pytest.approx(TO - FROM + 20, abs=4)


def candidate(kind: EpisodeKind, start_s: float, end_s: float, side: MeterSide = MeterSide.EITHER) -> Candidate:
    """A candidate of 10 % depth."""
    depth = Estimate(value=-10.0, low=-11.0, high=-9.0, unit="%")
    return Candidate(kind=kind, start_s=start_s, end_s=end_s, depth_pct=depth, certainty=0.9, seen_in=side)


class TestMerging:
    def test_neighbours_of_one_kind_are_one(self) -> None:
        one, other = (candidate(EpisodeKind.DROP, at, at + 50.0) for at in (100.0, 155.0))
        (both,) = merged([other, one])
        assert (both.start_s, both.end_s) == (100.0, 205.0)

    def test_other_kinds_and_other_meters_stay_apart(self) -> None:
        drop, surge = candidate(EpisodeKind.DROP, 100, 150), candidate(EpisodeKind.SURGE, 155, 190)
        assert len(merged([drop, surge])) == 2
        sides = [candidate(EpisodeKind.ZEROS, 100, 110, side) for side in (MeterSide.UNIT, MeterSide.REFERENCE)]
        assert len(merged(sides)) == 2

    def test_a_gap_nobody_saw_across_does_not_part_a_drop(self) -> None:
        drops = [candidate(EpisodeKind.DROP, at, at + 50.0) for at in (100.0, 190.0)]
        seen = np.ones(400, dtype=bool)
        assert len(bridged(drops, seen)) == 2
        seen[152:188] = False
        (both,) = bridged(drops, seen)
        assert (both.start_s, both.end_s) == (100.0, 240.0)

    def test_what_the_samples_show_explains_what_lies_in_it(self) -> None:
        gap = candidate(EpisodeKind.MISSING, 100, 200, MeterSide.UNIT)
        spike = candidate(EpisodeKind.SPIKE, 110, 112, MeterSide.UNIT)
        assert merged([spike, gap]) == [gap]


class TestRunning:
    def test_ranges_sums_and_stretches(self) -> None:
        values = np.array([1.0, 5.0, 2.0, 2.0, 2.0])
        np.testing.assert_array_equal(running_range(values, 1), [4.0, 4.0, 3.0, 0.0, 0.0])
        np.testing.assert_array_equal(running_sums(values)[0], [0.0, 1.0, 6.0, 8.0, 10.0, 12.0])
        first, end = stretches(np.array([True, False, True, True]))
        assert (list(first), list(end)) == ([0, 2], [1, 4])
        assert list(near(np.array([False, False, True, False, False]), 1)) == [False, True, True, True, False]
