"""Readings under hanging weights that lie off the line of all the others: a mistyped mass, lever or reading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.hanging_weights import HungReading, LoadStep, Side
from wattwitness.reference.weighing_series import UNLOADED, hung_torque
from wattwitness.stats.quantiles import student_quantile

MEDIAN_TO_SD = 1.4826
FALSE_ALARM = 0.001
MEDIAN_KNOWS = 0.5
"""A median absolute departure knows a spread about as well as half as many readings by squares would."""

LEAST_SHARE = 0.01
"""A departure under 1 % of the largest torque is shape or scatter, and no slip of the pen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """A reading off the line of the others; ``expected_nm`` is what that line says.

    ``fitting_kg`` is the mass with which the reading would lie on it, NaN for the unloaded meter.
    """

    reading: HungReading
    expected_nm: float
    fitting_kg: float


def strays_of(
    readings: Sequence[HungReading], side: Side, gravity_m_s2: float, rounding_nm: float
) -> tuple[Stray, ...]:
    """Readings of ``side`` that lie far off the line through the others of their series.

    The slope is the median over pairs of one series (Theil 1950; Sen 1968), which up to 29 % of wrong readings do not
    carry away, and every series has the median of its own remainders as zero. Far is Student's t for one false alarm
    in a thousand worksheets, with the scale from the median absolute departure, and at least 1 % of the largest torque.
    """
    mine = [item for item in readings if item.side is side]
    keys = list(dict.fromkeys((item.position, item.repeat) for item in mine))
    torque = np.array([_torque_nm(item, gravity_m_s2) for item in mine])
    shown = np.array([item.reading_nm for item in mine])
    of_series = np.array([keys.index((item.position, item.repeat)) for item in mine])
    degrees = len(mine) - len(keys) - 1
    if degrees < 3:
        return ()
    slope = _median_slope(torque, shown, of_series)
    remainder = shown - slope * torque
    zero = np.array([float(np.median(remainder[of_series == place])) for place in range(len(keys))])
    departure = remainder - zero[of_series]
    scale = MEDIAN_TO_SD * float(np.median(np.abs(departure))) * math.sqrt(len(mine) / degrees)
    far = student_quantile(1 - FALSE_ALARM / len(mine), MEDIAN_KNOWS * degrees) * max(scale, rounding_nm / math.sqrt(3))
    far = max(far, LEAST_SHARE * float(np.abs(torque).max()))
    return tuple(
        Stray(
            reading=item,
            expected_nm=float(slope * load + zero[place]),
            fitting_kg=_fitting_kg(item, float(reading - zero[place]), slope, gravity_m_s2),
        )
        for item, load, reading, place, off in zip(mine, torque, shown, of_series, departure, strict=True)
        if abs(off) > far
    )


def _torque_nm(item: HungReading, gravity_m_s2: float) -> float:
    if item.step in UNLOADED:
        return 0.0
    return hung_torque(item.mass_kg, item.lever_mm, item.angle_deg, gravity_m_s2)


def _median_slope(torque: FloatArray, shown: FloatArray, of_series: FloatArray) -> float:
    slopes: list[FloatArray] = []
    for place in np.unique(of_series):
        own = of_series == place
        first, second = np.triu_indices(int(own.sum()), 1)
        run = torque[own][second] - torque[own][first]
        rise = shown[own][second] - shown[own][first]
        apart = np.abs(run) > 1e-6
        slopes.append(rise[apart] / run[apart])
    every = np.concatenate(slopes)
    return float(np.median(every)) if every.size else math.nan


def _fitting_kg(item: HungReading, above_zero_nm: float, slope: float, gravity_m_s2: float) -> float:
    per_kg = slope * hung_torque(1.0, item.lever_mm, item.angle_deg, gravity_m_s2)
    loaded = item.step in (LoadStep.UP, LoadStep.DOWN)
    return above_zero_nm / per_kg if loaded and abs(per_kg) > 1e-9 else math.nan
