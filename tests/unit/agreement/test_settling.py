"""The course of the bias along a ride: each model once, its numbers, its words; the truth runs count how often."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.truth.agreement_rides import Effort
from tests.truth.anatomy_rides import AnatomyRide, TrueErrors, anatomy_ride
from tests.unit.agreement.rides import LEVEL
from wattwitness.agreement.relation import relation_blocks
from wattwitness.agreement.settling import nothing_settled, settling_of
from wattwitness.agreement.settling_columns import explained_by_power, settling_shape, steadied
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.settling import Settling, TimeModel


def course(effort: Effort, errors: TrueErrors, *, seed: int = 1, temperature_c: FloatArray | None = None) -> Settling:
    return course_of(anatomy_ride(seed, effort, errors), temperature_c=temperature_c)


def course_of(ride: AnatomyRide, *, temperature_c: FloatArray | None = None, from_s: int = 0) -> Settling:
    unit = np.where(ride.time_s < from_s, np.nan, ride.unit_w)
    blocks = steadied(relation_blocks(ride.time_s, ride.reference_w, unit, ride.cadence_rpm))
    return settling_of(blocks, level=LEVEL, temperature_c=temperature_c).settling


def holds(estimate: Estimate, true: float) -> bool:
    return estimate.low is not None and estimate.high is not None and estimate.low <= true <= estimate.high


SETTLES = TrueErrors(course="settling", change_pct=-8.0, tau_min=8.0, gain_pct=2.0)


def test_settling_comes_back_with_its_numbers() -> None:
    found = course("group", SETTLES)
    assert found.model is TimeModel.SETTLING
    assert found.tau_min.value == pytest.approx(8.0, rel=0.2)
    assert found.settled_bias_pct.value == pytest.approx(2.0, abs=0.4)
    assert found.start_bias_pct.value == pytest.approx(100 * (1.02 * 0.92 - 1), abs=1.0)
    assert holds(found.tau_min, 8.0)
    # 95 % of an exponential change are over after ln 20 = 2.996 time constants.
    assert found.settled_at_min.value == pytest.approx(math.log(20) * (found.tau_min.value or 0.0))
    assert "settles" in found.why
    assert found.fitted_pct[-1] == pytest.approx(found.end_bias_pct.value or 0.0, abs=0.2)
    assert dict(found.probabilities)[TimeModel.SETTLING] > 0.9


def test_settling_is_timed_on_the_references_clock() -> None:
    ride = anatomy_ride(2, "group", SETTLES)
    late, whole = course_of(ride, from_s=240), course_of(ride)
    assert late.settled_at_min.value == pytest.approx(4 + math.log(20) * (late.tau_min.value or 0.0), abs=0.05)
    # What is left of the change after four of eight minutes is exp(-1/2) of it.
    assert late.start_bias_pct.value == pytest.approx(100 * (1.02 * (1 - 0.08 * math.exp(-0.5)) - 1), abs=1.0)
    assert whole.start_bias_pct.value is not None
    assert late.start_bias_pct.value is not None
    assert whole.start_bias_pct.value < late.start_bias_pct.value


def test_a_drift_does_not_settle() -> None:
    found = course("group", TrueErrors(course="linear", change_pct=4.0))
    assert found.model is TimeModel.LINEAR
    assert found.start_bias_pct.value == pytest.approx(4.0, abs=0.4)
    assert found.end_bias_pct.value == pytest.approx(0.0, abs=0.4)
    assert found.settled_bias_pct.not_assessed == "still_changing"
    assert found.tau_min.not_assessed == "no_settling"


def test_a_step_is_found_where_it_is() -> None:
    found = course("intervals", TrueErrors(course="step", change_pct=-5.0))
    assert found.model is TimeModel.STEP
    assert found.settled_at_min.value == pytest.approx(30, abs=2)
    assert found.start_bias_pct.value == pytest.approx(-5.0, abs=0.4)
    assert found.settled_bias_pct.value == pytest.approx(0.0, abs=0.4)


def test_a_constant_bias_is_that_of_the_ride() -> None:
    ride = anatomy_ride(3, "steps", TrueErrors(gain_pct=-3.0))
    blocks = relation_blocks(ride.time_s, ride.reference_w, ride.unit_w, ride.cadence_rpm)
    overall = Estimate(value=-3.01, low=-3.2, high=-2.8, unit="%")
    found = settling_of(blocks, level=LEVEL, overall_pct=overall).settling
    assert found.model is TimeModel.CONSTANT
    assert found.settled_bias_pct == overall
    assert found.start_bias_pct == overall
    assert settling_of(blocks, level=LEVEL).settling.settled_bias_pct.value == pytest.approx(-3.0, abs=0.2)


def test_a_ramp_cannot_part_time_from_power() -> None:
    for errors in (TrueErrors(per_100_w_pct=2.0), TrueErrors(zero_nm=1.5), SETTLES):
        found = course("ramp", errors)
        assert found.model is TimeModel.CONFOUNDED
        assert found.settled_bias_pct.not_assessed == "confounded"
        assert found.halves_change_pct.not_assessed == "confounded"
        assert np.isnan(found.fitted_pct).all()
    assert course("ramp", TrueErrors(gain_pct=3.0)).model is TimeModel.CONSTANT


def test_a_bias_that_goes_with_power_stays() -> None:
    assert course("intervals", TrueErrors(per_100_w_pct=3.0)).model is TimeModel.CONSTANT


def test_what_power_explains() -> None:
    ramp = anatomy_ride(4, "ramp", TrueErrors())
    group = anatomy_ride(4, "group", TrueErrors())
    for ride, much in ((ramp, True), (group, False)):
        blocks = relation_blocks(ride.time_s, ride.reference_w, ride.unit_w, ride.cadence_rpm)
        share = explained_by_power(blocks, settling_shape(blocks, 600.0).values)
        assert (share > 0.9) is much
        assert (share < 0.4) is not much


def test_halves_at_equal_power() -> None:
    found = course("group", TrueErrors(course="step", change_pct=-4.0))
    assert holds(found.halves_change_pct, 4.0)
    assert "second half reads +" in found.halves_sentence
    still = course("group", TrueErrors())
    assert holds(still.halves_change_pct, 0.0)
    assert "no change" in still.halves_sentence


def test_temperature_that_the_bias_follows() -> None:
    generator = np.random.default_rng(9)
    warm = 20 + 5 * np.sin(np.arange(3600) / 700) + 0.1 * generator.standard_normal(3600)
    ride = anatomy_ride(5, "group", TrueErrors())
    unit = ride.unit_w * (1 - 0.004 * (warm - 20))
    moved = AnatomyRide(time_s=ride.time_s, reference_w=ride.reference_w, unit_w=unit, cadence_rpm=ride.cadence_rpm)
    found = course_of(moved, temperature_c=np.round(warm))
    assert found.per_10_c_pct.value == pytest.approx(-4.0, abs=0.8)
    assert "changes by" in found.temperature_sentence
    assert course("group", TrueErrors(), temperature_c=np.full(3600, 21.0)).per_10_c_pct.not_assessed == "not_varied"
    assert course("group", TrueErrors()).per_10_c_pct.not_assessed == "no_temperature"


def test_too_short_a_ride_has_no_course() -> None:
    ride = anatomy_ride(1, "group", TrueErrors(), seconds=200)
    blocks = relation_blocks(ride.time_s, ride.reference_w, ride.unit_w, ride.cadence_rpm)
    found = settling_of(steadied(blocks), level=LEVEL).settling
    assert found.model is None
    assert found.start_bias_pct.not_assessed == "too_short"
    assert nothing_settled("no_power", LEVEL).tau_min.not_assessed == "no_power"
