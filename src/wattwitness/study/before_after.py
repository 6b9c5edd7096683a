"""Did a repair or new firmware mend it: bias, spread between rides and faults, before against after."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.conformity.claims import DEFAULT_FAULTS_PER_H, DEFAULT_SPREAD_PCT
from wattwitness.conformity.fault_rate import chance_rate_within
from wattwitness.conformity.spread import chance_spread_within
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import EpisodeKind, Finding
from wattwitness.model.estimate import Estimate
from wattwitness.model.study import BeforeAfter, ChangeAspect, ChangeFinding, RideFigures
from wattwitness.study.effects import Between, between_variance, pooled
from wattwitness.study.equivalence import Change, MeanKnown, change
from wattwitness.study.rates import rate_ratio, shuffled_chance

LEAST_RIDES = 2
FAULTS = (
    EpisodeKind.DROP,
    EpisodeKind.SURGE,
    EpisodeKind.FROZEN,
    EpisodeKind.SPIKE,
    EpisodeKind.ZEROS,
    EpisodeKind.STEP,
)
"""Kinds counted as faults of the unit's number; a recorder that lost its link or its clock is another matter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeLimits:
    """What counts as in order (``bias_pct``, ``spread_pct``, ``faults_per_h``), as unchanged (``margin_pct``), and the
    ``risk`` of a wrong word.
    """

    bias_pct: float = 2.0
    spread_pct: float = DEFAULT_SPREAD_PCT
    faults_per_h: float = DEFAULT_FAULTS_PER_H
    margin_pct: float = 1.0
    risk: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Group:
    """The rides of one group that count: standardised bias and its error (k,), faults and hours of each, and how many
    more episodes in all may be faults of the unit.
    """

    name: str
    bias: FloatArray
    variance: FloatArray
    faults: FloatArray
    hours: FloatArray
    unsure: int

    @property
    def enough(self) -> bool:
        """Whether a mean with its error can be told."""
        return self.bias.size >= LEAST_RIDES

    def known(self) -> MeanKnown:
        """Mean over rides, never surer than the rides' own errors allow."""
        over = pooled(self.bias, self.variance, between_variance(self.bias, self.variance, Between.PAULE_MANDEL))
        error = over.standard_error * math.sqrt(max(over.scale, 1.0))
        return MeanKnown(mean=over.mean, standard_error=error, degrees=self.bias.size - 1.0)


def unsure_faults(ride: RideFigures) -> int:
    """How many more episodes of the ride may be the unit's own, for all that could be found out."""
    return sum(episode.finding is Finding.UNDETERMINED and episode.kind in FAULTS for episode in ride.episodes)


def unit_faults(ride: RideFigures) -> int:
    """How many episodes of the ride are the unit's own."""
    return sum(episode.finding is Finding.UNIT and episode.kind in FAULTS for episode in ride.episodes)


def before_and_after(
    before: Sequence[RideFigures],
    after: Sequence[RideFigures],
    limits: ChangeLimits,
    *,
    names: tuple[str, str],
    seed: int,
    level: float = 0.95,
) -> BeforeAfter:
    """Hold two groups of rides against each other, on the bias standardised to one power and cadence.

    Both were ridden with the same reference, whose constant error leaves their difference.
    """
    first, second = _group(names[0], before), _group(names[1], after)
    missing = Estimate.missing("too_few_rides", "%", level)
    aspects: list[ChangeAspect] = []
    bias_change, ratio, equivalent = missing, Estimate.missing("too_few_rides", "1", level), None
    if first.enough and second.enough:
        moved = change(first.known(), second.known())
        low, high = moved.interval(level)
        bias_change = Estimate(value=moved.value, low=low, high=high, unit="%", level=level)
        equivalent = moved.chance_beyond(-limits.margin_pct, limits.margin_pct) <= limits.risk
        ratio = _variance_ratio(first, second, level)
        aspects.append(_of_bias(first, second, moved, limits, equivalent=equivalent))
        aspects.append(_of_spread(first, second, ratio, limits))
    fault_ratio, chance = Estimate.missing("no_fault_at_all", "1", level), None
    if first.hours.sum() > 0 and second.hours.sum() > 0:
        fault_ratio = _fault_ratio(first, second, level)
        joined = [np.concatenate(pair) for pair in ((first.faults, second.faults), (first.hours, second.hours))]
        where = np.arange(joined[0].size) >= first.faults.size
        chance = shuffled_chance(joined[0], joined[1], where, seed=seed)
        aspects.append(_of_faults(first, second, fault_ratio, chance, limits))
    finding = together(aspects)
    return BeforeAfter(
        before=first.name,
        after=second.name,
        finding=finding,
        bias_change_pct=bias_change,
        variance_ratio=ratio,
        fault_rate_ratio=fault_ratio,
        fault_chance=chance,
        equivalent=equivalent,
        margin_pct=limits.margin_pct,
        aspects=tuple(aspects),
        says=_says(first, second, finding, aspects),
    )


