"""From what is claimed and known to the whole plan."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from wattwitness.agreement.overall import METERS_IN_USE_PCT
from wattwitness.conformity.claims import DEFAULT_FAULTS_PER_H, DEFAULT_SPREAD_PCT
from wattwitness.conformity.rules import RuleSettings
from wattwitness.model.claim import Claim
from wattwitness.model.plan import Assumption, Prospects, RidePlan, Separation, StudyPlan
from wattwitness.plan.chances import Expected
from wattwitness.plan.orders import CADENCES_RPM, REPEATS, SHARES, STEP_S, WARM_UP_S, StepGrid, planned_orders
from wattwitness.plan.prospects import LEAST_RIDES, prospects_of
from wattwitness.plan.separation import separation_of

THRESHOLD_W = 200.0
SPREAD_PCT = (0.5, 1.5)
SPREAD_ORIGIN = "default: spread between sessions of good ergometers, 1.0 % (0.5 to 1.5), common practice"
BIAS_SD_PCT = 3.2
BIAS_ORIGIN = "default: spread among 54 meters in use (Maier et al. 2017)"
REFERENCE_ORIGIN = "default: spread among 54 meters in use (Maier et al. 2017)"
STATED = "stated"
WANDER_ORIGIN = "the usual wander of a good unit: 1 % over a minute and 2 % from second to second, common practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanQuestion:
    """What is asked, ``None`` where the default is to be taken: claim, reference's standard uncertainty, threshold
    power, spread between rides, and what the unit's bias may be (mean and standard deviation). ``own`` is a ride of the
    tester's to be judged in place of planned orders.
    """

    claim: Claim | None = None
    rule: RuleSettings = field(default_factory=RuleSettings)
    reference_uncertainty_pct: float | None = None
    threshold_w: float | None = None
    spread_pct: float | None = None
    bias_pct: float = 0.0
    bias_sd_pct: float | None = None
    asked_chance: float = 0.8
    rides: int | None = None
    highest_share: float = SHARES[-1]
    cadences_rpm: tuple[float, ...] = CADENCES_RPM
    step_s: float = STEP_S
    warm_up_s: float = WARM_UP_S
    repeats: int = REPEATS
    own: RidePlan | None = None
    seed: int = 1


def plan_of(question: PlanQuestion, *, version: str) -> StudyPlan:
    """The plan: orders, what they tell apart, and what they would decide."""
    threshold_w = THRESHOLD_W if question.threshold_w is None else question.threshold_w
    claim = question.claim
    orders = _orders(question, threshold_w)
    separation = separation_of(orders[0])
    expected = _expected(question, separation)
    prospects = _prospects(question, separation, expected)
    rides, reason = _rides(question, prospects)
    hardest = max(max(step.power_w, step.end_w or 0.0) for ride in orders for step in ride.steps)
    return StudyPlan(
        claim=claim,
        rule=question.rule.rule,
        risk=question.rule.risk,
        threshold_w=threshold_w,
        threshold_stated=question.threshold_w is not None,
        rides=rides,
        rides_reason=reason,
        orders=orders,
        separation=separation,
        prospects=prospects,
        assumptions=_assumptions(question, expected),
        beyond_threshold=hardest > threshold_w,
        seed=question.seed,
        version=version,
    )


def _orders(question: PlanQuestion, threshold_w: float) -> tuple[RidePlan, ...]:
    """The tester's own ride, or two orders of one that is planned."""
    if question.own is not None:
        return (question.own,)
    claim = question.claim
    return planned_orders(
        StepGrid(
            threshold_w=threshold_w,
            highest_share=question.highest_share,
            cadences_rpm=question.cadences_rpm,
            step_s=question.step_s,
            warm_up_s=question.warm_up_s,
            repeats=question.repeats,
            from_w=0.0 if claim is None else claim.from_w,
            to_w=math.inf if claim is None else claim.to_w,
        ),
        seed=question.seed,
    )


def _expected(question: PlanQuestion, separation: Separation) -> Expected:
    low, high = SPREAD_PCT if question.spread_pct is None else (question.spread_pct, question.spread_pct)
    reference = question.reference_uncertainty_pct
    return Expected(
        ride_se=separation.bias_se_pct,
        reference=METERS_IN_USE_PCT if reference is None else reference,
        bias_mean=question.bias_pct,
        bias_sd=BIAS_SD_PCT if question.bias_sd_pct is None else question.bias_sd_pct,
        spread_low=low,
        spread_high=high,
    )


def _prospects(question: PlanQuestion, separation: Separation, expected: Expected) -> Prospects | None:
    """``None`` where no limit is claimed at the power of the steps, or the ride tells no bias."""
    claim = question.claim
    limit = None if claim is None else claim.limit_at_pct(separation.at_w)
    if claim is None or limit is None or not math.isfinite(expected.ride_se):
        return None
    return prospects_of(
        limit,
        expected,
        question.rule,
        spread_limit_pct=DEFAULT_SPREAD_PCT if claim.spread_pct is None else claim.spread_pct,
        faults_per_h=DEFAULT_FAULTS_PER_H if claim.faults_per_h is None else claim.faults_per_h,
        asked_chance=question.asked_chance,
        rides=question.rides,
        seed=question.seed,
    )


def _rides(question: PlanQuestion, prospects: Prospects | None) -> tuple[int, str]:
    """How many rides to plan for, and why so many."""
    if question.rides is not None:
        return question.rides, "as many as asked for"
    if prospects is None:
        return LEAST_RIDES, "what a spread between rides wants; without a claim no verdict can be planned for"
    if prospects.needed.value is not None:
        rides = max(prospects.needed.value, LEAST_RIDES)
        if rides > prospects.needed.value:
            return rides, (
                f"{prospects.needed.value} would do for the verdict on the mean; the spread between rides wants "
                f"{LEAST_RIDES}"
            )
        return rides, f"the fewest that decide with a chance of {100 * question.asked_chance:.0f} %"
    rides = max(prospects.needed.worthwhile or LEAST_RIDES, LEAST_RIDES)
    return rides, "no number decides as often as asked; more than these add little"


def _assumptions(question: PlanQuestion, expected: Expected) -> tuple[Assumption, ...]:
    spread = (
        f"{expected.spread_low:.12g} %"
        if expected.spread_low == expected.spread_high
        else f"{expected.spread_low:.12g} to {expected.spread_high:.12g} %, all as likely"
    )
    return (
        Assumption(
            name="standard uncertainty of the reference, the same in every ride",
            value=f"{expected.reference:.12g} %",
            origin=REFERENCE_ORIGIN if question.reference_uncertainty_pct is None else STATED,
        ),
        Assumption(
            name="spread between rides (standard deviation)",
            value=spread,
            origin=SPREAD_ORIGIN if question.spread_pct is None else STATED,
        ),
        Assumption(
            name="what the bias of the unit may be",
            value=f"{expected.bias_mean:+.12g} %, standard deviation {expected.bias_sd:.12g} %",
            origin=BIAS_ORIGIN if question.bias_sd_pct is None else STATED,
        ),
        Assumption(
            name="standard error of the bias in one ride",
            value=f"{expected.ride_se:.2f} %",
            origin=f"predicted from the steps and {WANDER_ORIGIN}",
        ),
        Assumption(
            name="threshold power of the rider",
            value=f"{THRESHOLD_W if question.threshold_w is None else question.threshold_w:.12g} W",
            origin="default: nobody's own; state the rider's" if question.threshold_w is None else STATED,
        ),
    )
