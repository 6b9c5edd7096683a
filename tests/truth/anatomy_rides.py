"""Rides for the truth runs of anatomy and settling: a reference and a unit with known errors, one value a second.

Made apart from the package's own simulator, so that neither can flatter the other. The unit's torque is
(1 + gain) · torque + zero; its bias may settle, drift or step; both meters have white noise, the unit's also wanders.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.truth.agreement_rides import Effort, effort_w, trailing_mean, wander
from wattwitness.model.arrays import FloatArray

RPM = 2 * np.pi / 60
STEP_S = 180
MAKE_BIAS = Literal["none", "settling", "linear", "step"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueErrors:
    """What is wrong with the unit, and how noisy both are. ``change_pct`` is the bias at the start less at the end."""

    zero_nm: float = 0.0
    gain_pct: float = 0.0
    per_100_w_pct: float = 0.0
    noise_pct: float = 1.2
    wander_pct: float = 0.0
    wander_tau_s: float = 60.0
    mean_s: int = 1
    course: MAKE_BIAS = "none"
    change_pct: float = 0.0
    tau_min: float = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnatomyRide:
    """Both powers and the cadence as recorded: whole watts, whole rpm; shape (n,)."""

    time_s: FloatArray
    reference_w: FloatArray
    unit_w: FloatArray
    cadence_rpm: FloatArray


def stepped_power(seconds: int) -> tuple[FloatArray, FloatArray]:
    """Steps of three minutes from 100 to 350 W, at 80, 65 and 95 rpm in turn."""
    step = np.arange(seconds) // STEP_S
    return np.asarray(100.0 + 50 * (step % 6)), np.asarray(np.array([80.0, 65.0, 95.0])[step // 6 % 3])


def anatomy_ride(seed: int, effort: Effort, errors: TrueErrors, seconds: int = 3600) -> AnatomyRide:
    """Make one ride."""
    generator = np.random.default_rng([seed, seconds])
    if effort == "steps":
        power, rpm = stepped_power(seconds)
        power = power * (1 + 0.07 * wander(generator, seconds, 2))
    else:
        power, rpm = effort_w(generator, seconds, effort), np.full(seconds, 86.0)
    rpm = rpm + 2 * wander(generator, seconds, 8)
    rpm = np.where(power > 0, rpm, 0.0)
    omega = RPM * rpm
    minutes = np.arange(seconds) / 60
    course = {
        "none": np.zeros(seconds),
        "settling": np.exp(-minutes / errors.tau_min),
        "linear": 1 - minutes / minutes[-1],
        "step": (minutes < minutes[-1] / 2).astype(np.float64),
    }[errors.course]
    factor = (1 + errors.change_pct / 100 * course) * (1 + errors.per_100_w_pct / 100 * (power - 200) / 100)
    sensed = np.where(power > 0, (1 + errors.gain_pct / 100) * power + errors.zero_nm * omega, 0.0)
    noise, slow = errors.noise_pct / 100, errors.wander_pct / 100
    unit = sensed * factor * (1 + slow * wander(generator, seconds, errors.wander_tau_s))
    unit = np.maximum(unit * (1 + noise * generator.standard_normal(seconds)), 0.0)
    if errors.mean_s > 1:
        unit = trailing_mean(unit, errors.mean_s)
    reference = power * (1 + noise * generator.standard_normal(seconds))
    return AnatomyRide(
        time_s=np.arange(seconds, dtype=np.float64),
        reference_w=np.round(reference),
        unit_w=np.round(unit),
        cadence_rpm=np.round(rpm),
    )
