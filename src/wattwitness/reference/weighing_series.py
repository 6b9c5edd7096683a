"""Readings under hanging weights put into series: torque hung, and reading with the zero followed through."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.hanging_weights import HungReading, LoadStep, Side

LEAST_LOADS = 3
UNLOADED = (LoadStep.ZERO_BEFORE, LoadStep.ZERO_AFTER)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """One loading and unloading at one position, in the order it was done.

    ``torque_nm`` (n,) hung and ``corrected_nm`` (n,) read less the zero of that moment; ``going_up`` (n,) is 1 where
    weights were being added, -1 where taken off, 0 unloaded. ``zero_nm`` before and ``zero_shift_nm`` after less
    before; NaN where not read. ``zero_path_effect`` is the most that the slope can be off, with its sign, if the
    zero moved at one moment rather than along the straight line by which it was followed.
    """

    position: str
    repeat: int
    torque_nm: FloatArray
    corrected_nm: FloatArray
    going_up: FloatArray
    lever_mm: float
    angle_deg: float
    zero_nm: float
    zero_shift_nm: float
    zero_path_effect: float

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("torque_nm", "corrected_nm", "going_up"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


def hung_torque(mass_kg: float, lever_mm: float, angle_deg: float, gravity_m_s2: float) -> float:
    """Torque, N·m, of ``mass_kg`` at ``lever_mm`` from the axis with the crank ``angle_deg`` from horizontal."""
    return mass_kg * gravity_m_s2 * lever_mm / 1000 * math.cos(math.radians(angle_deg))


def series_of(readings: Sequence[HungReading], side: Side, gravity_m_s2: float) -> tuple[Series, ...]:
    """The series of one side, in the order they were taken.

    Raises ValueError where one holds fewer than three different loads, zero among them.
    """
    keys = dict.fromkeys((item.position, item.repeat) for item in readings if item.side is side)
    return tuple(
        _one_series(
            [item for item in readings if item.side is side and (item.position, item.repeat) == key], gravity_m_s2
        )
        for key in keys
    )


def _one_series(readings: Sequence[HungReading], gravity_m_s2: float) -> Series:
    torque = np.array(
        [
            0.0 if item.step in UNLOADED else hung_torque(item.mass_kg, item.lever_mm, item.angle_deg, gravity_m_s2)
            for item in readings
        ]
    )
    first = readings[0]
    if np.unique(np.round(torque, 6)).size < LEAST_LOADS:
        raise ValueError(
            f"the series “{first.position}”, repeat {first.repeat}, {first.side.value}, holds fewer than "
            f"{LEAST_LOADS} different loads, zero counted as one"
        )
    reading = np.array([item.reading_nm for item in readings])
    before = np.array([item.step is LoadStep.ZERO_BEFORE for item in readings])
    after = np.array([item.step is LoadStep.ZERO_AFTER for item in readings])
    zero_before = float(reading[before].mean()) if before.any() else math.nan
    zero_after = float(reading[after].mean()) if after.any() else math.nan
    loaded = [item for item in readings if item.step not in UNLOADED]
    shift = zero_after - zero_before
    return Series(
        position=first.position,
        repeat=first.repeat,
        torque_nm=torque,
        corrected_nm=reading - _zero_followed(before, after, zero_before, zero_after),
        going_up=np.array([{LoadStep.UP: 1.0, LoadStep.DOWN: -1.0}.get(item.step, 0.0) for item in readings]),
        lever_mm=float(np.mean([item.lever_mm for item in loaded])),
        angle_deg=float(np.mean([abs(item.angle_deg) for item in loaded])),
        zero_nm=zero_before,
        zero_shift_nm=shift,
        zero_path_effect=math.nan if math.isnan(shift) else _zero_path_effect(torque, before, after, shift),
    )


def _zero_followed(before: FloatArray, after: FloatArray, zero_before: float, zero_after: float) -> FloatArray:
    """The zero at each reading: a straight line, in the order of readings, from before to after."""
    if math.isnan(zero_before) and math.isnan(zero_after):
        return np.zeros(before.size)
    if math.isnan(zero_before) or math.isnan(zero_after):
        return np.full(before.size, zero_after if math.isnan(zero_before) else zero_before)
    return zero_before + (zero_after - zero_before) * _share_of_shift(before, after)


def _share_of_shift(before: FloatArray, after: FloatArray) -> FloatArray:
    """How much of the zero's shift has happened at each reading, if it happens evenly in their order."""
    at = np.arange(before.size)
    moments = [float(at[before.astype(bool)].mean()), float(at[after.astype(bool)].mean())]
    return np.interp(at, moments, [0.0, 1.0])


def _zero_path_effect(torque: FloatArray, before: FloatArray, after: FloatArray, shift_nm: float) -> float:
    """The largest error of the slope, over all moments at which the whole shift may have happened."""
    at = np.arange(torque.size)
    last_before, first_after = int(at[before.astype(bool)].max()), int(at[after.astype(bool)].min())
    apart = torque - torque.mean()
    evenly = _share_of_shift(before, after)
    effects = [
        shift_nm * float(apart @ ((at > moment) - evenly)) / float(apart @ apart)
        for moment in range(last_before, first_after)
    ]
    return max(effects, key=abs, default=0.0)
