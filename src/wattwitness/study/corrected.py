"""The power of a unit, corrected by a gain and a zero."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.torque import RADIANS_PER_S
from wattwitness.model.arrays import FloatArray, frozen_floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CorrectedPower:
    """Corrected power in W (n,), NaN where there was none or it could not be corrected; ``lost`` and ``cut`` count
    samples without cadence and samples that came out below zero.
    """

    power_w: FloatArray
    lost: int
    cut: int

    def __post_init__(self) -> None:
        """Copy and freeze the power."""
        object.__setattr__(self, "power_w", frozen_floats(self.power_w))


def corrected_power(
    power_w: FloatArray, cadence_rpm: FloatArray | None, *, gain: float, zero_nm: float
) -> CorrectedPower:
    """Take the zero and then the gain out of ``power_w`` (n,): (power - zero · 2 pi · cadence / 60) / gain.

    A power of zero stays zero: the display shows that nobody pedals, and no zero is seen in that. What comes out below
    zero is zero. Raises ValueError where a zero is to be taken out and no cadence is given.
    """
    if zero_nm == 0:
        return CorrectedPower(power_w=power_w / gain, lost=0, cut=0)
    if cadence_rpm is None:
        raise ValueError("a zero cannot be taken out without cadence")
    coasting = power_w == 0
    with np.errstate(invalid="ignore"):
        found = (power_w - zero_nm * RADIANS_PER_S * cadence_rpm) / gain
        below = (found < 0) & ~coasting
    lost = np.isfinite(power_w) & ~np.isfinite(cadence_rpm) & ~coasting
    found = np.where(coasting | below, 0.0, found)
    return CorrectedPower(power_w=found, lost=int(lost.sum()), cut=int(below.sum()))


def corrected_torque(torque_nm: FloatArray, *, gain: float, zero_nm: float) -> FloatArray:
    """The same for torque (n,); a torque of zero stays zero, and what comes out below zero is zero."""
    with np.errstate(invalid="ignore"):
        found = np.where(torque_nm == 0, 0.0, (torque_nm - zero_nm) / gain)
        return np.where((found < 0) & (torque_nm > 0), 0.0, found)
