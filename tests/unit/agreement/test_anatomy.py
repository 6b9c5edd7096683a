"""Zero, gain and what else the bias goes with, on rides without noise or with little: the truth runs count coverage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.factories_why import anatomy
from tests.truth.agreement_rides import wander
from tests.truth.anatomy_rides import TrueErrors, anatomy_ride
from tests.unit.agreement.rides import LEVEL
from wattwitness.agreement.anatomy import error_anatomy
from wattwitness.agreement.relation import relation_blocks
from wattwitness.agreement.steps_up_down import step_direction
from wattwitness.model.anatomy import Anatomy
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate


def holds(estimate: Estimate, true: float) -> bool:
    return estimate.low is not None and estimate.high is not None and estimate.low <= true <= estimate.high


def taken_apart(
    reference_w: FloatArray, unit_w: FloatArray, cadence_rpm: FloatArray, left_share_pct: FloatArray | None = None
) -> Anatomy:
    blocks = relation_blocks(np.arange(float(reference_w.size)), reference_w, unit_w, cadence_rpm)
    return error_anatomy(blocks, reference_w, unit_w, level=LEVEL, left_share_pct=left_share_pct).anatomy


@pytest.mark.parametrize(("zero", "gain"), [(0.0, 0.0), (1.5, -4.0), (-0.7, 3.0)])
def test_zero_and_gain_come_back(zero: float, gain: float) -> None:
    ride = anatomy_ride(5, "steps", TrueErrors(zero_nm=zero, gain_pct=gain, noise_pct=0.5))
    found = taken_apart(ride.reference_w, ride.unit_w, ride.cadence_rpm)
    assert found.zero_nm.value == pytest.approx(zero, abs=0.03)
    assert found.gain_pct.value == pytest.approx(gain, abs=0.15)
    assert found.median_zero_nm == pytest.approx(zero, abs=0.06)
    assert found.median_gain_pct == pytest.approx(gain, abs=0.3)
    assert not found.strays
    assert found.zero_gain_correlation < 0


def test_a_zero_of_the_reference_is_one_of_the_unit_turned_round() -> None:
    ride = anatomy_ride(6, "steps", TrueErrors(zero_nm=1.0, noise_pct=0.5))
    found = taken_apart(ride.unit_w, ride.reference_w, ride.cadence_rpm)
    assert found.zero_nm.value == pytest.approx(-1.0, abs=0.03)


def test_dependence_on_cadence_at_equal_torque() -> None:
    ride = anatomy_ride(7, "steps", TrueErrors(noise_pct=0.5))
    unit = ride.unit_w * (1 + 0.02 * (ride.cadence_rpm - 80) / 10)
    found = taken_apart(ride.reference_w, unit, ride.cadence_rpm)
    assert found.per_10_rpm_pct.value == pytest.approx(2.0, abs=0.1)
    assert holds(found.per_100_w_pct, 0.0)


def test_dependence_on_power_at_equal_cadence() -> None:
    ride = anatomy_ride(8, "steps", TrueErrors(noise_pct=0.5, per_100_w_pct=1.5))
    found = taken_apart(ride.reference_w, ride.unit_w, ride.cadence_rpm)
    assert found.per_100_w_pct.value == pytest.approx(1.5, abs=0.1)


def test_a_zero_is_no_dependence_on_cadence_at_equal_torque() -> None:
    ride = anatomy_ride(9, "steps", TrueErrors(zero_nm=2.0))
    assert holds(taken_apart(ride.reference_w, ride.unit_w, ride.cadence_rpm).per_10_rpm_pct, 0.0)


def test_one_torque_tells_no_zero_from_a_gain() -> None:
    generator = np.random.default_rng(3)
    power = np.full(1800, 200.0)
    unit = power * (1.03 + 0.01 * generator.standard_normal(1800))
    found = taken_apart(power * (1 + 0.01 * generator.standard_normal(1800)), unit, np.full(1800, 85.0))
    assert found.zero_nm.not_assessed == "not_varied"
    assert found.gain_pct.not_assessed == "not_varied"
    assert found.per_10_rpm_pct.not_assessed == "not_varied"
    assert np.isnan(found.zero_gain_correlation)


def test_without_cadence_there_is_no_torque() -> None:
    ride = anatomy_ride(5, "group", TrueErrors())
    found = taken_apart(ride.reference_w, ride.unit_w, np.full(ride.time_s.size, np.nan))
    assert found.zero_nm.not_assessed == "no_cadence"


def up_and_down(seconds: int = 3600) -> FloatArray:
    """A pyramid of steps, so that every power is reached from below and from above."""
    ladder = np.array([120.0, 180, 240, 300, 240, 180])
    return np.asarray(ladder[(np.arange(seconds) // 120) % ladder.size])


def test_way_of_coming_to_a_power() -> None:
    power = up_and_down(720)
    direction = step_direction(power, power)
    assert direction[60] == 0
    assert direction[180] == 1
    assert direction[540] == -1


def test_up_and_down_steps_are_told_apart() -> None:
    generator = np.random.default_rng(4)
    power = up_and_down()
    before = np.concatenate([[power[0]] * 120, power[:-120]])
    unit = power * (1 + np.where(before < power, 0.01, -0.01)) * (1 + 0.005 * generator.standard_normal(power.size))
    reference = power * (1 + 0.005 * generator.standard_normal(power.size))
    rpm = 85 + 2 * wander(generator, power.size, 8)
    found = taken_apart(reference, unit, rpm)
    assert found.up_minus_down_pct.value == pytest.approx(2.0, abs=0.3)
    ramp = 100 + np.arange(3600) / 20
    assert taken_apart(ramp, ramp * 1.01, rpm).up_minus_down_pct.not_assessed == "no_steps"


def test_a_doubled_leg_follows_its_share() -> None:
    ride = anatomy_ride(11, "group", TrueErrors(noise_pct=0.5))
    share = 48 + 4 * wander(np.random.default_rng(5), ride.time_s.size, 5)
    unit = ride.unit_w * 2 * share / 100
    found = taken_apart(ride.reference_w, unit, ride.cadence_rpm, np.round(2 * share) / 2)
    assert found.per_left_point_pct.value == pytest.approx(2.0, abs=0.1)
    assert found.left_share_pct.value == pytest.approx(48.0, abs=0.5)
    steady = taken_apart(ride.reference_w, ride.unit_w, ride.cadence_rpm, share)
    assert holds(steady.per_left_point_pct, 0.0)
    assert taken_apart(ride.reference_w, unit, ride.cadence_rpm).left_share_pct.not_assessed == "no_left_share"
    held = np.full(ride.time_s.size, 50.0)
    assert taken_apart(ride.reference_w, unit, ride.cadence_rpm, held).per_left_point_pct.not_assessed == "not_varied"


def test_a_line_that_strays_cannot_move_is_beside_it() -> None:
    ride = anatomy_ride(12, "steps", TrueErrors(noise_pct=0.3))
    unit = np.where((ride.reference_w > 290) & (ride.time_s < 1000), 0.8, 1.0) * ride.unit_w
    found = taken_apart(ride.reference_w, unit, ride.cadence_rpm)
    assert found.median_gain_pct == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize(("median", "strays"), [(0.5, False), (1.9, False), (2.1, True), (float("nan"), False)])
def test_what_strays(median: float, strays: bool) -> None:
    made = replace(
        anatomy(0.0),
        gain_pct=Estimate(value=0.0, low=-1.0, high=1.0, unit="%"),
        median_gain_pct=median,
    )
    assert made.strays is strays
