"""Do studies of many rides say what is true: the spread between rides, the next ride, verdicts, how many more rides?

Studies are drawn with a known mean, spread between rides and error of the reference; each ride's own error is known
only as well as a ride tells it (six degrees of freedom). A study is judged by the rooms that judge a real one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.truth.protocol import Claim, TruthTable, TruthTopic
from wattwitness.conformity.further import RidesSoFar, further_for_trueness
from wattwitness.conformity.probability import Known, student_quantile
from wattwitness.conformity.rules import RuleSettings, decide
from wattwitness.model.arrays import FloatArray
from wattwitness.model.claim import VerdictWord
from wattwitness.study.consistency import random_effects
from wattwitness.study.ride_errors import drawn_together

RIDES = (3, 5, 8, 12)
RATIOS = (0.0, 0.5, 1.0, 3.0)
ERROR_PCT = 0.3
DEGREES = 6.0
LIMIT_PCT = 2.0
BIASES_PCT = (0.0, 1.0, 1.9, 2.1, 3.0, 5.0)
SPREADS_PCT = (0.3, 1.0, 2.5)
REFERENCES_PCT = (0.5, 1.5)
VERDICT_RIDES = 5
PRIOR_RIDES = 4
BATCH = 50
RULE = RuleSettings()
NOTE = (
    f"Each ride's standard error is {ERROR_PCT} %, told with {DEGREES:.0f} degrees of freedom. The limit is "
    f"{LIMIT_PCT:g} %, the rule the probability of conformance with a risk of {RULE.risk:.0%}."
)

Kind = Literal["spread", "verdict", "further"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyJob:
    """A batch of studies of one cell."""

    kind: Kind
    rides: int
    spread: float
    bias: float
    reference: float
    seed: int
    studies: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyOutcome:
    """Counts over the batch; what ``hits`` are is said by ``tabulate``."""

    job: StudyJob
    hits: tuple[float, ...]


def jobs(full: bool) -> list[StudyJob]:
    """In full 1000 studies a cell of spreads, 500 a cell of verdicts, 3000 that may ask for more rides."""
    listed = []
    for cell, (rides, ratio) in enumerate((rides, ratio) for rides in RIDES for ratio in RATIOS):
        for batch in range(20 if full else 1):
            listed.append(_job("spread", rides, ratio * ERROR_PCT, -4.0, 0.0, 1000 * cell + batch))
    grid = [(bias, spread, ref) for bias in BIASES_PCT for spread in SPREADS_PCT for ref in REFERENCES_PCT]
    for cell, (bias, spread, reference) in enumerate(grid):
        for batch in range(10 if full else 1):
            listed.append(_job("verdict", VERDICT_RIDES, spread, bias, reference, 100_000 + 1000 * cell + batch))
    listed += [_job("further", PRIOR_RIDES, 0.0, 0.0, 0.4, 900_000 + batch) for batch in range(60 if full else 1)]
    return listed


def _job(kind: Kind, rides: int, spread: float, bias: float, reference: float, seed: int) -> StudyJob:
    return StudyJob(kind=kind, rides=rides, spread=spread, bias=bias, reference=reference, seed=seed, studies=BATCH)


def judge(job: StudyJob) -> StudyOutcome:
    """Draw the studies and judge them."""
    rng = np.random.default_rng(job.seed)
    judged = {"spread": _spread, "verdict": _verdict, "further": _further}[job.kind]
    counted = np.sum([judged(rng, job) for _ in range(job.studies)], axis=0)
    return StudyOutcome(job=job, hits=tuple(float(number) for number in counted))


def _ridden(rng: np.random.Generator, rides: int, mean: float, spread: float) -> tuple[FloatArray, FloatArray]:
    """Observed biases of rides and their estimated standard errors; rides differ a little in how well they tell."""
    error = ERROR_PCT * rng.lognormal(0, 0.2, rides)
    bias = mean + spread * rng.normal(size=rides) + error * rng.normal(size=rides)
    return bias, error * np.sqrt(rng.chisquare(DEGREES, rides) / DEGREES)


def _spread(rng: np.random.Generator, job: StudyJob) -> tuple[float, ...]:
    """Covered: spread, next ride, mean."""
    bias, error = _ridden(rng, job.rides, job.bias, job.spread)
    found = random_effects(bias, error, np.full(job.rides, DEGREES))
    following = float(_ridden(rng, 1, job.bias, job.spread)[0][0])
    held = []
    for estimate, truth in (
        (found.between_ride_sd_pct, job.spread),
        (found.next_ride_pct, following),
        (found.mean_bias_pct, job.bias),
    ):
        low, high = estimate.low, estimate.high
        held.append(float(low is not None and high is not None and low <= truth <= high))
    return tuple(held)


def _judged(bias: FloatArray, error: FloatArray, reference: float) -> VerdictWord:
    """As ``study.assemble`` judges trueness."""
    found = random_effects(bias, error, np.full(bias.size, DEGREES)).mean_bias_pct
    assert found.value is not None
    assert found.high is not None
    known = Known(
        mean=found.value,
        standard_error=(found.high - found.value) / float(student_quantile(0.975, bias.size - 1)),
        degrees=bias.size - 1.0,
        reference=reference,
    )
    return decide(LIMIT_PCT, known, RULE)


def _verdict(rng: np.random.Generator, job: StudyJob) -> tuple[float, ...]:
    """Wrong firm verdicts, right firm ones; the reference's error is drawn once a study."""
    bias, error = _ridden(rng, job.rides, job.bias - job.reference * rng.normal(), job.spread)
    word = _judged(bias, error, job.reference)
    right = VerdictWord.CONFORMS if abs(job.bias) <= LIMIT_PCT else VerdictWord.DOES_NOT_CONFORM
    firm = word is not VerdictWord.UNDECIDED
    return float(firm and word is not right), float(firm and word is right)


