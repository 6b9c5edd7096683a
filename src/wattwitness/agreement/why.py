"""Why two meters differ: settling, anatomy and stories of one ride, in their order."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from wattwitness.agreement.anatomy import (
    GAIN_FLOOR,
    ZERO_FLOOR_NM,
    along_ride,
    error_anatomy,
    gain_and_zero,
    nothing_taken_apart,
    without_zero_and_gain,
)
from wattwitness.agreement.fluctuation import fluctuation
from wattwitness.agreement.relation import RelationBlocks, relation_blocks
from wattwitness.agreement.resolution import resolution_w
from wattwitness.agreement.settling import SettlingFound, settling_of
from wattwitness.agreement.settling_columns import steadied
from wattwitness.agreement.stories.apart import beside_settling
from wattwitness.agreement.stories.evidence import Evidence, MeterFacts, Ridden
from wattwitness.agreement.stories.registry import tell_stories
from wattwitness.agreement.torque import RADIANS_PER_S
from wattwitness.model.anatomy import Anatomy, GainZeroLine, MeterSide, Story
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import ResponseFit
from wattwitness.model.settling import Settling, TimeModel

USUAL_RPM = 85.0
"""Stands for the cadence where none was recorded, in stories alone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideForWhy:
    """One ride as compared: one value a second, shape (n,), NaN where missing.

    ``reference_w`` as measured, ``expected_w`` through the unit's response, ``unit_w`` as compared; ``cadence_rpm``
    smoothed as the powers are (``torque.compared_cadence``), all NaN where neither meter has any. ``left_share_pct``
    was recorded by ``left_share_of``; ``recorded_unit_w`` (m,) is the unit's power as written.
    ``episodes`` were found and left out of ``unit_w``.
    """

    time_s: FloatArray
    reference_w: FloatArray
    expected_w: FloatArray
    unit_w: FloatArray
    cadence_rpm: FloatArray
    response: ResponseFit
    reference_uncertainty_pct: float
    overall_pct: Estimate
    left_share_pct: FloatArray | None = None
    left_share_of: MeterSide | None = None
    temperature_c: FloatArray | None = None
    recorded_unit_w: FloatArray | None = None
    episodes: int = 0
    reference: MeterFacts = field(default_factory=MeterFacts)
    unit: MeterFacts = field(default_factory=MeterFacts)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WhyTheyDiffer:
    """The answer; ``stories`` is empty and ``line`` ``None`` where too little of the ride could be used."""

    anatomy: Anatomy
    settling: Settling
    stories: tuple[Story, ...]
    line: GainZeroLine | None = None


def why_they_differ(ride: RideForWhy, *, level: float) -> WhyTheyDiffer:
    """Find how the bias goes along the ride, take it apart with that allowed for, and tell the stories it allows."""
    with_cadence = steadied(relation_blocks(ride.time_s, ride.expected_w, ride.unit_w, ride.cadence_rpm))
    usable = with_cadence
    if with_cadence.lacks == "no_cadence":
        usable = steadied(relation_blocks(ride.time_s, ride.expected_w, ride.unit_w))
    found = settling_of(usable, level=level, overall_pct=ride.overall_pct, temperature_c=ride.temperature_c)
    if usable.lacks:
        anatomy = nothing_taken_apart(with_cadence.lacks, level)
        return WhyTheyDiffer(anatomy=anatomy, settling=found.settling, stories=())
    along = None if found.shape is None else along_ride(usable, found.shape)
    taken = error_anatomy(
        with_cadence,
        ride.expected_w,
        ride.unit_w,
        level=level,
        left_share_pct=ride.left_share_pct,
        time_shape=along,
    )
    evidence = _evidence(ride, usable, found, taken.anatomy, along, cadence_known=not with_cadence.lacks)
    anatomy, stories = taken.anatomy, tell_stories(evidence)
    if found.settling.model is TimeModel.CONFOUNDED:
        anatomy, stories = without_zero_and_gain(anatomy, "confounded"), beside_settling(stories)
    return WhyTheyDiffer(anatomy=anatomy, settling=found.settling, stories=stories, line=_line(evidence))


def _line(evidence: Evidence) -> GainZeroLine:
    """The fitted gain and zero with what rounding, clock and response leave in them."""
    (gain, zero), covariance = evidence.fit.mean_covariance()
    return GainZeroLine(
        gain_pct=100 * float(gain),
        zero_nm=float(zero),
        gain_variance=1e4 * (float(covariance[0, 0]) + GAIN_FLOOR**2),
        covariance=100 * float(covariance[0, 1]),
        zero_variance=float(covariance[1, 1]) + ZERO_FLOOR_NM**2,
        degrees=float(evidence.fit.degrees),
        cadence_known=evidence.cadence_known,
    )


def _evidence(
    ride: RideForWhy,
    blocks: RelationBlocks,
    found: SettlingFound,
    anatomy: Anatomy,
    along: FloatArray | None,
    *,
    cadence_known: bool,
) -> Evidence:
    extra = {} if along is None else {"time": along}
    if not cadence_known:
        blocks = blocks.at_cadence(USUAL_RPM * RADIANS_PER_S)
    power = float(np.mean(blocks.expected_w))
    torque = 1 / float(np.average(blocks.omega / blocks.expected_w, weights=blocks.expected_w))
    return Evidence(
        fit=gain_and_zero(blocks, extra).only(("gain", "zero")),
        fit_watts=gain_and_zero(blocks, extra, watts=True).only(("gain", "zero", "watts")),
        anatomy=anatomy,
        response=ride.response,
        fluctuation=fluctuation(ride.reference_w, ride.expected_w, ride.unit_w),
        unit_step_w=None if ride.recorded_unit_w is None else resolution_w(ride.recorded_unit_w),
        typical_w=power,
        typical_nm=torque,
        cadence_known=cadence_known,
        reference_uncertainty_pct=0.0 if math.isnan(ride.reference_uncertainty_pct) else ride.reference_uncertainty_pct,
        left_share_of=ride.left_share_of,
        time_model=found.settling.model,
        episodes=ride.episodes,
        ridden=_ridden(blocks, cadence_known=cadence_known),
        reference=ride.reference,
        unit=ride.unit,
    )


def _ridden(blocks: RelationBlocks, *, cadence_known: bool) -> Ridden:
    """The ends of the middle 90 % of what the blocks hold."""

    def ends(values: FloatArray) -> tuple[float, float]:
        low, high = np.quantile(values, [0.05, 0.95])
        return float(low), float(high)

    return Ridden(
        torque_nm=ends(blocks.expected_w / blocks.omega),
        power_w=ends(blocks.expected_w),
        cadence_rpm=ends(blocks.omega / RADIANS_PER_S) if cadence_known else None,
    )
