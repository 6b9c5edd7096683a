"""What a planned study would decide, how many rides it takes, and whether any number does with this reference."""

from __future__ import annotations

import math

from wattwitness.conformity.fault_rate import hours_without_fault
from wattwitness.conformity.probability import student_quantile
from wattwitness.conformity.rules import GUARD_LEVEL, RuleSettings
from wattwitness.model.claim import DecisionRule
from wattwitness.model.plan import Prospects, RidesNeeded, VerdictChances
from wattwitness.plan.chances import Expected, consistency_chances, endless_chances, trueness_chances

TRIED = (2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40)
"""Numbers of rides that are tried; more are no plan."""

SHOWN = (2, 3, 5, 8, 12, 20)
BIAS_SHARES = (0.0, 0.25, 0.5, 0.75, 0.9, 1.0, 1.1, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)
"""True biases of the table, as parts of the limit. The rules are even, so a unit that reads low fares the same."""

LEAST_RIDES = 5
"""Sessions that a spread between rides wants: common practice, from a spread of about 1 % between sessions."""


def prospects_of(
    limit_pct: float,
    expected: Expected,
    settings: RuleSettings,
    *,
    spread_limit_pct: float,
    faults_per_h: float,
    asked_chance: float,
    rides: int | None,
    seed: int,
) -> Prospects:
    """Chances of each verdict by rides and by true bias, and the fewest rides that decide as often as asked.

    By true bias after ``rides`` of them; ``None``: as many as the plan then has, at least ``LEAST_RIDES``.
    """
    tried = [trueness_chances(limit_pct, count, expected, settings, bias=None, seed=seed) for count in TRIED]
    endless = endless_chances(limit_pct, expected, settings, seed=seed)
    spread = [consistency_chances(spread_limit_pct, count, expected, settings, seed=seed) for count in TRIED]
    needed = _needed(tried, asked_chance, firm(endless), expected)
    shown = rides or max(needed.value or needed.worthwhile or LEAST_RIDES, LEAST_RIDES)
    return Prospects(
        limit_pct=limit_pct,
        asked_chance=asked_chance,
        needed=needed,
        by_rides=tuple(one for one in tried if one.rides in {*SHOWN, shown}),
        by_bias=tuple(
            trueness_chances(limit_pct, shown, expected, settings, bias=share * limit_pct, seed=seed)
            for share in BIAS_SHARES
        ),
        consistency=tuple(one for one in spread if one.rides in SHOWN),
        spread_limit_pct=spread_limit_pct,
        consistency_needed=_needed_for_spread(spread, asked_chance),
        largest_reference_pct=largest_reference(limit_pct, settings),
        fault_free_hours=hours_without_fault(faults_per_h, settings.risk),
        faults_per_h=faults_per_h,
    )


def firm(chances: VerdictChances) -> float:
    """Chance of a firm verdict, either way."""
    return chances.conforms + chances.does_not_conform


def largest_reference(limit_pct: float, settings: RuleSettings) -> float:
    """Standard uncertainty of a reference above which even a unit without any bias is never found to conform."""
    if settings.rule is DecisionRule.SIMPLE_ACCEPTANCE:
        return math.inf
    if settings.rule is DecisionRule.GUARD_BAND:
        factor = settings.guard_factor * float(student_quantile(0.5 + GUARD_LEVEL / 2, math.inf))
        return limit_pct / factor if factor > 0 else math.inf
    return limit_pct / float(student_quantile(1 - settings.risk / 2, math.inf))


def _needed(tried: list[VerdictChances], asked: float, most: float, expected: Expected) -> RidesNeeded:
    """The fewest rides from which on the chance stays as high as asked."""
    last = tried[-1]
    enough = _from_which_on(tried, asked)
    worth = _from_which_on(tried, 0.9 * firm(last))
    worthwhile = None if worth is None or firm(last) <= 0 else worth.rides
    if enough is not None:
        reason = f"{enough.rides} rides give a firm verdict with a chance of {_percent(firm(enough))}."
        return RidesNeeded(
            value=enough.rides, chance=firm(enough), most_chance=most, worthwhile=worthwhile, reason=reason
        )
    if most < asked:
        reason = (
            f"No number of rides gives a firm verdict with a chance of {_percent(asked)} with this reference: its "
            f"standard uncertainty of {expected.reference:.2g} % is the same in every ride, and endlessly many rides "
            f"come to {_percent(most)}."
        )
    else:
        reason = f"Even {last.rides} rides give a firm verdict with a chance of {_percent(firm(last))} only."
    return RidesNeeded(value=None, chance=firm(last), most_chance=most, worthwhile=worthwhile, reason=reason)


def _needed_for_spread(tried: list[VerdictChances], asked: float) -> RidesNeeded:
    last = tried[-1]
    enough = _from_which_on(tried, asked)
    settle = "settle whether it is the same every day with a chance of"
    if enough is not None:
        reason = f"{enough.rides} rides {settle} {_percent(firm(enough))}."
        return RidesNeeded(value=enough.rides, chance=firm(enough), most_chance=None, worthwhile=None, reason=reason)
    reason = f"Even {last.rides} rides {settle} {_percent(firm(last))} only."
    return RidesNeeded(value=None, chance=firm(last), most_chance=None, worthwhile=None, reason=reason)


def _from_which_on(tried: list[VerdictChances], chance: float) -> VerdictChances | None:
    """The first number of rides from which on the chance of a firm verdict is never below ``chance``."""
    for place, one in enumerate(tried):
        if all(firm(later) >= chance for later in tried[place:]):
            return one
    return None


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
