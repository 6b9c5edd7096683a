"""What the unit should have shown of each second: its relation to the reference, fitted so that no fault bends it.

Unit over reference less one, in short blocks, is fitted as a gain, a zero (N·m, over torque), how it goes with power
and with cadence (both held near none by a prior), and one smooth course along the ride: none, a straight line, or a
settling. Steps already found are columns of their own. Blocks far off the fit lose their weight (Beaton & Tukey 1974,
Technometrics 16:147-185, the biweight; from memory), so that minutes of a drop don't pull it; the course has too few
bends to follow an episode of ten minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.relation import RelationBlocks, relation_blocks
from wattwitness.agreement.torque import RADIANS_PER_S, compared_cadence
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.robust import biweight_fit, block_scatter
from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats
from wattwitness.model.recording import ChannelName

TAUS_MIN = (3.0, 6.0, 12.0, 20.0)
USUAL_RPM = 85.0
ZERO_SD_NM = 1.5
PER_100_W_SD = 0.02
PER_10_RPM_SD = 0.01
COURSE_SD = 0.08
STEP_SD = 0.2
"""What is expected of each beforehand, one standard deviation; as shares but for the zero."""

LEAST_BLOCKS = 15
LEAST_PEDALLING_W = 5.0
"""Below this the reference as good as coasts, and the unit is expected to show the same."""

FURTHEST_W = 600.0
"""A bias that goes with power is carried on to so much above the mean power, and no further."""

FREE_SD = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relation:
    """``foretold_w`` (n,): what the unit should have shown, NaN where the reference is missing.

    ``steps`` is the fitted size of each step given, as a share; ``scatter`` how far a block's bias usually lies from
    the fit, as a share; ``learnt_w`` the power up to which it was learnt.
    """

    foretold_w: FloatArray
    steps: tuple[float, ...]
    scatter: float
    learnt_w: float

    def __post_init__(self) -> None:
        """Copy and freeze the array."""
        object.__setattr__(self, "foretold_w", frozen_floats(self.foretold_w))


def ride_cadence(ride: RideForFaults) -> FloatArray | None:
    """The reference's cadence, else the unit's, smoothed as the powers are compared; ``None`` without any."""
    for channels, of_reference in ((ride.pair.reference, True), (ride.pair.unit, False)):
        cadence = channels.get(ChannelName.CADENCE)
        if cadence is not None and np.isfinite(cadence).sum() > cadence.size / 10:
            return compared_cadence(cadence, ride.response, of_reference=of_reference)
    return None


def fit_relation(
    ride: RideForFaults, cadence_rpm: FloatArray | None, aside: BoolArray, steps_s: Sequence[float] = ()
) -> Relation:
    """Fit the relation over the seconds not ``aside`` (n,), with a step at each of ``steps_s``."""
    unit_w = np.where(aside, np.nan, ride.unit_w)
    blocks = relation_blocks(ride.time_s, ride.expected_w, unit_w, cadence_rpm)
    if blocks.lacks and cadence_rpm is not None:
        cadence_rpm = None
        blocks = relation_blocks(ride.time_s, ride.expected_w, unit_w)
    if blocks.lacks or blocks.count < LEAST_BLOCKS:
        return _gain_alone(ride.expected_w, unit_w, len(steps_s))
    omega = blocks.omega if cadence_rpm is not None else np.full(blocks.count, USUAL_RPM * RADIANS_PER_S)
    design = _Design(blocks, omega, steps_s)
    scatter = block_scatter(blocks.error)
    fits = [
        (tau_min, biweight_fit(blocks.error, *design.columns(tau_min), scatter=scatter, guess=design.guess()))
        for tau_min in (None, np.inf, *TAUS_MIN)
    ]
    tau_min, best = min(fits, key=lambda pair: pair[1].loss)
    turning = np.full(ride.time_s.size, USUAL_RPM) if cadence_rpm is None else cadence_rpm
    foretold_w = design.foretell(ride.time_s, ride.expected_w, turning * RADIANS_PER_S, tau_min, best.coefficients)
    return Relation(
        foretold_w=foretold_w,
        steps=tuple(float(size) for size in best.coefficients[4 : 4 + len(steps_s)]),
        scatter=max(scatter, best.scatter),
        learnt_w=float(np.quantile(blocks.both_w, 0.95)),
    )


class _Design:
    """Columns of the fit to n blocks, and the same on seconds: gain, zero, power, cadence, steps, course."""

    def __init__(self, blocks: RelationBlocks, omega: FloatArray, steps_s: Sequence[float]) -> None:
        self.blocks, self.omega, self.steps_s = blocks, omega, tuple(steps_s)
        self.mean_w, self.mean_omega = float(blocks.both_w.mean()), float(omega.mean())
        self.begins_s = blocks.begins_s
        self.length_s = max(blocks.ends_s - blocks.begins_s, 1.0)

    def columns(self, tau_min: float | None) -> tuple[FloatArray, FloatArray]:
        """Columns (n, p) and the prior standard deviation of each coefficient (p,)."""
        blocks = self.blocks
        shapes = [
            np.ones(blocks.count),
            self.omega / blocks.both_w,
            (blocks.both_w - self.mean_w) / 100.0,
            (self.omega - self.mean_omega) / (10.0 * RADIANS_PER_S),
            *((blocks.at_s >= step_s).astype(np.float64) for step_s in self.steps_s),
        ]
        prior_sd = [FREE_SD, ZERO_SD_NM, PER_100_W_SD, PER_10_RPM_SD, *[STEP_SD] * len(self.steps_s)]
        if tau_min is not None:
            shapes.append(self._course(blocks.at_s, tau_min))
            prior_sd.append(COURSE_SD)
        return np.column_stack(shapes), np.array(prior_sd)

    def guess(self) -> FloatArray | None:
        """The middle bias between one step and the next (n,); ``None`` without steps."""
        if not self.steps_s:
            return None
        part = np.searchsorted(np.sort(self.steps_s), self.blocks.at_s, side="right")
        middle = [
            float(np.median(self.blocks.error[part == one])) if np.any(part == one) else 0.0
            for one in range(len(self.steps_s) + 1)
        ]
        return np.array(middle)[part]

    def foretell(
        self,
        time_s: FloatArray,
        expected_w: FloatArray,
        omega: FloatArray,
        tau_min: float | None,
        coefficients: FloatArray,
    ) -> FloatArray:
        """The unit's power foretold for each second (m,), NaN where the reference is missing."""
        gain, zero_nm, per_100_w, per_10_rpm = coefficients[:4]
        turning = np.where(np.isfinite(omega), omega, self.mean_omega)
        share = 1.0 + gain + per_100_w * np.clip(expected_w - self.mean_w, -self.mean_w, FURTHEST_W) / 100.0
        share = share + per_10_rpm * np.clip((turning - self.mean_omega) / (10.0 * RADIANS_PER_S), -5.0, 5.0)
        for step_s, size in zip(self.steps_s, coefficients[4:], strict=False):
            share = share + size * (time_s >= step_s)
        if tau_min is not None:
            share = share + coefficients[-1] * self._course(time_s, tau_min)
        pedalled = np.maximum(expected_w * share + zero_nm * turning, 0.0)
        return np.where(expected_w > LEAST_PEDALLING_W, pedalled, expected_w)

    def _course(self, time_s: FloatArray, tau_min: float) -> FloatArray:
        """A straight line from 1 to 0 for an infinite time constant, else a settling from 1 towards 0."""
        after_s = np.maximum(time_s - self.begins_s, 0.0)
        if np.isinf(tau_min):
            return np.asarray(1.0 - after_s / self.length_s)
        return np.asarray(np.exp(-after_s / (60.0 * tau_min)))


def _gain_alone(expected_w: FloatArray, unit_w: FloatArray, steps: int) -> Relation:
    """The middle ratio of seconds, for a ride too short for more; a scatter that finds only what is plain."""
    with np.errstate(invalid="ignore"):
        usable = (expected_w > 30.0) & np.isfinite(unit_w)
    ratio = float(np.median(unit_w[usable] / expected_w[usable])) if usable.sum() >= 30 else 1.0
    learnt_w = float(np.quantile(expected_w[usable], 0.95)) if usable.any() else np.inf
    return Relation(foretold_w=expected_w * ratio, steps=(0.0,) * steps, scatter=0.02, learnt_w=learnt_w)