def _further(rng: np.random.Generator, job: StudyJob) -> tuple[float, ...]:
    """Of studies drawn from a prior: undecided ones with a number named, its chance, and whether it decided."""
    mean, spread = rng.normal(0, 2.5), rng.lognormal(np.log(0.8), 0.5)
    shift = job.reference * rng.normal()
    bias, error = _ridden(rng, job.rides, mean - shift, spread)
    if _judged(bias, error, job.reference) is not VerdictWord.UNDECIDED:
        return 0.0, 0.0, 0.0
    shared = np.sqrt(drawn_together(error**2, np.full(bias.size, DEGREES))[0])
    more = further_for_trueness(
        LIMIT_PCT, RidesSoFar(bias=bias, standard_error=shared, reference=job.reference), RULE, seed=1
    )
    if more.value is None or more.chance is None:
        return 0.0, 0.0, 0.0
    new_bias, new_error = _ridden(rng, more.value, mean - shift, spread)
    word = _judged(np.concatenate([bias, new_bias]), np.concatenate([error, new_error]), job.reference)
    return 1.0, more.chance, float(word is not VerdictWord.UNDECIDED)


def tabulate(outcomes: Sequence[StudyOutcome], full: bool) -> TruthTable:
    """Coverage by cell, wrong verdicts by cell, and whether named numbers of rides decide."""
    cells: dict[tuple[str, int, float, float, float], list[StudyOutcome]] = {}
    for outcome in outcomes:
        job = outcome.job
        cells.setdefault((job.kind, job.rides, job.spread, job.bias, job.reference), []).append(outcome)
    rows: list[tuple[str, ...]] = []
    worst_cover, worst_wrong = [1.0, 0.0], 0.0
    named = chance = decided = 0.0
    for (kind, rides, spread, bias, reference), group in cells.items():
        count = sum(outcome.job.studies for outcome in group)
        total = np.sum([outcome.hits for outcome in group], axis=0)
        if kind == "spread":
            shares = total / count
            if rides >= 5:
                worst_cover[0] = min(worst_cover[0], *shares[:2])
                worst_cover[1] = max(worst_cover[1], *shares[0 if spread > 0 else 1 : 2])
            said = f"spread {shares[0]:.1%}, next ride {shares[1]:.1%}, mean {shares[2]:.1%}"
            rows.append((f"{rides} rides", f"{spread / ERROR_PCT:g} standard errors", "", f"{count}", said))
        elif kind == "verdict":
            worst_wrong = max(worst_wrong, float(total[0]) / count)
            said = f"wrong firm {total[0] / count:.1%}, right firm {total[1] / count:.1%}"
            rows.append(
                (f"{rides} rides", f"{spread:g} %", f"bias {bias:g} %, reference {reference:g} %", f"{count}", said)
            )
        else:
            named, chance, decided = (float(number) for number in total)
            shares = np.array([chance, decided]) / max(named, 1)
            said = f"{named:.0f} named a number; chance said {shares[0]:.1%}, decided {shares[1]:.1%}"
            rows.append((f"{rides} rides", "drawn", f"drawn, reference {reference:g} %", f"{count}", said))
    slack = 0.0 if full else 0.16
    gap = abs(chance - decided) / max(named, 1)
    return TruthTable(
        title="Studies of many rides",
        columns=("rides", "spread between rides", "truth", "studies", "seen"),
        rows=tuple(rows),
        claims=(
            Claim(
                text="From five rides on, intervals of the spread and of the next ride cover 92 to 98 % (where "
                "there is no spread at all, its interval begins at none and may cover more).",
                seen=f"{worst_cover[0]:.1%} to {worst_cover[1]:.1%}",
                held=worst_cover[0] >= 0.92 - slack and worst_cover[1] <= 0.98 + slack,
            ),
            Claim(
                text="Wrong firm verdicts stay at or under the stated risk of 5 % in every cell.",
                seen=f"at most {worst_wrong:.1%}",
                held=worst_wrong <= RULE.risk + (0.012 if full else 0.13),
            ),
            Claim(
                text="The number of rides named decides as often as it said, averaged over what may be true.",
                seen=f"said {chance / max(named, 1):.1%}, decided {decided / max(named, 1):.1%} of {named:.0f}",
                held=gap <= (0.08 if full else 0.35) or named < 4,
            ),
        ),
        notes=(NOTE,),
    )


TOPIC = TruthTopic(name="study", jobs=jobs, judge=judge, tabulate=tabulate)
