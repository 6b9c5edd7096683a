"""Does a plan promise what its rides then hold: the errors of gain and zero, and how often a study decides?

Rides of both planned orders are simulated second by second, with a unit of known gain and zero, and compared as real
ones are; nothing of the plan's own error model is used but the wander that it names. Studies of as many rides as the
plan names are drawn ride by ride, each ride's error known only as well as a ride tells it (six degrees of freedom).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from tests.truth.protocol import Claim, TruthTable, TruthTopic
from wattwitness.conformity.probability import Known, student_quantile
from wattwitness.conformity.rules import RuleSettings, decide
from wattwitness.model.claim import VerdictWord
from wattwitness.model.plan import RidePlan, RidesNeeded, Separation
from wattwitness.model.settings import CompareSettings
from wattwitness.model.settling import TimeModel
from wattwitness.plan.chances import Expected
from wattwitness.plan.orders import StepGrid, planned_orders
from wattwitness.plan.prospects import prospects_of
from wattwitness.plan.separation import WANDER_PCT, WANDER_S, WHITE_PCT, separation_of, zero_pct_per_nm
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.efforts import Ramp, Stretch
from wattwitness.simulate.meters import Meter, Settling
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.study.consistency import random_effects
from wattwitness.workflows.compare import compare_recordings

GAIN_PCT, ZERO_NM = -3.0, 1.0
THRESHOLDS_W = (180.0, 250.0)
PRIORS = {"well off": (6.0, 1.0), "well within": (0.0, 0.3)}
LIMIT_PCT, REFERENCE_PCT, RIDE_SE_PCT, SPREAD_PCT, DEGREES = 2.0, 0.3, 0.3, 0.7, 6.0
ASKED, BATCH = 0.8, 50

COURSES = ("planned", "ramp")
SETTLES = Settling(start_pct=-7.0, tau_min=10.0)
QUIET_WANDER_PCT = 0.3
FOUND = {"planned": TimeModel.SETTLING, "ramp": TimeModel.CONFOUNDED}
"""What a comparison must say of a unit that settles, by how it was ridden: the plan says that the first tells it from a
zero and the second does not."""

Kind = Literal["ride", "study", "course"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanJob:
    """One ride of a plan for a threshold, a batch of studies under one prior, or a ride of a unit that settles."""

    kind: Kind
    cell: str
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOutcome:
    """A ride's gain and zero as found, how its bias went along the ride, or how many studies of a batch were firm."""

    cell: str
    gain_pct: float = math.nan
    zero_nm: float = math.nan
    course: TimeModel | None = None
    firm: int = 0
    studies: int = 0


@dataclass(frozen=True, slots=True)
class PlannedEffort:
    """The steps of a plan as an effort of the simulator."""

    ride: RidePlan

    def stretches(self, _duration_s: float, _draws: Draws, /) -> Sequence[Stretch]:
        """One stretch a step."""
        return [
            Stretch(seconds=step.seconds, power_w=step.power_w, cadence_rpm=step.cadence_rpm)
            for step in self.ride.steps
        ]


def jobs(full: bool) -> list[PlanJob]:
    """200 rides a threshold, 100 of each course and 2000 studies a prior in full."""
    rides, courses, batches = (200, 100, 40) if full else (6, 2, 4)
    return [
        *(PlanJob(kind="ride", cell=f"{watts:.0f}", seed=seed) for watts in THRESHOLDS_W for seed in range(rides)),
        *(PlanJob(kind="course", cell=course, seed=seed) for course in COURSES for seed in range(courses)),
        *(PlanJob(kind="study", cell=prior, seed=seed) for prior in PRIORS for seed in range(batches)),
    ]


@lru_cache(maxsize=4)
def orders(threshold_w: float) -> tuple[RidePlan, RidePlan]:
    """Both orders of one plan."""
    return planned_orders(StepGrid(threshold_w=threshold_w), seed=1)


@lru_cache(maxsize=4)
def promised(threshold_w: float) -> Separation:
    """What the first order promises."""
    return separation_of(orders(threshold_w)[0])


@lru_cache(maxsize=4)
def needed(prior: str) -> RidesNeeded:
    """The number of rides that the plan names."""
    mean, sd = PRIORS[prior]
    expected = Expected(
        ride_se=RIDE_SE_PCT,
        reference=REFERENCE_PCT,
        bias_mean=mean,
        bias_sd=sd,
        spread_low=SPREAD_PCT,
        spread_high=SPREAD_PCT,
    )
    return prospects_of(
        LIMIT_PCT,
        expected,
        RuleSettings(),
        spread_limit_pct=2.0,
        faults_per_h=0.5,
        asked_chance=ASKED,
        rides=None,
        seed=1,
    ).needed


def judge(job: PlanJob) -> PlanOutcome:
    """Ride and compare, or draw studies and judge them."""
    return {"ride": _ride, "study": _studies, "course": _course}[job.kind](job)


def _course(job: PlanJob) -> PlanOutcome:
    ride = orders(THRESHOLDS_W[-1])[job.seed % 2]
    noise = WHITE_PCT / math.sqrt(2)
    unit = Meter(name="bike", settling=SETTLES, noise_pct=noise, wander_pct=QUIET_WANDER_PCT, wander_tau_s=WANDER_S)
    spec = RideSpec(
        meters=(Meter(name="pedals", noise_pct=noise), unit),
        effort=PlannedEffort(ride) if job.cell == "planned" else Ramp(start_w=80.0, end_w=380.0),
        duration_s=60 * ride.minutes,
    )
    found = compare_recordings(simulate_ride(spec, job.seed).recordings, CompareSettings()).pairs[0].settling
    return PlanOutcome(cell=job.cell, course=None if found is None else found.model)


