"""The rider: true power, cadence, torque, heart rate, left share, and the room's temperature, on the time line."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.defaults import trade
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.efforts import Plan
from wattwitness.simulate.heart import Heart, heart_rate
from wattwitness.simulate.signals import RATE_HZ, decay_line, lagged, wander

# A quick part of power: white noise through these weights. Its one-second means have a lag-1 autocorrelation of 0.252,
# which a moving average with 0.27 has too, and which beside the slow share gives the 0.33 on record.
_QUICK_WEIGHTS = (1.0, 1.0, 1.0, 1.0, 0.16)
_QUICK_MEAN_SD = math.sqrt(46.0224) / 4.0  # standard deviation of its one-second mean, for white noise of 1
_FREEWHEEL_S = 0.7
_SHARE_MEAN_SD = 0.9  # standard deviation of the one-second mean of a wander of 1 with 1.5 s
_SLOWEST_RPM = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """How this rider varies around a plan. ``gear_rpm``: how far a change of gear moves the cadence, at most."""

    power_cv_pct: float = field(default_factory=lambda: trade("rider_power_cv_pct"))
    power_slow_share: float = field(default_factory=lambda: trade("rider_power_slow_share"))
    power_slow_tau_s: float = field(default_factory=lambda: trade("rider_power_slow_tau_s"))
    cadence_sd_rpm: float = field(default_factory=lambda: trade("rider_cadence_sd_rpm"))
    cadence_tau_s: float = field(default_factory=lambda: trade("rider_cadence_tau_s"))
    gear_rpm: float = 3.0
    left_share_pct: float = 49.0
    room_c: float = 19.0
    warming_c: float = 3.0
    heart: Heart = field(default_factory=Heart)


MOTOR = Rider(power_cv_pct=0.0, cadence_sd_rpm=0.0, gear_rpm=0.0, left_share_pct=50.0, warming_c=0.0)
"""A motor at the crank: the plan and nothing else in it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueRide:
    """What really happened, on the time line, shape (n,) each."""

    power_w: FloatArray
    cadence_rpm: FloatArray
    torque_nm: FloatArray
    heart_rate_bpm: FloatArray
    left_share_pct: FloatArray
    temperature_c: FloatArray
    resistance: FloatArray
    target_w: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in self.__slots__:
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


def ride(rider: Rider, plan: Plan, bike: ResistanceBike | None, seed: int) -> TrueRide:
    """The rider rides the plan; on a bike with set resistance, power follows from cadence instead."""
    size = plan.power_w.size
    cadence_rpm = _cadence(rider, plan, seed)
    scatter = _power_scatter(rider, size, Draws(seed, "rider power"))
    resistance = np.full(size, np.nan)
    if bike is None:
        power_w = lagged(plan.power_w, 1.0) * (1.0 + scatter)
    else:
        resistance = bike.level_for(plan.power_w, plan.cadence_rpm)
        power_w = bike.true_w(cadence_rpm, resistance) * (1.0 + bike.pedal_scatter * scatter)
    power_w = np.where(plan.coasting, 0.0, np.maximum(power_w, 0.0))
    return TrueRide(
        power_w=power_w,
        cadence_rpm=cadence_rpm,
        torque_nm=torque(power_w, cadence_rpm),
        heart_rate_bpm=heart_rate(rider.heart, power_w, Draws(seed, "rider heart")),
        left_share_pct=_left_share(rider, power_w, Draws(seed, "rider left share")),
        temperature_c=rider.room_c + rider.warming_c * (1.0 - decay_line(size, 1200.0)),
        resistance=resistance,
        target_w=plan.power_w,
    )


def torque(power_w: FloatArray, cadence_rpm: FloatArray) -> FloatArray:
    """Torque in N·m of a power at a cadence, P / (2·pi·rpm/60); 0 where the cranks stand still."""
    turning = cadence_rpm > 0.0
    return np.where(turning, power_w * 30.0 / (math.pi * np.where(turning, cadence_rpm, 1.0)), 0.0)


def _power_scatter(rider: Rider, size: int, draws: Draws) -> FloatArray:
    """Relative scatter of power: a quick and a slow part whose one-second means have the rider's variation."""
    if rider.power_cv_pct == 0.0:
        return np.zeros(size)
    white = draws.normal(size)
    quick = np.zeros(size)
    for lag, weight in enumerate(_QUICK_WEIGHTS):
        quick[lag:] += weight * white[: size - lag]
    slow = wander(draws, size, math.sqrt(rider.power_slow_share), rider.power_slow_tau_s)
    quick *= math.sqrt(1.0 - rider.power_slow_share) / _QUICK_MEAN_SD
    return np.maximum((quick + slow) * (rider.power_cv_pct / 100.0), -0.9)


def _cadence(rider: Rider, plan: Plan, seed: int) -> FloatArray:
    """True cadence: the plan's, changes of gear, the rider's wander; running down to 0 where the rider coasts."""
    size = plan.power_w.size
    gears = np.zeros(size)
    if rider.gear_rpm > 0.0:
        draws, start = Draws(seed, "rider gears"), 0
        while start < size:
            length, turn = draws.uniform(2)
            end = start + round((45.0 + 255.0 * float(length)) * RATE_HZ)
            gears[start:end] = rider.gear_rpm * (2.0 * float(turn) - 1.0)
            start = end
    meant = lagged(np.where(plan.coasting, _last_ridden(plan), plan.cadence_rpm + gears), 1.5)
    turning = meant + wander(Draws(seed, "rider cadence"), size, rider.cadence_sd_rpm, rider.cadence_tau_s)
    turning = np.maximum(turning, _SLOWEST_RPM)
    falling = lagged(np.where(plan.coasting, 0.0, 1.0), _FREEWHEEL_S)
    cadence = turning * np.where(plan.coasting, falling, np.maximum(falling, _SLOWEST_RPM / turning))
    return np.where(plan.coasting & (cadence < 10.0), 0.0, cadence)


def _last_ridden(plan: Plan) -> FloatArray:
    """The target cadence before the rider began to coast, so that the legs stop from there."""
    index = np.where(plan.coasting, 0, np.arange(plan.power_w.size))
    return plan.cadence_rpm[np.maximum.accumulate(index)]


def _left_share(rider: Rider, power_w: FloatArray, draws: Draws) -> FloatArray:
    """Left leg's share in percent: wide scatter at low power, narrow at high, on record for one rider."""
    anchors = [(watts, trade(f"left_share_sd_{watts}_w")) for watts in (100, 200, 325, 450)]
    spread = np.full(power_w.size, anchors[0][1])
    for (low_w, wide), (high_w, narrow) in pairwise(anchors):
        spread -= (wide - narrow) * np.minimum(np.maximum((power_w - low_w) / (high_w - low_w), 0.0), 1.0)
    scatter = wander(draws, power_w.size, 1.0 / _SHARE_MEAN_SD, 1.5)
    return np.minimum(np.maximum(rider.left_share_pct + spread * scatter, 0.0), 100.0)
