"""The acceleration of a hanging mass where the laboratory stands."""

from __future__ import annotations

import math

NORMAL_UNCERTAINTY_M_S2 = 0.001
"""Half-width that holds what mountains and rocks make of gravity nearly everywhere: anomalies seldom pass 100 mGal
(from memory). It is 0.01 % of a torque."""

SOMEWHERE_M_S2 = 9.806
SOMEWHERE_UNCERTAINTY_M_S2 = 0.026
"""Gravity at sea level lies within this of that from equator to pole."""


def normal_gravity(latitude_deg: float, height_m: float = 0.0) -> float:
    """Return normal gravity, m/s², at ``latitude_deg`` north or south and ``height_m`` above the sea.

    Somigliana's formula with the constants of the Geodetic Reference System 1980 (Moritz H, Bulletin Géodésique
    54:395-405; constants read), and 3.086e-6 /s² less for each metre of height (free air).
    """
    sine_squared = math.sin(math.radians(latitude_deg)) ** 2
    at_sea = 9.7803267715 * (1 + 0.001931851353 * sine_squared) / math.sqrt(1 - 0.00669438002290 * sine_squared)
    return at_sea - 3.086e-6 * height_m
