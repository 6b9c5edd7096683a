"""Power = torque x angular velocity: 2 pi rpm / 60 radians a second."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.simulate.rider import torque


def test_torque_of_power_at_cadence() -> None:
    """Four torques and cadences with their exact powers: constructed, exact arithmetic, not published."""
    torque_nm, cadence_rpm = np.array([40.0, 30, 25, 60]), np.array([90.0, 60, 100, 85])
    power_w = np.array([376.99111843077515, 188.49555921538757, 261.79938779914943, 534.0707511102648])
    assert torque(power_w, cadence_rpm) == pytest.approx(torque_nm, rel=1e-14)
    assert torque(np.zeros(1), np.zeros(1)) == pytest.approx([0.0])