def together(aspects: Sequence[ChangeAspect]) -> ChangeFinding:
    """One word for several: anything worse is worse; fixed only where all that was measured is in order now."""
    findings = [aspect.finding for aspect in aspects]
    for word in (ChangeFinding.WORSE, ChangeFinding.IMPROVED):
        if word in findings:
            return word
    if ChangeFinding.FIXED in findings:
        return ChangeFinding.FIXED if all(aspect.in_order for aspect in aspects) else ChangeFinding.IMPROVED
    if findings and all(finding is ChangeFinding.UNCHANGED for finding in findings):
        return ChangeFinding.UNCHANGED
    return ChangeFinding.NOT_SHOWN


def _group(name: str, rides: Sequence[RideFigures]) -> _Group:
    counted = [ride for ride in rides if ride.counts]
    biased = [ride for ride in counted if ride.standardised_pct.value is not None]
    return _Group(
        name=name,
        bias=np.array([ride.standardised_pct.value for ride in biased], dtype=np.float64),
        variance=np.array([ride.standardised_se_pct**2 for ride in biased], dtype=np.float64),
        faults=np.array([unit_faults(ride) for ride in counted], dtype=np.float64),
        unsure=sum(unsure_faults(ride) for ride in counted),
        hours=np.array([ride.hours for ride in counted], dtype=np.float64),
    )


def _of_bias(first: _Group, second: _Group, moved: Change, limits: ChangeLimits, *, equivalent: bool) -> ChangeAspect:
    was, now = first.known(), second.known()
    low, high = moved.interval(1 - limits.risk)
    interval = f"{low:+.1f} to {high:+.1f}"
    words = (
        f"the bias went from {was.mean:+.1f} to {now.mean:+.1f} %, a change of {moved.value:+.1f} points ({interval})"
    )
    still = MeanKnown(mean=0.0, standard_error=0.0, degrees=math.inf)
    kept = change(still, now).chance_beyond(-limits.bias_pct, limits.bias_pct) <= limits.risk
    finding, more = ChangeFinding.NOT_SHOWN, "no change is shown"
    if equivalent:
        finding, more = ChangeFinding.UNCHANGED, f"shown to be no more than {limits.margin_pct:g} points"
    elif (low > 0 or high < 0) and abs(now.mean) > abs(was.mean):
        finding, more = ChangeFinding.WORSE, "further from none"
    elif low > 0 or high < 0:
        if kept and abs(was.mean) > limits.bias_pct:
            finding, more = ChangeFinding.FIXED, f"now shown to be within {limits.bias_pct:g} %"
        else:
            beyond = "" if kept else f", but not shown to be within {limits.bias_pct:g} %"
            finding, more = ChangeFinding.IMPROVED, f"nearer to none{beyond}"
    in_order = abs(now.mean) <= limits.bias_pct
    return ChangeAspect(name="bias", finding=finding, says=f"{words}: {more}", in_order=in_order)


def _of_spread(first: _Group, second: _Group, ratio: Estimate, limits: ChangeLimits) -> ChangeAspect:
    was, now = (float(group.bias.std(ddof=1)) for group in (first, second))
    words = f"the rides' standard deviation went from {was:.2f} to {now:.2f} %"
    before, after = (
        chance_spread_within(limits.spread_pct, group.bias, np.sqrt(group.variance)) for group in (first, second)
    )
    sure = 1 - limits.risk
    low, high = ratio.low or 0.0, math.inf if ratio.high is None else ratio.high
    finding, more = ChangeFinding.NOT_SHOWN, "no change is shown"
    if min(before, after) >= sure:
        finding, more = ChangeFinding.UNCHANGED, "in order before and after"
    elif low > 1:
        finding, more = ChangeFinding.WORSE, "less alike than before"
    elif high < 1 and after >= sure:
        finding, more = ChangeFinding.FIXED, f"now shown to be at most {limits.spread_pct:g} %"
    elif high < 1:
        finding, more = ChangeFinding.IMPROVED, f"not shown to be at most {limits.spread_pct:g} % yet"
    return ChangeAspect(name="spread", finding=finding, says=f"{words}: {more}", in_order=after > limits.risk)