def _ride(job: PlanJob) -> PlanOutcome:
    ride = orders(float(job.cell))[job.seed % 2]
    # The plan's white noise is of unit over reference, so it is shared out between the two.
    noise = WHITE_PCT / math.sqrt(2)
    unit = Meter(
        name="bike",
        gain=1 + GAIN_PCT / 100,
        zero_nm=ZERO_NM,
        noise_pct=noise,
        wander_pct=WANDER_PCT,
        wander_tau_s=WANDER_S,
    )
    spec = RideSpec(
        meters=(Meter(name="pedals", noise_pct=noise), unit), effort=PlannedEffort(ride), duration_s=60 * ride.minutes
    )
    found = compare_recordings(simulate_ride(spec, job.seed).recordings, CompareSettings()).pairs[0].anatomy
    if found is None:
        return PlanOutcome(cell=job.cell)
    gain, zero = found.gain_pct.value, found.zero_nm.value
    return PlanOutcome(
        cell=job.cell,
        gain_pct=math.nan if gain is None else gain,
        zero_nm=math.nan if zero is None else zero,
    )


def _studies(job: PlanJob) -> PlanOutcome:
    rng = np.random.default_rng([7, job.seed, len(job.cell)])
    rides = needed(job.cell).value
    if rides is None:
        return PlanOutcome(cell=job.cell, studies=BATCH)
    mean, sd = PRIORS[job.cell]
    firm = 0
    for _ in range(BATCH):
        true = rng.normal(mean, sd) + rng.normal(0, REFERENCE_PCT)
        bias = rng.normal(true, math.hypot(SPREAD_PCT, RIDE_SE_PCT), rides)
        errors = RIDE_SE_PCT * np.sqrt(rng.chisquare(DEGREES, rides) / DEGREES)
        found = random_effects(bias, errors, np.full(rides, DEGREES)).mean_bias_pct
        if found.value is None or found.high is None:
            continue
        error = (found.high - found.value) / float(student_quantile(0.975, rides - 1))
        known = Known(mean=found.value, standard_error=error, degrees=rides - 1.0, reference=REFERENCE_PCT)
        firm += decide(LIMIT_PCT, known, RuleSettings()) is not VerdictWord.UNDECIDED
    return PlanOutcome(cell=job.cell, firm=firm, studies=BATCH)


def tabulate(outcomes: Sequence[PlanOutcome], full: bool) -> TruthTable:
    """What was promised beside what came."""
    rows, claims = [], []
    for watts in THRESHOLDS_W:
        cell = f"{watts:.0f}"
        of_cell = [one for one in outcomes if one.cell == cell]
        separation = promised(watts)
        gain, zero = separation.effects[0].se_pct, separation.effects[1].se_pct
        zero_nm = zero / zero_pct_per_nm(separation.at_w, separation.at_rpm)
        for what, unit, said, values in (
            ("gain", "%", gain, [one.gain_pct for one in of_cell]),
            ("zero", "N·m", zero_nm, [one.zero_nm for one in of_cell]),
        ):
            scatter = float(np.std(values, ddof=1))
            rows.append(
                (f"rider with {cell} W", f"standard error of the {what}", f"{said:.3f} {unit}", f"{scatter:.3f}")
            )
            room = 0.2 if full else 3 / math.sqrt(2 * (len(values) - 1))
            claims.append(
                Claim(
                    text=f"The scatter of the {what} over planned rides is what the plan said, within {room:.0%}.",
                    seen=f"{scatter:.3f} {unit} over {len(values)} rides, {said:.3f} said",
                    held=abs(scatter / said - 1) <= room,
                )
            )
    for course in COURSES:
        of_cell = [one for one in outcomes if one.cell == course]
        right = sum(one.course is FOUND[course] for one in of_cell)
        rows.append((course, "a unit that settles is called", FOUND[course].value, f"{right} of {len(of_cell)}"))
        claims.append(
            Claim(
                text=f"A unit that settles is called {FOUND[course].value} on the {course} ride, in 90 %.",
                seen=f"{right} of {len(of_cell)} rides",
                held=right >= 0.9 * len(of_cell) - (0 if full else 1),
            )
        )
    for prior in PRIORS:
        of_cell = [one for one in outcomes if one.cell == prior]
        firm, studies = sum(one.firm for one in of_cell), sum(one.studies for one in of_cell)
        named = needed(prior)
        said = named.chance or math.nan
        rows.append(
            (f"a unit {prior}", f"firm verdicts after {named.value} rides", f"{said:.2f}", f"{firm / studies:.2f}")
        )
        room = 0.04 if full else 0.04 + 3 * math.sqrt(0.25 / studies)
        claims.append(
            Claim(
                text=f"The number of rides named decides as often as said, within {room:.2f}.",
                seen=f"{firm / studies:.2f} of {studies} studies, {said:.2f} said",
                held=named.value is not None and abs(firm / studies - said) <= room,
            )
        )
    return TruthTable(
        title="Plans: what was promised and what came",
        columns=("plan", "what", "promised", "came"),
        rows=tuple(rows),
        claims=tuple(claims),
        notes=(f"The unit has a gain of {GAIN_PCT} % and a zero of {ZERO_NM} N·m; the limit is {LIMIT_PCT:g} %.",),
    )


TOPIC = TruthTopic(name="plan", jobs=jobs, judge=judge, tabulate=tabulate)
