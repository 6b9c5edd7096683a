"""From the figures of many rides to the answer about the unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wattwitness.conformity.further import RidesSoFar
from wattwitness.conformity.probability import Known, student_quantile
from wattwitness.conformity.rules import RuleSettings, expanded
from wattwitness.conformity.verdicts import Exposure, judge, judge_trueness
from wattwitness.model.claim import Claim, Verdict
from wattwitness.model.estimate import Estimate
from wattwitness.model.study import BeforeAfter, Consistency, RandomEffects, RideFigures, Study
from wattwitness.study.before_after import ChangeLimits, before_and_after, unit_faults, unsure_faults
from wattwitness.study.claim_range import ends_ridden, over_range
from wattwitness.study.consistency import random_effects
from wattwitness.study.correction import judge_corrections
from wattwitness.study.moderators import moderators
from wattwitness.study.outlying import left_out_rides, outlying_rides
from wattwitness.study.precision import precision
from wattwitness.study.ride_errors import drawn_together
from wattwitness.study.ride_figures import standardised


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyQuestion:
    """What is asked: the claim, the rule, the power and cadence to standardise to (``None``: the rides' own means),
    the reference's standard uncertainty common to all rides, and the groups to hold against each other (empty: none).
    """

    claim: Claim | None = None
    rule: RuleSettings = field(default_factory=RuleSettings)
    at_w: float | None = None
    at_rpm: float | None = None
    reference_uncertainty_pct: float = 3.2
    before: str = ""
    after: str = ""
    limits: ChangeLimits = field(default_factory=ChangeLimits)
    level: float = 0.95
    seed: int = 1


def study_of(unit: str, rides: Sequence[RideFigures], question: StudyQuestion, *, version: str) -> Study:
    """Every answer about one unit. Rides keep their order.

    Where groups are held against each other, all but the change is judged on those after: the unit as it is now.
    """
    at_w, at_rpm = _standard_point(rides, question)
    carried = tuple(
        standardised(ride, at_w, at_rpm, level=question.level) if ride.counts and math.isfinite(at_w) else ride
        for ride in rides
    )
    judged = tuple(ride for ride in carried if not question.before or ride.group == question.after)
    used = [ride for ride in judged if ride.counts]
    consistency = _consistency(judged, used, at_w, at_rpm, question.level)
    consistency = replace(consistency, left_out=left_out_rides(carried))
    so_far = _so_far(used, question.reference_uncertainty_pct)
    exposure = Exposure(
        faults=sum(unit_faults(ride) for ride in used),
        hours=sum(ride.hours for ride in used if ride.faults_looked_for),
        rides=len(used),
        unsure=sum(unsure_faults(ride) for ride in used),
    )
    known = _known(consistency.standardised, len(used), question)
    verdicts = judge(
        question.claim,
        known,
        so_far,
        exposure if used else None,
        question.rule,
        at_w=at_w,
        seed=question.seed,
    )
    verdicts = replace(verdicts, trueness=_over_range(verdicts.trueness, used, question, at_w, at_rpm))
    return Study(
        unit=unit,
        rides=carried,
        consistency=consistency,
        correction=judge_corrections(judged, level=question.level),
        verdicts=verdicts,
        judged_on=question.after if question.before else "",
        before_after=_before_after(carried, question),
        episode_patterns=(),
        reference_uncertainty_pct=question.reference_uncertainty_pct,
        mean_bias_with_reference_pct=_with_reference(consistency.standardised.mean_bias_pct, known, used, question),
        limit_pct=None if question.claim is None else question.claim.limit_at_pct(at_w),
        rider=None,
        version=version,
    )


def _over_range(
    usual: Verdict, used: Sequence[RideFigures], question: StudyQuestion, at_w: float, at_rpm: float
) -> Verdict:
    """The verdict on trueness over the claim's range of power, where it states one and more than one ride counts.

    Only rides whose relation to power is known can be carried to another power.
    """
    claim = question.claim
    carried = [ride for ride in used if math.isfinite(ride.gain_pct) and ride.relation_covariance[0] > 0]
    ends = ends_ridden(claim, carried)
    if claim is None or not ends or (usual.probability is None and claim.limit_at_pct(at_w) is not None):
        return usual

    def judged_at(power_w: float) -> Verdict:
        there = [standardised(ride, power_w, at_rpm, level=question.level) for ride in carried]
        found = random_effects(
            np.array([ride.standardised_pct.value for ride in there], dtype=np.float64),
            np.array([ride.standardised_se_pct for ride in there]),
            np.array([ride.standardised_degrees for ride in there]),
            level=question.level,
        )
        so_far = _so_far(there, question.reference_uncertainty_pct)
        known = _known(found, len(there), question)
        return judge_trueness(claim, known, so_far, question.rule, at_w=power_w, seed=question.seed)

    return over_range(claim, usual, at_w, ends, judged_at)


def _standard_point(rides: Sequence[RideFigures], question: StudyQuestion) -> tuple[float, float]:
    """Power and cadence to carry every ride to; NaN power where no ride counts."""
    used = [ride for ride in rides if ride.counts]
    powers = [ride.mean_w for ride in used if math.isfinite(ride.mean_w)]
    cadences = [ride.mean_rpm for ride in used if math.isfinite(ride.mean_rpm)]
    at_w = question.at_w or (float(np.mean(powers)) if powers else math.nan)
    at_rpm = question.at_rpm or (float(np.mean(cadences)) if cadences else USUAL_RPM)
    return at_w, at_rpm


USUAL_RPM = 85.0
"""Stands for the cadence where no ride recorded one; the rides' relations were fitted with the same."""


def _consistency(
    rides: Sequence[RideFigures], used: Sequence[RideFigures], at_w: float, at_rpm: float, level: float
) -> Consistency:
    crude = random_effects(
        np.array([ride.bias_pct.value for ride in used], dtype=np.float64),
        np.array([ride.bias_se_pct for ride in used]),
        np.array([ride.bias_degrees for ride in used]),
        level=level,
    )
    carried = random_effects(
        np.array([ride.standardised_pct.value for ride in used], dtype=np.float64),
        np.array([ride.standardised_se_pct for ride in used]),
        np.array([ride.standardised_degrees for ride in used]),
        level=level,
    )
    within = precision([np.array(ride.block_bias_pct) for ride in used], level=level)
    return Consistency(
        crude=crude,
        standardised=carried,
        at_w=at_w,
        at_rpm=at_rpm,
        repeatability_sd_pct=within.repeatability,
        intermediate_sd_pct=within.intermediate,
        moderators=moderators(rides, level=level),
        outlying=outlying_rides(rides),
        left_out=(),
        says=_says(crude, carried),
    )


def _says(crude: RandomEffects, carried: RandomEffects) -> str:
    if crude.rides == 0:
        return "No ride counts, so nothing is known of the unit."
    following = carried.next_ride_pct
    if following.low is None or following.high is None:
        return "One ride says nothing of how rides differ; ride again on other days."
    return (
        f"Over {crude.rides} rides the next one at the same power and cadence will read {following.low:+.1f} to "
        f"{following.high:+.1f} %, {100 * following.level:.0f} times in a hundred."
    )


def _so_far(used: Sequence[RideFigures], reference_pct: float) -> RidesSoFar:
    bias = np.array([ride.standardised_pct.value for ride in used], dtype=np.float64)
    error = np.array([ride.standardised_se_pct for ride in used])
    degrees = np.array([ride.standardised_degrees for ride in used])
    variance = drawn_together(error**2, degrees)[0] if len(used) else error
    return RidesSoFar(bias=bias, standard_error=np.sqrt(variance), reference=reference_pct)


def _known(found: RandomEffects, rides: int, question: StudyQuestion) -> Known | None:
    """Mean bias with its error as the interval claims it, Student's t with one degree less than the rides."""
    mean: Estimate = found.mean_bias_pct
    if rides < 2 or mean.value is None or mean.high is None:
        return None
    factor = float(student_quantile(0.5 + mean.level / 2, rides - 1))
    return Known(
        mean=mean.value,
        standard_error=(mean.high - mean.value) / factor,
        degrees=rides - 1.0,
        reference=question.reference_uncertainty_pct,
    )


def _with_reference(
    mean: Estimate, known: Known | None, used: Sequence[RideFigures], question: StudyQuestion
) -> Estimate:
    """The mean bias with the reference's error, common to all rides, in its interval; one ride has its own error."""
    if mean.value is None or mean.high is None:
        return mean
    if known is None:
        error, degrees = used[0].standardised_se_pct, used[0].standardised_degrees
        known = Known(
            mean=mean.value, standard_error=error, degrees=degrees, reference=question.reference_uncertainty_pct
        )
    half = expanded(known, mean.level)
    return replace(mean, low=mean.value - half, high=mean.value + half)


def _before_after(rides: Sequence[RideFigures], question: StudyQuestion) -> BeforeAfter | None:
    if not question.before or not question.after:
        return None
    groups = [[ride for ride in rides if ride.group == name] for name in (question.before, question.after)]
    return before_and_after(
        groups[0],
        groups[1],
        question.limits,
        names=(question.before, question.after),
        seed=question.seed,
        level=question.level,
    )
