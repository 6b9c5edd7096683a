"""Steady and surging."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import effort_w
from tests.unit.agreement.rides import LEVEL
from wattwitness.agreement.efforts import effort_biases
from wattwitness.model.agreement import EffortKind
from wattwitness.model.arrays import FloatArray


def shares(expected_w: FloatArray) -> dict[EffortKind, float]:
    """Share of the seconds under each kind."""
    found = effort_biases(expected_w, expected_w, level=LEVEL)
    total = sum(effort.seconds for effort in found)
    return {effort.kind: effort.seconds / total for effort in found}


def test_a_held_power_is_steady_with_a_riders_own_scatter() -> None:
    assert shares(effort_w(np.random.default_rng(1), 3600, "steady"))[EffortKind.STEADY] > 0.98


def test_half_minutes_on_and_off_are_surging() -> None:
    assert shares(effort_w(np.random.default_rng(1), 3600, "short_intervals"))[EffortKind.SURGING] > 0.98


def test_a_slow_ramp_is_steady() -> None:
    assert shares(effort_w(np.random.default_rng(1), 3600, "ramp"))[EffortKind.STEADY] > 0.95


def test_noise_of_the_reference_is_no_surge() -> None:
    noisy = np.full(3600, 200.0) * (1 + 0.08 * np.random.default_rng(2).standard_normal(3600))
    assert shares(noisy)[EffortKind.STEADY] > 0.98


def test_each_kind_has_its_bias() -> None:
    generator = np.random.default_rng(3)
    expected_w = np.concatenate([effort_w(generator, 1800, kind) for kind in ("steady", "short_intervals")])
    unit_w = np.concatenate([1.01 * expected_w[:1800], 1.06 * expected_w[1800:]])
    found = {effort.kind: effort.bias_pct.value for effort in effort_biases(expected_w, unit_w, level=LEVEL)}
    assert found[EffortKind.STEADY] == pytest.approx(1.0, abs=0.3)
    assert found[EffortKind.SURGING] == pytest.approx(6.0, abs=0.3)


def test_a_failing_unit_is_no_surge() -> None:
    expected_w = effort_w(np.random.default_rng(4), 3600, "steady")
    unit_w = np.where((np.arange(3600) // 40) % 2 == 0, expected_w, 0.5 * expected_w)
    kinds = {effort.kind: effort.seconds for effort in effort_biases(expected_w, unit_w, level=LEVEL)}
    assert kinds[EffortKind.STEADY] > 3500


def test_nothing_common() -> None:
    nothing = np.full(100, np.nan)
    assert effort_biases(nothing, nothing, level=LEVEL) == ()
