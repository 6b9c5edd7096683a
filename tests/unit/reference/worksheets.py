"""Worksheets of hanging weights with a known truth; the meters are invented."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from wattwitness.model.hanging_weights import HungReading, LoadStep, Side, Worksheet
from wattwitness.reference.weighing_series import hung_torque

MASSES_KG = (5.0, 10.0, 15.0, 20.0)
GRAVITY = 9.8


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueMeter:
    """A meter whose torque is ``gain`` times the true one plus a zero that drifts; errors in N·m."""

    gain: float = 1.01
    right_gain: float | None = None
    zero_nm: float = 0.2
    zero_shift_nm: float = 0.05
    scatter_nm: float = 0.05
    hysteresis_nm: float = 0.0
    bow_nm: float = 0.0
    position_pct: float = 0.0
    repeat_pct: float = 0.0


def worksheet(
    meter: TrueMeter,
    seed: int,
    *,
    sides: tuple[Side, ...] = (Side.LEFT, Side.RIGHT),
    positions: int = 4,
    repeats: int = 2,
    date: str = "2026-01-12",
    mass_off_pct: float = 0.0,
    lever_off_mm: float = 0.0,
    angle_off_deg: float = 0.0,
    resolution_nm: float = 0.0,
    **stated: float,
) -> Worksheet:
    """Hang the weights. What is off is not what the worksheet says: the true load is larger or smaller than written."""
    generator = np.random.default_rng(seed)
    readings: list[HungReading] = []
    steps = [(LoadStep.ZERO_BEFORE, 0.0), *((LoadStep.UP, mass) for mass in MASSES_KG)]
    steps += [*((LoadStep.DOWN, mass) for mass in reversed(MASSES_KG)), (LoadStep.ZERO_AFTER, 0.0)]
    for side in sides:
        for position in range(positions):
            offset_pct = meter.position_pct * generator.standard_normal()
            for repeat in range(1, repeats + 1):
                own = meter.right_gain if side is Side.RIGHT and meter.right_gain is not None else meter.gain
                gain = own * (1 + (offset_pct + meter.repeat_pct * generator.standard_normal()) / 100)
                for place, (step, mass_kg) in enumerate(steps):
                    true_mass = mass_kg * (1 + mass_off_pct / 100)
                    torque = hung_torque(true_mass, 172.5 + lever_off_mm, angle_off_deg, GRAVITY)
                    share = mass_kg / MASSES_KG[-1]
                    shown = gain * torque + meter.zero_nm + meter.zero_shift_nm * place / (len(steps) - 1)
                    shown += meter.bow_nm * 4 * share * (1 - share)
                    shown += meter.hysteresis_nm * (step is LoadStep.DOWN)
                    shown += meter.scatter_nm * generator.standard_normal()
                    if resolution_nm:
                        shown = round(shown / resolution_nm) * resolution_nm
                    readings.append(
                        HungReading(
                            side=side,
                            position=f"position {position}",
                            repeat=repeat,
                            step=step,
                            mass_kg=mass_kg,
                            lever_mm=172.5,
                            angle_deg=0.0,
                            reading_nm=shown,
                        )
                    )
    given: dict[str, Any] = {
        "gravity_m_s2": GRAVITY,
        "mass_uncertainty_pct": 0.0,
        "lever_uncertainty_mm": 0.0,
        "angle_uncertainty_deg": 0.0,
        "resolution_nm": resolution_nm,
        **stated,
    }
    return Worksheet(meter="laboratory pedals", date=date, readings=tuple(readings), **given)
