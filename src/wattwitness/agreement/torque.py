"""Torque from power and cadence, and the cadence that belongs to a power seen through a response."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.clock.kernels import convolve_present, response_kernel
from wattwitness.model.arrays import FloatArray
from wattwitness.model.response import ResponseFit

RADIANS_PER_S = 2 * math.pi / 60
"""Angular velocity of 1 rpm."""


def torque_nm(power_w: FloatArray, cadence_rpm: FloatArray) -> FloatArray:
    """Return the mean torque at the crank, 60 * power / (2 pi * cadence), shape (n,); NaN where the crank stands still.

    Power is torque times angular velocity. A crank that does not turn shows no torque by its power: not zero.
    """
    turning = cadence_rpm > 0
    return np.where(turning, power_w / (RADIANS_PER_S * np.where(turning, cadence_rpm, 1.0)), np.nan)


def compared_cadence(cadence_rpm: FloatArray, fit: ResponseFit, *, of_reference: bool) -> FloatArray:
    """Return the cadence (n,), NaN where missing, smoothed as both powers are before they are compared.

    A zero of the unit enters its display through its response, as power does. The reference's cadence is also moved by
    what its power is moved by; the unit's own is on the unit's clock already.
    """
    smoothed = convolve_present(cadence_rpm, response_kernel(fit.unit), fit.shift_s if of_reference else 0.0)
    return convolve_present(smoothed, response_kernel(fit.reference))
