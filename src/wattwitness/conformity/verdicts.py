"""Three claims judged apart and never averaged: trueness, consistency, freedom from faults."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from wattwitness.conformity.claims import DEFAULT_FAULTS_PER_H, DEFAULT_SPREAD_PCT
from wattwitness.conformity.fault_rate import chance_rate_within, hours_without_fault
from wattwitness.conformity.further import RidesSoFar, fewest, further_for_spread, further_for_trueness
from wattwitness.conformity.probability import Known, chance_within
from wattwitness.conformity.rules import RuleSettings, decide
from wattwitness.conformity.spread import chance_spread_within
from wattwitness.model.claim import Claim, FurtherRides, Risks, Verdict, Verdicts, VerdictWord

DECIDED = FurtherRides(value=0, chance=1.0, reason="No more rides are needed for this verdict.")
FIXED_ERRORS = (-2.0, -1.0, 0.0, 1.0, 2.0)
"""Errors of the reference, in its standard uncertainties, at which the risk is tabled."""

DRAWS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Faults of the unit counted over hours of riding in a number of rides.

    ``unsure`` are further episodes of which it could not be said whose they are: they may be the unit's.
    """

    faults: int
    hours: float
    rides: int
    unsure: int = 0


def judge(
    claim: Claim | None,
    known: Known | None,
    rides: RidesSoFar,
    exposure: Exposure | None,
    settings: RuleSettings,
    *,
    at_w: float,
    seed: int,
) -> Verdicts:
    """All three. ``known`` is the mean bias at ``at_w`` (``None``: not estimated), ``rides`` the standardised ones."""
    return Verdicts(
        trueness=judge_trueness(claim, known, rides, settings, at_w=at_w, seed=seed),
        consistency=judge_consistency(claim, rides, settings, seed=seed),
        faults=judge_faults(claim, exposure, settings, seed=seed),
    )


def judge_trueness(
    claim: Claim | None, known: Known | None, rides: RidesSoFar, settings: RuleSettings, *, at_w: float, seed: int
) -> Verdict:
    """Is the mean bias within the claim? The reference's error, common to all rides, is inside."""
    if rides.bias.size == 0:
        return not_assessed(settings, "No ride counts, so nothing was measured.", "" if claim is None else claim.source)
    limit = None if claim is None else claim.limit_at_pct(at_w)
    if claim is None or limit is None:
        why = "No limit on the bias is claimed" + ("." if claim is None else f" at {at_w:.0f} W.")
        return not_assessed(settings, why, "" if claim is None else claim.source)
    promise = f"within ±{limit:.12g} % ({claim.source})"
    if known is None:
        why = "One ride says nothing of how rides differ, so its bias decides nothing."
        first = FurtherRides(value=None, chance=None, reason="Ride at least once more: two rides can be judged.")
        return replace(_open(settings, None, why, promise), further_rides=first)
    probability = chance_within(limit, known)
    word = decide(limit, known, settings)
    fixed = tuple(
        (factor * known.reference, chance_within(limit, _at_fixed(known, factor * known.reference)))
        for factor in FIXED_ERRORS
    )
    more = DECIDED if word is not VerdictWord.UNDECIDED else further_for_trueness(limit, rides, settings, seed=seed)
    says = f"The probability that the bias is {promise} is {share_words(probability)}: {in_words(word)}."
    return Verdict(
        verdict=word,
        rule=settings.rule,
        probability=probability,
        further_rides=more,
        says=says,
        claim=promise,
        risks=Risks(consumers=1 - probability, producers=probability, at_fixed=fixed),
    )


def judge_consistency(claim: Claim | None, rides: RidesSoFar, settings: RuleSettings, *, seed: int) -> Verdict:
    """Is the spread between rides small? A constant error cancels, and so does the reference's common one."""
    stated = None if claim is None else claim.spread_pct
    limit = DEFAULT_SPREAD_PCT if stated is None else stated
    origin = "a default of this program" if stated is None or claim is None else claim.source
    promise = f"standard deviation between rides at most {limit:.12g} % ({origin})"
    if rides.bias.size == 0:
        return not_assessed(settings, "No ride counts, so nothing was measured.", promise)
    if rides.bias.size < 2:
        return not_assessed(settings, "One ride says nothing of how rides differ.", promise)
    probability = chance_spread_within(limit, rides.bias, rides.standard_error)
    word = by_confidence(probability, probability, settings.risk)
    more = DECIDED if word is not VerdictWord.UNDECIDED else further_for_spread(limit, rides, settings, seed=seed)
    says = f"The confidence in a {promise} is {share_words(probability)}: {in_words(word)}."
    return Verdict(
        verdict=word,
        rule=settings.rule,
        probability=probability,
        further_rides=more,
        says=says,
        claim=promise,
        risks=Risks(consumers=1 - probability, producers=probability),
    )