def _of_faults(first: _Group, second: _Group, ratio: Estimate, chance: float, limits: ChangeLimits) -> ChangeAspect:
    counts = [int(group.faults.sum()) for group in (first, second)]
    hours = [float(group.hours.sum()) for group in (first, second)]
    words = f"faults went from {counts[0]} in {hours[0]:.1f} h to {counts[1]} in {hours[1]:.1f} h"
    # Episodes that may be the unit's count against "rare", and not towards "too often".
    rare = [
        (chance_rate_within(limits.faults_per_h, n + also, h)[0], chance_rate_within(limits.faults_per_h, n, h)[1])
        for n, also, h in zip(counts, (first.unsure, second.unsure), hours, strict=True)
    ]
    sure = 1 - limits.risk
    differs = ratio.assessed and chance <= limits.risk
    low, high = ratio.low or 0.0, math.inf if ratio.high is None else ratio.high
    finding, more = ChangeFinding.NOT_SHOWN, "no change is shown"
    if min(rare[0][0], rare[1][0]) >= sure:
        finding, more = ChangeFinding.UNCHANGED, "rare before and after"
    elif differs and low > 1:
        finding, more = ChangeFinding.WORSE, "more often"
    elif differs and high < 1 and rare[1][0] >= sure:
        finding, more = ChangeFinding.FIXED, f"shown to be at most {limits.faults_per_h:g} an hour now"
    elif differs and high < 1:
        finding, more = ChangeFinding.IMPROVED, "rarer, but so few hours do not show that they are gone"
    least = 2 / math.comb(first.faults.size + second.faults.size, first.faults.size)
    if finding is ChangeFinding.NOT_SHOWN and ratio.assessed and least > limits.risk:
        more = "so few rides cannot show a change, however they are shuffled: ride more of both"
    # Where they were too often, it is not enough that so few hours leave open whether they still are.
    was_out = rare[0][1] <= limits.risk
    in_order = rare[1][0] >= sure if was_out else rare[1][1] > limits.risk
    return ChangeAspect(name="faults", finding=finding, says=f"{words}: {more}", in_order=in_order)


def _variance_ratio(first: _Group, second: _Group, level: float) -> Estimate:
    """Variance of the rides after over before, with the interval of Fisher's F."""
    from scipy.special import fdtri

    before, after = float(first.bias.var(ddof=1)), float(second.bias.var(ddof=1))
    if before <= 0 or after <= 0:
        return Estimate.missing("no_spread_at_all", "1", level)
    value = after / before
    degrees = (second.bias.size - 1, first.bias.size - 1)
    low, high = (value / float(fdtri(*degrees, 0.5 + side * level / 2)) for side in (1, -1))
    return Estimate(value=value, low=low, high=high, unit="1", level=level)


def _fault_ratio(first: _Group, second: _Group, level: float) -> Estimate:
    value, low, high = rate_ratio(
        int(second.faults.sum()),
        float(second.hours.sum()),
        int(first.faults.sum()),
        float(first.hours.sum()),
        level=level,
    )
    if math.isnan(value):
        return Estimate.missing("no_fault_at_all", "1", level)
    return Estimate(value=value, low=low, high=high, unit="1", level=level)


def _says(first: _Group, second: _Group, finding: ChangeFinding, aspects: Sequence[ChangeAspect]) -> str:
    if not aspects:
        return f"{first.name} and {second.name} cannot be held against each other: too few rides."
    word = {
        ChangeFinding.FIXED: "It is fixed",
        ChangeFinding.IMPROVED: "It is better, but not shown to be in order",
        ChangeFinding.UNCHANGED: "It is unchanged",
        ChangeFinding.WORSE: "It is worse",
        ChangeFinding.NOT_SHOWN: "No change is shown",
    }[finding]
    return f"{word}: {'; '.join(aspect.says for aspect in aspects)}."
