"""Decision rules by name: what an estimate and its uncertainty come to under a stated limit.

A firm verdict needs its own proof. "Conforms" is said where the whole probability lies within the limits but for the
stated risk, "does not conform" where it lies beyond one of them but for that risk: a reference so uncertain that hardly
any value is probable convicts nobody.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wattwitness.conformity.probability import Known, chance_below, chance_within, student_quantile
from wattwitness.model.claim import DecisionRule, VerdictWord

GUARD_FACTOR = 1.0
"""w in the guard band w·U, with U the expanded uncertainty at 95 % (ISO 14253-1:2017 and ILAC-G8:09/2019 take 1; from
memory)."""

GUARD_LEVEL = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSettings:
    """``risk``: the largest chance of a wrong firm verdict; ``guard_factor``: width of the guard band in expanded
    uncertainties.
    """

    rule: DecisionRule = DecisionRule.CONFORMANCE_PROBABILITY
    risk: float = 0.05
    guard_factor: float = GUARD_FACTOR


def decide(limit: float, known: Known, settings: RuleSettings) -> VerdictWord:
    """The verdict on a bias whose size must not exceed ``limit`` (percent), under the rule of ``settings``."""
    match settings.rule:
        case DecisionRule.SIMPLE_ACCEPTANCE:
            return VerdictWord.CONFORMS if abs(known.mean) <= limit else VerdictWord.DOES_NOT_CONFORM
        case DecisionRule.GUARD_BAND:
            guard = settings.guard_factor * expanded(known)
            if abs(known.mean) <= limit - guard:
                return VerdictWord.CONFORMS
            return VerdictWord.DOES_NOT_CONFORM if abs(known.mean) > limit + guard else VerdictWord.UNDECIDED
        case DecisionRule.CONFORMANCE_PROBABILITY:
            return _by_probability(limit, known, settings.risk)


def expanded(known: Known, level: float = GUARD_LEVEL) -> float:
    """Expanded uncertainty U of the mean, percent, the reference's inside; effective degrees of freedom by
    Welch-Satterthwaite (JCGM 100:2008, G.4.1).
    """
    statistics, reference = known.standard_error, known.reference
    combined = math.hypot(statistics, reference)
    if combined == 0:
        return 0.0
    degrees = known.degrees * (combined / statistics) ** 4 if statistics > 0 else math.inf
    return float(student_quantile(0.5 + level / 2, degrees)) * combined


def _by_probability(limit: float, known: Known, risk: float) -> VerdictWord:
    if chance_within(limit, known) >= 1 - risk:
        return VerdictWord.CONFORMS
    above, below = 1 - float(chance_below(limit, known)), float(chance_below(-limit, known))
    return VerdictWord.DOES_NOT_CONFORM if max(above, below) >= 1 - risk else VerdictWord.UNDECIDED