def judge_faults(claim: Claim | None, exposure: Exposure | None, settings: RuleSettings, *, seed: int) -> Verdict:
    """Is the rate of faults small? No fault shows only that they are rarer than the hours can tell.

    Episodes that may be the unit's count against a pass, and not towards a fail.
    """
    stated = None if claim is None else claim.faults_per_h
    limit = DEFAULT_FAULTS_PER_H if stated is None else stated
    origin = "a default of this program" if stated is None or claim is None else claim.source
    promise = f"at most {limit:.12g} faults an hour ({origin})"
    if exposure is None or not exposure.hours > 0:
        return not_assessed(settings, "Faults could not be looked for on any ride.", promise)
    least, most = _within_rate(limit, exposure.faults, exposure.unsure, exposure.hours)
    word = by_confidence(least, most, settings.risk)
    more = DECIDED
    if word is VerdictWord.UNDECIDED:
        more = _further_for_faults(limit, exposure, settings.risk, seed)
    counted = "no fault" if exposure.faults == 0 else f"{exposure.faults} fault{'s' if exposure.faults > 1 else ''}"
    says = (
        f"With {counted}{_unsure_words(exposure.unsure)} in {exposure.hours:.1f} h the confidence in {promise} is "
        f"{share_words(least)}: {in_words(word)}."
    )
    return Verdict(
        verdict=word,
        rule=settings.rule,
        probability=least,
        further_rides=more,
        says=says,
        claim=promise,
        risks=Risks(consumers=1 - least, producers=most),
    )


def _within_rate(limit: float, faults: int, unsure: int, hours: float) -> tuple[float, float]:
    """The least confidence that the rate is within the limit, doubtful episodes counted, and the most, without them."""
    return chance_rate_within(limit, faults + unsure, hours)[0], chance_rate_within(limit, faults, hours)[1]


def _unsure_words(unsure: int) -> str:
    if not unsure:
        return ""
    return f" (and {unsure} episode{'s' if unsure > 1 else ''} that may be the unit's, counted too)"


def by_confidence(least: float, most: float, risk: float) -> VerdictWord:
    """A firm word where even the ``least`` confidence is enough, or even the ``most`` is too small."""
    if least >= 1 - risk:
        return VerdictWord.CONFORMS
    return VerdictWord.DOES_NOT_CONFORM if most <= risk else VerdictWord.UNDECIDED


def not_assessed(settings: RuleSettings, why: str, promise: str) -> Verdict:
    """No verdict, because nothing was measured or nothing is claimed; never a pass."""
    more = FurtherRides(value=None, chance=None, reason=why)
    return Verdict(
        verdict=VerdictWord.NOT_ASSESSED,
        rule=settings.rule,
        probability=None,
        further_rides=more,
        says=why,
        claim=promise,
    )


def in_words(word: VerdictWord) -> str:
    """``does not conform`` and its like."""
    return word.value.replace("_", " ")


def share_words(probability: float) -> str:
    """A probability in percent that never reads 0 or 100 % where it is neither."""
    if 0 < probability < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if 0.999 < probability < 1 else f"{100 * probability:.1f} %"


def _open(settings: RuleSettings, probability: float | None, why: str, promise: str) -> Verdict:
    more = FurtherRides(value=None, chance=None, reason=why)
    return Verdict(
        verdict=VerdictWord.UNDECIDED,
        rule=settings.rule,
        probability=probability,
        further_rides=more,
        says=why,
        claim=promise,
    )


def _at_fixed(known: Known, error: float) -> Known:
    """What is known if the reference read ``error`` percent too high: the unit's true bias is that much more."""
    return Known(mean=known.mean + error, standard_error=known.standard_error, degrees=known.degrees, reference=0.0)


def _further_for_faults(limit: float, exposure: Exposure, risk: float, seed: int) -> FurtherRides:
    """More rides as long as those so far, the rate drawn from what was counted (Jeffreys' prior)."""
    if limit <= 0:
        return FurtherRides(value=None, chance=None, reason="No number of rides can show that a fault never comes.")
    rng = np.random.default_rng(seed)
    rate = rng.gamma(exposure.faults + 0.5, 1 / exposure.hours, DRAWS)
    each = exposure.hours / max(exposure.rides, 1)

    def chance(more: int) -> float:
        counts = exposure.faults + rng.poisson(rate * more * each)
        hours = exposure.hours + more * each
        words = {
            int(n): by_confidence(*_within_rate(limit, int(n), exposure.unsure, hours), risk) for n in np.unique(counts)
        }
        return float(np.mean([words[int(n)] is not VerdictWord.UNDECIDED for n in counts]))

    found = fewest(chance)
    needed = hours_without_fault(limit, risk)
    if found.value is None and exposure.faults + exposure.unsure == 0 and math.isfinite(needed):
        return replace(found, reason=f"{found.reason} Without any fault it would take {needed:.1f} h in all.")
    return found
