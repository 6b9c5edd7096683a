"""A correction is worth what it does on rides it has not seen."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.study.figures import figures
from wattwitness.model.study import CorrectionModel
from wattwitness.study.correction import gain_and_zero, judge_corrections

LEVER = 2 * math.pi / 60


def test_a_constant_error_is_corrected_by_one_factor() -> None:
    rng = np.random.default_rng(1)
    found = judge_corrections([figures(k, -17 + 0.4 * rng.normal()) for k in range(8)])
    assert found.best is CorrectionModel.GAIN
    assert found.correctable
    assert found.error_pct is not None
    assert found.bound_pct is not None
    assert found.error_pct < 1 < found.bound_pct + 1
    assert found.formula.startswith("corrected power = power shown / 0.83")


def test_a_wandering_one_is_not_correctable() -> None:
    found = judge_corrections([figures(k, bias) for k, bias in enumerate((-13, -1, -6, -11, -3, -9, -5, -2))])
    assert not found.correctable
    assert found.error_pct is not None
    assert found.error_pct > 3
    assert "cannot be corrected" in found.says
    assert "-13.0 to -1.0 %" in found.says


def test_a_constant_zero_over_rides_of_different_effort_is_gain_and_zero() -> None:
    """1.5 N·m too little at 120 to 300 W: the crude bias goes from -11 to -4 %, and the correction finds it all."""
    rng = np.random.default_rng(2)
    rides = []
    for k, power in enumerate((120, 150, 180, 200, 220, 250, 280, 300)):
        bias = -1.5 * LEVER * 85 / power * 100 + 0.2 * rng.normal()
        rides.append(figures(k, bias, gain=0.5 * rng.normal(), zero=-1.5 + 0.1 * rng.normal(), mean_w=power))
    found = judge_corrections(rides)
    assert found.best is CorrectionModel.GAIN_AND_ZERO
    assert found.error_pct is not None
    assert found.error_pct < 1
    gain, zero = gain_and_zero(rides)
    assert zero == pytest.approx(-1.5, abs=0.15)
    assert gain == pytest.approx(1.0, abs=0.01)
    assert "+ 0.15" in found.formula


def test_a_good_bike_needs_none() -> None:
    found = judge_corrections([figures(k, bias) for k, bias in enumerate((0.2, -0.3, 0.1, 0.0))])
    assert found.best is CorrectionModel.NONE
    assert found.correctable
    assert "needs no correction" in found.says


def test_a_settling_one_over_rides_of_different_length() -> None:
    """-2 % at first, -10 % settled, 10 min: short rides look less low than long ones."""
    rides = []
    for k, hours in enumerate((0.25, 0.5, 1.0, 2.0, 0.33, 1.5)):
        minutes = 60 * hours
        early = 10 / minutes * (1 - math.exp(-minutes / 10))
        rides.append(figures(k, -10 + 8 * early, hours=hours, course=(-2.0, -10.0, 10.0), zero=math.nan))
    found = judge_corrections(rides)
    assert found.best is CorrectionModel.WITH_SETTLING
    assert found.error_pct == pytest.approx(0.0, abs=1e-9)


def test_two_rides_are_too_few_and_those_left_out_do_not_count() -> None:
    rides = [figures(0, -4.0), figures(1, -4.1), figures(2, 30.0, left_out="ambiguous_clock")]
    found = judge_corrections(rides)
    assert found.best is None
    assert found.error_pct is None
    assert not found.correctable
    assert "2 count" in found.says


def test_what_is_left_is_small_and_never_nothing() -> None:
    rides = [figures(k, -4.0 + 0.001 * k, error=0.01) for k in range(5)]
    says = judge_corrections(rides, level=0.95).says
    assert "under 0.1 % root mean square" in says
    assert " 0.0 %" not in says
