"""The change of bias between two stretches."""

from __future__ import annotations

import math

import pytest

from wattwitness.agreement.change import change_of_bias
from wattwitness.model.agreement import PeriodBias
from wattwitness.model.estimate import Estimate


def period(bias: Estimate) -> PeriodBias:
    return PeriodBias(start_s=0, end_s=1, seconds=1, reference_w=200, unit_w=190, bias_pct=bias)


def bias(value: float, low: float, high: float) -> Estimate:
    return Estimate(value=value, low=low, high=high, unit="%")


def test_symmetrical_intervals_add_in_quadrature() -> None:
    change = change_of_bias(period(bias(-4.0, -4.3, -3.7)), period(bias(-5.0, -5.4, -4.6)))
    assert change.value == pytest.approx(-1.0)
    assert change.low == pytest.approx(-1.5)
    assert change.high == pytest.approx(-0.5)


def test_each_side_takes_the_sides_that_move_it_there() -> None:
    # Zou & Donner 2008: lower limit θ2-θ1-sqrt((θ2-l2)²+(u1-θ1)²); recomputed by hand with a 3-4-5 triangle.
    change = change_of_bias(period(bias(0.0, -8.0, 4.0)), period(bias(1.0, -2.0, 7.0)))
    assert change.low == pytest.approx(1.0 - 5.0)
    assert change.high == pytest.approx(1.0 + 10.0)


def test_what_is_missing_or_open_stays_unassessed() -> None:
    missing = period(Estimate.missing("too_short", "%"))
    whole = period(bias(-4.0, -4.3, -3.7))
    assert change_of_bias(missing, whole).not_assessed == "too_short"
    assert change_of_bias(whole, missing).not_assessed == "too_short"
    assert change_of_bias(whole, period(bias(0, -math.inf, 1))).not_assessed == "open_interval"
