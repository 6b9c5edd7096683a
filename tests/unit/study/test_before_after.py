"""Before and after: firm words only where they are shown."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.study.figures import figures
from wattwitness.model.study import BeforeAfter, ChangeFinding, RideFigures
from wattwitness.study.before_after import ChangeLimits, before_and_after

LIMITS = ChangeLimits(bias_pct=2.0, spread_pct=2.0, faults_per_h=0.5, margin_pct=1.0)


def rides(mean: float, spread: float, count: int, *, seed: int, faults: tuple[int, ...] = ()) -> list[RideFigures]:
    rng = np.random.default_rng(seed)
    bias = mean + spread * rng.normal(size=count)
    return [figures(k, float(bias[k]), faults=faults[k] if k < len(faults) else 0) for k in range(count)]


def held(before: list[RideFigures], after: list[RideFigures]) -> BeforeAfter:
    return before_and_after(before, after, LIMITS, names=("1.04", "1.05"), seed=1)


def word(result: BeforeAfter, name: str) -> ChangeFinding:
    return next(aspect.finding for aspect in result.aspects if aspect.name == name)


def test_a_bias_mended_is_fixed() -> None:
    result = held(rides(-6, 0.3, 6, seed=1), rides(-0.2, 0.3, 6, seed=2))
    assert word(result, "bias") is ChangeFinding.FIXED
    assert result.finding is ChangeFinding.FIXED
    assert result.bias_change_pct.value == pytest.approx(5.8, abs=0.5)
    assert result.equivalent is False


def test_half_mended_is_improved_and_the_other_way_is_worse() -> None:
    low, half = rides(-8, 0.3, 6, seed=3), rides(-4, 0.3, 6, seed=4)
    assert held(low, half).finding is ChangeFinding.IMPROVED
    assert held(half, low).finding is ChangeFinding.WORSE


def test_drops_mended_are_fixed_only_with_enough_hours() -> None:
    broken = rides(-0.3, 0.3, 8, seed=5, faults=(2, 1, 3, 0, 2, 1, 2, 1))
    few, many = rides(-0.3, 0.3, 4, seed=6), rides(-0.3, 0.3, 8, seed=7)
    assert word(held(broken, few), "faults") is ChangeFinding.IMPROVED
    assert word(held(broken, many), "faults") is ChangeFinding.FIXED
    assert held(broken, many).finding is ChangeFinding.FIXED


def test_drops_mended_on_a_bike_that_still_reads_low_are_no_fix() -> None:
    broken = rides(-6, 0.3, 8, seed=5, faults=(2, 1, 3, 0, 2, 1, 2, 1))
    assert held(broken, rides(-6, 0.3, 8, seed=8)).finding is ChangeFinding.IMPROVED


def test_one_ride_full_of_faults_is_no_proof() -> None:
    """Ten faults in one of four rides against none in four: shuffled rides are as far apart."""
    result = held(rides(0, 0.2, 4, seed=9, faults=(10,)), rides(0, 0.2, 4, seed=10))
    assert word(result, "faults") is ChangeFinding.NOT_SHOWN
    assert result.fault_chance == 1.0


def test_spread_mended() -> None:
    result = held(rides(0, 5, 10, seed=11), rides(0, 0.3, 10, seed=12))
    assert word(result, "spread") is ChangeFinding.FIXED
    assert result.variance_ratio.high is not None
    assert result.variance_ratio.high < 1


def test_nothing_changed_is_said_only_where_it_is_shown() -> None:
    alike = held(rides(-0.2, 0.2, 8, seed=13), rides(-0.2, 0.2, 8, seed=14))
    assert alike.equivalent is True
    assert alike.finding is ChangeFinding.UNCHANGED
    few = held(rides(-0.2, 3, 3, seed=15), rides(-0.2, 3, 3, seed=16))
    assert few.finding is ChangeFinding.NOT_SHOWN


def test_one_ride_each_shows_nothing() -> None:
    result = held(rides(-6, 0.3, 1, seed=17), rides(0, 0.3, 1, seed=18))
    assert result.finding is ChangeFinding.NOT_SHOWN
    assert not result.bias_change_pct.assessed
    assert before_and_after([], [], LIMITS, names=("a", "b"), seed=1).says.endswith("too few rides.")
