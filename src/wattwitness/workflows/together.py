"""Three recordings or more of one ride put on trial together, from comparisons already made."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from wattwitness.clock.kernels import kernel_lag_s, response_kernel
from wattwitness.model.aligned import Blend
from wattwitness.model.comparison import PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import ResponseFit, ResponseKind
from wattwitness.model.three_meters import Closure, MeterOwnError, MetersTogether
from wattwitness.reference.three_meters import LEAST_W, SeenMeter, own_errors

NO_SMOOTHING = np.ones(1)
ABOUT_S = 0.1
STEADY = 0.8

INDEPENDENT = (
    "The errors of the meters are taken to be independent. Meters that share a sensor, a strain, or a software that "
    "makes watts of it err together: what they share then counts to the others, or to none."
)
COUNTED = (
    f"Only seconds above {LEAST_W:g} W count. A constant bias is no part of a meter’s own error, but what its bias "
    "does with power, cadence or time is, and so is what is left of clock and response."
)
ASSUMPTIONS = (INDEPENDENT, COUNTED)


def meters_together(
    pairs: Sequence[PairComparison], between_units: Sequence[PairComparison], *, level: float
) -> MetersTogether | None:
    """Own errors and closure of the reference and all units that could be compared with it; ``None`` for one unit.

    ``between_units`` holds every unit against every later one, in order.
    """
    if len(pairs) < 2:
        return None
    usable = [place for place, pair in enumerate(pairs) if _comparable(pair)]
    lengths = {pairs[place].series.time_s.size for place in usable}
    if len(usable) < 2 or len(lengths) != 1:
        return MetersTogether(
            meters=(),
            closures=(),
            seconds=0,
            assumptions=ASSUMPTIONS,
            warnings=(),
            not_assessed="too_few_meters",
            why="Fewer than three recordings share a clock and a power that moves.",
        )
    among = dict(zip(combinations(range(len(pairs)), 2), between_units, strict=True))
    meters = _seen(pairs, among, usable)
    found, seconds = own_errors(meters, level=level)
    closures = tuple(
        _closure(pairs, among[one, two], one, two, level)
        for one, two in combinations(usable, 2)
        if _comparable(among[one, two])
    )
    names = [pairs[0].reference.label, *(pair.unit.label for pair in pairs)]
    why = (
        f"All meters share only {seconds} s above {LEAST_W:g} W." if not found[0].spreads[0].own_sd_pct.assessed else ""
    )
    return MetersTogether(
        meters=found,
        closures=closures,
        seconds=seconds,
        assumptions=ASSUMPTIONS,
        warnings=(*_unmatched(pairs, usable), *_warnings(found, closures, names)),
        not_assessed=found[0].spreads[0].own_sd_pct.not_assessed or "",
        why=why,
    )


def usual_since_s(blend: Blend | None) -> float:
    """How long before each grid second the sample before it usually stands, s, where lines were drawn between samples
    a second apart; 0 where none were, or where it is not the same for most of the ride.
    """
    if blend is None:
        return 0.0
    lines = np.abs(blend.since_s + blend.until_s - 1) < ABOUT_S
    if lines.sum() < np.isfinite(blend.since_s).sum() / 2:
        return 0.0
    # On a circle: just before a sample and just after one are neighbours.
    turning = np.exp(2j * np.pi * blend.since_s[lines]).mean()
    return float(np.angle(turning) / (2 * np.pi) % 1) if abs(turning) > STEADY else 0.0


def _comparable(pair: PairComparison) -> bool:
    """Whether both measured something: a number that never moves has no own error to speak of."""
    still = any(side.one_power_w is not None for side in (pair.reference, pair.unit))
    return pair.clock.status.usable and pair.overall.bias_pct.assessed and not still


def _seen(
    pairs: Sequence[PairComparison], among: dict[tuple[int, int], PairComparison], usable: Sequence[int]
) -> list[SeenMeter]:
    """Reference and units with their responses relative to the promptest of them.

    That is the meter which is the smoother of none of its comparisons, or of the fewest.
    """
    places = [-1, *usable]

    def fit(one: int, two: int) -> ResponseFit | None:
        pair = pairs[two] if one < 0 else among[one, two]
        return pair.response if _comparable(pair) else None

    smoother = dict.fromkeys(places, 0.0)
    for one, two in combinations(places, 2):
        found = fit(one, two)
        if found is not None:
            smoother[one] += kernel_lag_s(response_kernel(found.reference))
            smoother[two] += kernel_lag_s(response_kernel(found.unit))
    base = min(places, key=lambda place: smoother[place])
    meters = []
    for place in places:
        kernel = NO_SMOOTHING
        if place != base:
            first, second = min(place, base), max(place, base)
            found = fit(first, second)
            if found is not None:
                kernel = response_kernel(found.unit if place == second else found.reference)
        series = pairs[usable[0]].series if place < 0 else pairs[place].series
        summary = pairs[usable[0]].reference if place < 0 else pairs[place].unit
        meters.append(
            SeenMeter(
                name=summary.label,
                recording=place + 1,
                power_w=series.reference_w if place < 0 else series.unit_w,
                kernel=kernel,
                lag_s=0.0 if place < 0 else _lag_s(pairs[place].response),
                since_s=pairs[usable[0]].usual_since_s[0] if place < 0 else pairs[place].usual_since_s[1],
            )
        )
    return meters


def _lag_s(fit: ResponseFit) -> float:
    """How much later the unit shows an effort than the reference, on the reference's clock."""
    if fit.unit.kind is ResponseKind.NOT_ASSESSED:
        return 0.0
    return fit.shift_s + kernel_lag_s(response_kernel(fit.unit)) - kernel_lag_s(response_kernel(fit.reference))


