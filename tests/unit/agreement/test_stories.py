"""Stories: the true one is among those allowed, what the data contradict is not, and what would part the rest."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from tests.truth.anatomy_rides import AnatomyRide, TrueErrors, anatomy_ride
from tests.unit.agreement.rides import LEVEL
from wattwitness.agreement.overall import overall_bias
from wattwitness.agreement.resolution import resolution_w
from wattwitness.agreement.stories.apart import (
    BALANCE,
    CADENCE_RIDE,
    LOSS_RIDE,
    RULER,
    TORQUE_RIDE,
    WEIGHTS,
    between,
    for_this_ride,
    with_more_meters,
)
from wattwitness.agreement.stories.crank_length import cases
from wattwitness.agreement.stories.evidence import EXCLUDED_BELOW, MeterFacts, Ridden
from wattwitness.agreement.stories.facts import facts_of
from wattwitness.agreement.stories.telling import chance
from wattwitness.agreement.stories.transmission_loss import expected_bias
from wattwitness.agreement.why import RideForWhy, WhyTheyDiffer, why_they_differ
from wattwitness.model.anatomy import MeterSide, Story
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import Response, ResponseFit, ResponseKind
from wattwitness.model.settling import TimeModel
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides

NONE = Estimate.missing("not_of_this_kind", "s")
PROMPT = Response(kind=ResponseKind.PROMPT, width_s=NONE, tau_s=NONE, delay_s=NONE)
EIGHT_S = Response(
    kind=ResponseKind.MEAN, width_s=Estimate(value=8.0, low=7.8, high=8.2, unit="s"), tau_s=NONE, delay_s=NONE
)
DIFFERENCES = {"scale_error", "zero_not_taken", "crank_length", "one_side_doubled", "transmission_loss"}


def told(
    ride: AnatomyRide,
    *,
    reference: MeterFacts | None = None,
    unit: MeterFacts | None = None,
    uncertainty_pct: float = 1.0,
    response: Response = PROMPT,
    with_cadence: bool = True,
    episodes: int = 0,
) -> dict[tuple[str, MeterSide], Story]:
    overall = overall_bias(
        ride.reference_w, ride.unit_w, level=LEVEL, reference_uncertainty_pct=uncertainty_pct, seed=1
    )
    why = why_they_differ(
        RideForWhy(
            time_s=ride.time_s,
            reference_w=ride.reference_w,
            expected_w=ride.reference_w,
            unit_w=ride.unit_w,
            cadence_rpm=ride.cadence_rpm if with_cadence else np.full(ride.time_s.size, np.nan),
            response=ResponseFit(reference=PROMPT, unit=response),
            reference_uncertainty_pct=uncertainty_pct,
            overall_pct=overall.bias_pct,
            recorded_unit_w=ride.unit_w,
            episodes=episodes,
            reference=reference or MeterFacts(),
            unit=unit or MeterFacts(),
        ),
        level=LEVEL,
    )
    return {(story.name, story.which_meter): story for story in why.stories}


def names(stories: dict[tuple[str, MeterSide], Story]) -> set[str]:
    return {story.name for story in stories.values() if story.allowed}


def test_a_clean_ride_has_nothing_to_explain() -> None:
    stories = told(anatomy_ride(21, "steps", TrueErrors()))
    assert names(stories) == {"within_uncertainty"}


def test_a_crank_length_against_the_record() -> None:
    """165 mm set where 172.5 mm is true reads 165/172.5: 4.35 % low at any torque, so a zero is excluded."""
    ride = anatomy_ride(22, "steps", TrueErrors(gain_pct=100 * (165 / 172.5 - 1)))
    stories = told(ride, unit=MeterFacts(crank_true_mm=172.5))
    crank = stories["crank_length", MeterSide.UNIT]
    assert crank.allowed
    assert crank.detail.startswith("set to 165 mm where 172.5 mm is true")
    assert RULER in crank.told_apart_by
    assert "zero_not_taken" not in names(stories)
    assert "scale_error" in names(stories)


def test_a_crank_length_on_record_that_does_not_explain_it() -> None:
    """175 mm set where 172.5 mm is true would read high; the unit reads low."""
    ride = anatomy_ride(22, "steps", TrueErrors(gain_pct=-5.0))
    stories = told(ride, unit=MeterFacts(crank_set_mm=175.0, crank_true_mm=172.5))
    assert not stories["crank_length", MeterSide.UNIT].allowed
    at_brake = told(ride, unit=MeterFacts(place=Place.BRAKE))["crank_length", MeterSide.UNIT]
    assert not at_brake.allowed
    assert "brake" in at_brake.why


@pytest.mark.parametrize(
    ("facts", "side", "gains"),
    [
        (MeterFacts(crank_set_mm=175.0, crank_true_mm=170.0), MeterSide.UNIT, {round(175 / 170 - 1, 6)}),
        (MeterFacts(crank_set_mm=175.0, crank_true_mm=170.0), MeterSide.REFERENCE, {round(170 / 175 - 1, 6)}),
    ],
)
def test_cases_by_the_record(facts: MeterFacts, side: MeterSide, gains: set[float]) -> None:
    assert {round(case.gain, 6) for case in cases(facts, side)} == gains


def test_cases_without_a_record_are_every_pair_of_common_lengths() -> None:
    """Thirteen lengths from 150 to 180 mm in steps of 2.5 mm, each set against each other."""
    assert len(cases(MeterFacts(), MeterSide.UNIT)) == 13 * 12
    assert len(cases(MeterFacts(crank_true_mm=172.5, crank_set_mm=172.5), MeterSide.UNIT)) == 12


def test_a_zero_alone() -> None:
    stories = told(anatomy_ride(23, "steps", TrueErrors(zero_nm=1.5)))
    assert names(stories) & DIFFERENCES == {"zero_not_taken"}
    taken = told(anatomy_ride(23, "steps", TrueErrors(zero_nm=1.5)), reference=MeterFacts(zero_taken=True))
    assert taken["zero_not_taken", MeterSide.UNIT].allowed


def test_a_gain_and_a_zero_stand_only_together() -> None:
    """Neither alone explains the difference: both are told, with the other in their words and no chance of their own;
    and no ride is asked for that would tell what this one has told."""
    stories = told(anatomy_ride(24, "steps", TrueErrors(zero_nm=2.0, gain_pct=-6.0)))
    for name, beside in (("scale_error", "zero of +"), ("zero_not_taken", "gain of \u2212")):
        story = stories[name, MeterSide.EITHER]
        assert story.allowed
        assert story.misfit is None
        assert f"only together with a {beside}" in story.why
        assert TORQUE_RIDE not in story.told_apart_by
        assert WEIGHTS in story.told_apart_by


@pytest.mark.parametrize("errors", [TrueErrors(zero_nm=2.0, gain_pct=-6.0), TrueErrors(gain_pct=3.0), TrueErrors()])
def test_no_story_contradicts_its_own_chance(errors: TrueErrors) -> None:
    for story in told(anatomy_ride(31, "steps", errors)).values():
        if story.misfit is not None and story.name != "within_uncertainty":
            assert story.allowed == (story.misfit >= EXCLUDED_BELOW), story


def test_what_cannot_be_parted_is_named_on_both_sides_with_the_ride_that_would() -> None:
    """At one torque a zero and a gain are one thing."""
    generator = np.random.default_rng(8)
    power = 200 * (1 + 0.01 * generator.standard_normal(3600))
    ride = AnatomyRide(
        time_s=np.arange(3600.0),
        reference_w=power,
        unit_w=190 * (1 + 0.01 * generator.standard_normal(3600)),
        cadence_rpm=np.full(3600, 85.0),
    )
    stories = told(ride)
    assert {"scale_error", "zero_not_taken"} <= names(stories)
    assert TORQUE_RIDE in stories["scale_error", MeterSide.EITHER].told_apart_by
    assert WEIGHTS in stories["scale_error", MeterSide.EITHER].told_apart_by


def test_a_bias_the_reference_may_make_itself() -> None:
    ride = anatomy_ride(24, "steps", TrueErrors(gain_pct=2.0))
    assert "within_uncertainty" in names(told(ride, uncertainty_pct=3.2))
    assert "within_uncertainty" not in names(told(ride, uncertainty_pct=0.3))


def test_a_loss_lies_behind_the_transmission() -> None:
    """2.5 W and 1.2 % at 250 W: 2.2 % low; never high, and never between two meters at the same end."""
    assert expected_bias(250.0, unit_is_behind=True) == pytest.approx(-0.022)
    assert expected_bias(250.0, unit_is_behind=False) == pytest.approx(1 / 0.978 - 1)
    ride = anatomy_ride(25, "steps", TrueErrors(gain_pct=-2.2))
    pedals, hub = MeterFacts(place=Place.PEDAL), MeterFacts(place=Place.HUB)
    assert "transmission_loss" in names(told(ride, reference=pedals, unit=hub))
    assert "transmission_loss" not in names(told(ride, reference=hub, unit=pedals))
    assert "transmission_loss" not in names(told(ride, reference=pedals, unit=MeterFacts(place=Place.CRANK)))


def test_both_legs_on_record_exclude_a_doubled_one() -> None:
    ride = anatomy_ride(26, "steps", TrueErrors(gain_pct=-6.0))
    assert told(ride)["one_side_doubled", MeterSide.UNIT].allowed
    assert not told(ride, unit=MeterFacts(sides=Sides.BOTH))["one_side_doubled", MeterSide.UNIT].allowed


def test_a_leg_gives_no_third_of_the_power() -> None:
    """A third low would take a leg with 33 % of the power; riders give 40 to 60 %."""
    ride = anatomy_ride(27, "steps", TrueErrors(gain_pct=-34.0))
    assert not told(ride)["one_side_doubled", MeterSide.UNIT].allowed


def test_smoothing_by_the_response() -> None:
    ride = anatomy_ride(28, "group", TrueErrors())
    assert ("smoothing", MeterSide.UNIT) in told(ride, response=EIGHT_S)
    assert "smoothing" in names(told(ride, response=EIGHT_S))
    assert "smoothing" not in names(told(ride))


def test_coarse_steps() -> None:
    ride = anatomy_ride(29, "group", TrueErrors())
    coarse = AnatomyRide(
        time_s=ride.time_s,
        reference_w=ride.reference_w,
        unit_w=10 * np.round(ride.unit_w / 10),
        cadence_rpm=ride.cadence_rpm,
    )
    assert resolution_w(coarse.unit_w) == 10.0
    assert resolution_w(ride.unit_w) == 1.0
    assert resolution_w(ride.unit_w + 0.37) is None
    assert "quantisation" in names(told(coarse))
    assert "quantisation" not in names(told(ride))


def test_a_target_shown_does_not_follow_the_legs() -> None:
    generator = np.random.default_rng(9)
    plan = np.repeat([150.0, 250.0, 200.0, 300.0], 600)
    slow = np.convolve(generator.standard_normal(2400 + 7), np.ones(8) / 8, mode="valid")
    legs = plan * (1 + 0.12 * slow) + 2 * generator.standard_normal(2400)
    cadence = 85 + generator.standard_normal(2400)
    time = np.arange(2400.0)
    shown = AnatomyRide(time_s=time, reference_w=legs, unit_w=plan + 0.4, cadence_rpm=cadence)
    measured = AnatomyRide(time_s=time, reference_w=legs, unit_w=0.95 * legs, cadence_rpm=cadence)
    assert "target_shown" in names(told(shown))
    assert "target_shown" not in names(told(measured))


def test_without_cadence_a_zero_is_neither_shown_nor_ruled_out() -> None:
    for zero_nm in (2.0, 0.0):
        stories = told(anatomy_ride(30, "group", TrueErrors(zero_nm=zero_nm, gain_pct=4.0)), with_cadence=False)
        (zero,) = (story for story in stories.values() if story.name == "zero_not_taken")
        assert zero.allowed
        assert zero.misfit is None
        assert "N·m" not in zero.why


def why_of(ride: AnatomyRide) -> WhyTheyDiffer:
    overall = overall_bias(ride.reference_w, ride.unit_w, level=LEVEL, reference_uncertainty_pct=1.0, seed=1)
    return why_they_differ(
        RideForWhy(
            time_s=ride.time_s,
            reference_w=ride.reference_w,
            expected_w=ride.reference_w,
            unit_w=ride.unit_w,
            cadence_rpm=ride.cadence_rpm,
            response=ResponseFit(reference=PROMPT, unit=PROMPT),
            reference_uncertainty_pct=1.0,
            overall_pct=overall.bias_pct,
        ),
        level=LEVEL,
    )


def test_on_a_ramp_that_settles_no_zero_is_told_and_no_story_of_size_excluded() -> None:
    """The unit settles by 8 % and its zero is right; a zero would look the same."""
    why = why_of(anatomy_ride(31, "ramp", TrueErrors(course="settling", change_pct=8.0)))
    assert why.settling.model is TimeModel.CONFOUNDED
    assert why.anatomy.zero_nm.not_assessed == "confounded"
    assert why.anatomy.gain_pct.not_assessed == "confounded"
    by_size = [story for story in why.stories if story.name in DIFFERENCES | {"within_uncertainty"}]
    assert all(story.allowed for story in by_size)
    assert any("settled along the ride" in story.why for story in by_size)


@pytest.mark.parametrize("course", ["linear", "step"])
def test_a_zero_that_moves_along_the_ride_is_that_of_its_end(course: str) -> None:
    """0 at first, 1.5 N·m in the end, gain right throughout: no crank length comes out of it."""
    still = anatomy_ride(32, "steps", TrueErrors())
    minutes = still.time_s / 60
    moved = minutes / minutes[-1] if course == "linear" else (minutes > 25).astype(float)
    omega = still.cadence_rpm * 2 * np.pi / 60
    why = why_of(replace(still, unit_w=still.unit_w + 1.5 * moved * omega * (still.unit_w > 0)))
    zero, gain = why.anatomy.zero_nm, why.anatomy.gain_pct
    assert zero.value == pytest.approx(1.5, abs=0.15)
    assert gain.low is not None
    assert gain.high is not None
    assert gain.low - 0.3 <= 0 <= gain.high + 0.3
    assert not any(story.allowed for story in why.stories if story.name == "crank_length")


def test_a_zero_on_steps_up_and_down_is_no_course_of_time() -> None:
    why = why_of(anatomy_ride(33, "steps", TrueErrors(zero_nm=-1.5, gain_pct=2.0)))
    assert why.settling.model is TimeModel.CONSTANT


def test_what_parts_two_stories() -> None:
    assert between("zero_not_taken", "crank_length") == TORQUE_RIDE
    assert between("crank_length", "scale_error") == RULER
    assert between("one_side_doubled", "scale_error") == BALANCE
    assert between("smoothing", "scale_error") == ""
    assert between("zero_not_taken", "scale_error", zero_shown=True) == ""


def test_facts_from_a_description() -> None:
    """A power put right for its crank length is that of a meter set to the true one."""
    setup = SetupRecord(crank_set_mm=172.5, crank_true_mm=170.0, zero_taken=True)
    meter = MeterFile(place=Place.PEDAL, sides=Sides.BOTH, setup=setup)
    assert facts_of(meter) == MeterFacts(
        place=Place.PEDAL, sides=Sides.BOTH, crank_set_mm=172.5, crank_true_mm=170.0, zero_taken=True
    )
    assert facts_of(MeterFile(setup=setup, put_right_crank=True)).crank_set_mm == 170.0
    assert facts_of(None) == MeterFacts()


def test_no_chance_is_written_as_a_power_of_ten() -> None:
    assert [chance(value) for value in (0.997, 0.5, 0.05, 0.0001)] == ["over 99 %", "50 %", "5.0 %", "under 0.1 %"]


def test_a_gain_that_leaves_a_zero_says_so_and_one_number_is_told_for_it() -> None:
    stories = told(anatomy_ride(24, "steps", TrueErrors(zero_nm=2.0, gain_pct=-2.0)), uncertainty_pct=3.2)
    crank = stories["crank_length", MeterSide.UNIT]
    assert crank.allowed
    assert "leaves the zero of +" in crank.why
    assert "170 mm set in the unit where 172.5 mm is true" in crank.why
    (gain,) = set(re.findall(r"off by (.\d\.\d\d %)", stories["scale_error", MeterSide.EITHER].why))
    assert f"the ride shows {gain} as a gain" in crank.why


def test_a_crank_length_makes_no_drift_and_a_gain_is_that_of_the_end() -> None:
    ride = anatomy_ride(22, "steps", TrueErrors())
    share = 1 - 0.06 * ride.time_s / ride.time_s[-1]
    drifting = replace(ride, unit_w=ride.unit_w * share)
    stories = told(drifting)
    assert not stories["crank_length", MeterSide.UNIT].allowed
    assert "drifts on" in stories["crank_length", MeterSide.UNIT].why
    assert stories["scale_error", MeterSide.EITHER].why.startswith("At the end of the ride")


def test_agreement_outside_of_episodes_is_not_nothing_to_explain() -> None:
    ride = anatomy_ride(21, "steps", TrueErrors())
    assert "nothing to explain" in told(ride)["within_uncertainty", MeterSide.EITHER].why
    why = told(ride, episodes=2)["within_uncertainty", MeterSide.EITHER].why
    assert "nothing to explain" not in why
    assert "the 2 episodes found" in why


def test_nobody_is_sent_to_ride_again_what_was_ridden() -> None:
    steps = Ridden(torque_nm=(10.0, 33.0), power_w=(70.0, 300.0), cadence_rpm=(60.0, 100.0))
    steady = Ridden(torque_nm=(20.0, 25.0), power_w=(180.0, 220.0))
    for advice in (TORQUE_RIDE, CADENCE_RIDE, LOSS_RIDE):
        assert for_this_ride(advice, steady) == advice
        assert "already" in for_this_ride(advice, steps)
    stories = tuple(told(anatomy_ride(24, "steps", TrueErrors(gain_pct=5.0))).values())
    assert any("ride with a third meter" in story.told_apart_by for story in stories)
    assert not any("ride with a third meter" in story.told_apart_by for story in with_more_meters(stories))
