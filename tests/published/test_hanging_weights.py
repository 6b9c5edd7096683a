"""Torque of hanging weights, and gravity where they hang."""

from __future__ import annotations

import pytest

from wattwitness.reference.gravity import normal_gravity
from wattwitness.reference.weighing_series import hung_torque


@pytest.mark.parametrize(
    ("mass_kg", "crank_m", "torque_nm"),
    [(10, 0.1725, 16.91647125), (20, 0.1725, 33.8329425), (25, 0.17, 41.6782625), (5, 0.165, 8.09048625)],
)
def test_static_torque(mass_kg: float, crank_m: float, torque_nm: float) -> None:
    """Mass times lever times 9.80665 m/s²: constructed, exact arithmetic, not published."""
    assert hung_torque(mass_kg, 1000 * crank_m, 0.0, 9.80665) == pytest.approx(torque_nm, rel=1e-13)


def test_a_crank_off_horizontal_pulls_less() -> None:
    """5° cost 0.38 % (cosine; derived)."""
    assert hung_torque(10, 170, 5, 9.8) / hung_torque(10, 170, 0, 9.8) == pytest.approx(1 - 0.0038, abs=1e-5)


@pytest.mark.parametrize(("latitude_deg", "gravity"), [(0, 9.7803267715), (45, 9.806199203), (90, 9.8321863685)])
def test_normal_gravity(latitude_deg: float, gravity: float) -> None:
    """Geodetic Reference System 1980 at equator, 45° and pole (Moritz H, Bull. Géod. 54:395-405): read in several
    independent programs, not in the paper. Ten digits, as the constants of the formula are rounded."""
    assert normal_gravity(latitude_deg) == pytest.approx(gravity, abs=2e-9)
    assert normal_gravity(-latitude_deg, 1000.0) == pytest.approx(gravity - 0.003086, abs=2e-9)