def _closure(
    pairs: Sequence[PairComparison], second_over_first: PairComparison, one: int, two: int, level: float
) -> Closure:
    """First over reference, times second over first, times reference over second, less one.

    The interval takes the three as independent, which is wide: most of their errors are the same and cancel.
    """
    biases = [pair.overall.bias_pct for pair in (pairs[one], second_over_first, pairs[two])]
    ratios = [1 + (bias.value or 0.0) / 100 for bias in biases]
    relative = [
        ((bias.high or 0.0) - (bias.low or 0.0)) / 200 / ratio if ratio > 0 else math.inf
        for bias, ratio in zip(biases, ratios, strict=True)
    ]
    value = 100 * (ratios[0] * ratios[1] / ratios[2] - 1) if ratios[2] > 0 else math.inf
    if not math.isfinite(value):
        missing = Estimate.missing("bias_without_bound", "%", level)
        return Closure(first=one + 1, second=two + 1, closure_pct=missing, closes=False)
    half = 100 * math.hypot(*relative)
    estimate = Estimate(value=value, low=value - half, high=value + half, unit="%", level=level)
    return Closure(first=one + 1, second=two + 1, closure_pct=estimate, closes=abs(value) <= half)


def _unmatched(pairs: Sequence[PairComparison], usable: Sequence[int]) -> Iterator[str]:
    """Which meters' responses could not be told, so that a smoother display passes for a quieter meter."""
    for place in usable:
        if pairs[place].response.unit.kind is ResponseKind.NOT_ASSESSED:
            yield (
                f"The response of {pairs[place].unit.label} could not be told on this ride, so it was taken as prompt: "
                "at 1 and 10 s a display that smooths counts as a quiet meter, and the others as noisy."
            )


def _warnings(found: Sequence[MeterOwnError], closures: Sequence[Closure], names: Sequence[str]) -> Iterator[str]:
    """What the data say against the assumptions, in sentences."""
    for meter in found:
        if any(spread.contradicted for spread in meter.spreads):
            yield (
                f"The own variance of {meter.name} is below zero by more than chance: the errors of others among the "
                "meters are not independent, or their responses were not matched."
            )
        elif any(spread.negative for spread in meter.spreads):
            yield (
                f"The own variance of {meter.name} came out below zero, as happens by chance where it is small beside "
                "the others’: it is then shown as 0, with an interval that starts there."
            )
    for closure in closures:
        if not closure.closes and closure.closure_pct.value is not None:
            yield (
                f"The three biases between {names[0]}, {names[closure.first]} and {names[closure.second]} do not "
                f"close: their product is {closure.closure_pct.value:+.2f} % off one, so at least one of the three was "
                "compared over other seconds or with another response."
            )
