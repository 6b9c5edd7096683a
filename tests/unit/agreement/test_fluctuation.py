"""Whether the unit shows the legs, and in which steps it shows power."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import trailing_mean, wander
from wattwitness.agreement.fluctuation import fluctuation
from wattwitness.agreement.resolution import resolution_w
from wattwitness.model.arrays import FloatArray


def ridden(plan_w: FloatArray, seed: int = 1) -> FloatArray:
    """A rider's power around a plan: 7 % from second to second, some of it slow."""
    generator = np.random.default_rng(seed)
    quick, slow = wander(generator, plan_w.size, 1.0), wander(generator, plan_w.size, 25.0)
    return np.asarray(plan_w * (1 + 0.065 * quick + 0.023 * slow))


PLANS = {
    "steady": np.full(2400, 210.0),
    "intervals": np.where(np.arange(2400) // 240 % 2 == 0, 150.0, 280.0),
    "small steps": 200.0 + 25 * (np.arange(2400) // 180 % 4),
}


@pytest.mark.parametrize("plan", list(PLANS))
class TestTarget:
    def test_a_target_is_too_smooth(self, plan: str) -> None:
        legs = ridden(PLANS[plan])
        found = fluctuation(legs, legs, np.round(PLANS[plan]))
        assert found is not None
        assert found.too_smooth
        assert found.followed < 0.1

    def test_a_measurement_follows_the_legs_whatever_its_gain(self, plan: str) -> None:
        legs = ridden(PLANS[plan])
        unit = 0.9 * legs * (1 + 0.012 * np.random.default_rng(2).standard_normal(legs.size))
        found = fluctuation(legs, legs, unit)
        assert found is not None
        assert not found.too_smooth
        assert found.followed > 0.8

    def test_a_slow_display_is_no_target(self, plan: str) -> None:
        """Even where its response was not seen: the expected power is the reference as it is."""
        legs = ridden(PLANS[plan])
        found = fluctuation(legs, legs, trailing_mean(legs, 30))
        assert found is None or not found.too_smooth


def test_nothing_of_the_legs_is_nothing_to_miss() -> None:
    generator = np.random.default_rng(3)
    reference = 200 * (1 + 0.04 * generator.standard_normal(2400))
    found = fluctuation(reference, reference, np.full(2400, 200.0))
    assert found is not None
    assert not found.rider
    assert not found.too_smooth


def test_a_ride_that_never_held_an_effort_cannot_tell() -> None:
    generator = np.random.default_rng(4)
    power = np.maximum(200 + 90 * wander(generator, 1800, 15), 0)
    assert fluctuation(power, power, power) is None
    assert fluctuation(np.zeros(0), np.zeros(0), np.zeros(0)) is None


@pytest.mark.parametrize("step", [1.0, 2.0, 5.0, 10.0, 25.0])
def test_step_of_a_display(step: float) -> None:
    power = 200 + 60 * np.random.default_rng(5).standard_normal(800)
    assert resolution_w(step * np.round(power / step)) == step


def test_no_step_of_a_display() -> None:
    power = 200 + 60 * np.random.default_rng(5).standard_normal(800)
    assert resolution_w(power) is None
    assert resolution_w(np.full(800, 200.0)) is None
    assert resolution_w(np.zeros(0)) is None
    gaps = np.where(np.arange(800) % 3 == 0, np.nan, np.round(power / 5) * 5)
    assert resolution_w(gaps) == 5.0
