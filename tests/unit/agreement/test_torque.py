"""Torque, and the cadence that goes with a smoothed power."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.agreement.torque import compared_cadence, torque_nm
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import Response, ResponseFit, ResponseKind

NONE = Estimate.missing("not_of_this_kind", "s")
PROMPT = Response(kind=ResponseKind.PROMPT, width_s=NONE, tau_s=NONE, delay_s=NONE)
FOUR = Response(
    kind=ResponseKind.MEAN,
    width_s=Estimate(value=4, low=4, high=4, unit="s"),
    tau_s=NONE,
    delay_s=NONE,
)


def test_torque_is_power_over_angular_velocity() -> None:
    # 60 · 200 / (2π · 80) = 23.873 N·m, recomputed by hand.
    assert torque_nm(np.array([200.0]), np.array([80.0]))[0] == pytest.approx(23.8732, abs=1e-4)


def test_a_crank_that_stands_still_shows_no_torque() -> None:
    assert np.isnan(torque_nm(np.array([0.0, 150.0]), np.array([0.0, 0.0]))).all()


def test_cadence_is_smoothed_as_the_unit_shows_power() -> None:
    cadence = np.array([80.0] * 6 + [100.0] * 6)
    fit = ResponseFit(reference=PROMPT, unit=FOUR)
    shown = compared_cadence(cadence, fit, of_reference=True)
    np.testing.assert_allclose(shown[6:10], [85, 90, 95, 100])


def test_only_the_references_cadence_is_moved_with_its_power() -> None:
    cadence = np.arange(60.0, 80.0)
    fit = ResponseFit(reference=PROMPT, unit=PROMPT, shift_s=2.0)
    np.testing.assert_allclose(compared_cadence(cadence, fit, of_reference=True)[5:], cadence[3:-2])
    np.testing.assert_allclose(compared_cadence(cadence, fit, of_reference=False), cadence)
