"""Whether the bias stays, drifts, settles or steps: the search put into numbers with intervals, and into words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.relation import RelationBlocks
from wattwitness.agreement.settling_columns import POWER_PRIORS, TimeShape
from wattwitness.agreement.settling_search import TimeFinding, longest_tau_s, search_time
from wattwitness.agreement.settling_words import halves_sentence, settling_sentence, temperature_sentence
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.settling import Settling, TimeModel
from wattwitness.stats.quantiles import student_quantile
from wattwitness.stats.wandering import WanderingFit, fit_wandering, functional_variance, wandering_products
from wattwitness.stats.wandering_scan import WanderingScan

POINTS = "percentage points"
SETTLED_SHARE = 0.95
"""Settled when this share of the change is over: after three time constants."""

LEAST_TEMPERATURE_SD_C = 0.3
OPEN_SHARE = 0.01
"""With this probability at the longest time constant tried, no upper end is given."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SettlingFound:
    """The result, and the shape of time (n,) on the blocks that it leaves in the error, zero at the ride's end."""

    settling: Settling
    shape: FloatArray | None


def settling_of(
    blocks: RelationBlocks,
    *,
    level: float,
    overall_pct: Estimate | None = None,
    temperature_c: FloatArray | None = None,
) -> SettlingFound:
    """Find how the bias goes along the ride.

    ``overall_pct`` is the bias of the whole ride, which is what a constant bias is. ``temperature_c`` is one value for
    each second of the ride, NaN where missing. Not assessed: the blocks' own reason.
    """
    if blocks.lacks:
        return SettlingFound(settling=nothing_settled(blocks.lacks, level), shape=None)
    finding = search_time(blocks)
    numbers = _numbers(blocks, finding, level, overall_pct)
    halves = _halves(blocks, finding, level)
    temperature = _temperature(blocks, finding, temperature_c, level)
    bias, fitted = _curve(blocks, finding)
    best = finding.best
    settling = Settling(
        model=finding.model,
        why=settling_sentence(finding.model, numbers),
        **numbers,
        halves_change_pct=halves,
        halves_sentence=halves_sentence(halves),
        per_10_c_pct=temperature,
        temperature_sentence=temperature_sentence(temperature),
        probabilities=finding.probabilities,
        at_s=blocks.at_s,
        bias_pct=100 * bias,
        fitted_pct=100 * fitted,
    )
    return SettlingFound(settling=settling, shape=None if best is None else best.values - _settled_value(best))


def nothing_settled(slug: str, level: float) -> Settling:
    """Nothing assessed, for the reason ``slug``."""
    percent, minutes = Estimate.missing(slug, "%", level), Estimate.missing(slug, "min", level)
    points = Estimate.missing(slug, POINTS, level)
    return Settling(
        model=None,
        why="",
        tau_min=minutes,
        settled_at_min=minutes,
        start_bias_pct=percent,
        settled_bias_pct=percent,
        end_bias_pct=percent,
        halves_change_pct=points,
        halves_sentence="",
        per_10_c_pct=points,
        temperature_sentence="",
        probabilities=(),
        at_s=np.zeros(0),
        bias_pct=np.zeros(0),
        fitted_pct=np.zeros(0),
    )


def _settled_value(shape: TimeShape) -> float:
    """The value of a shape at which the bias is taken as that of the unit as it is in the end."""
    return shape.at_end if shape.model is TimeModel.LINEAR else 0.0


def _numbers(
    blocks: RelationBlocks, finding: TimeFinding, level: float, overall_pct: Estimate | None
) -> dict[str, Estimate]:
    """Time constant, times and biases of the model found."""
    if finding.scan is None:
        return _without_change(finding, level, overall_pct)
    scan, shapes = finding.scan, finding.shapes
    at_end = np.array([shape.at_end for shape in shapes])
    start = _percent(scan.interval("one", shapes[0].at_start, level), level)
    end = _percent(scan.interval("one", at_end, level), level)
    kind = Estimate.missing("no_settling", "min", level)
    if finding.model is TimeModel.LINEAR:
        drifting = Estimate.missing("still_changing", "%", level)
        return _named(kind, kind, start, drifting, end)
    settled = _percent(scan.interval("one", 0.0, level), level)
    if finding.model is TimeModel.STEP:
        at_s = _setting(scan, shapes, level, log=False)
        return _named(kind, _minutes(*at_s, level), start, settled, settled)
    tau_s = _setting(scan, shapes, level, log=True)
    if shapes[-1].setting >= 0.999 * longest_tau_s(blocks) and scan.of_candidates[-1] > OPEN_SHARE:
        tau_s = (tau_s[0], tau_s[1], math.inf)
    times = -math.log(1 - SETTLED_SHARE)
    until = tuple(blocks.begins_s + times * value for value in tau_s)
    return _named(_minutes(*tau_s, level), _minutes(until[0], until[1], until[2], level), start, settled, end)


def _without_change(finding: TimeFinding, level: float, overall_pct: Estimate | None) -> dict[str, Estimate]:
    """The numbers where the bias stays, or where nothing can be said of its going."""
    slug = "confounded" if finding.model is TimeModel.CONFOUNDED else "no_settling"
    minutes = Estimate.missing(slug, "min", level)
    if finding.model is TimeModel.CONFOUNDED:
        percent = Estimate.missing(slug, "%", level)
        return _named(minutes, minutes, percent, percent, percent)
    bias = overall_pct or _percent(finding.base.interval_of("one", level), level)
    return _named(minutes, minutes, bias, bias, bias)


def _named(
    tau_min: Estimate, settled_at_min: Estimate, start: Estimate, settled: Estimate, end: Estimate
) -> dict[str, Estimate]:
    return {
        "tau_min": tau_min,
        "settled_at_min": settled_at_min,
        "start_bias_pct": start,
        "settled_bias_pct": settled,
        "end_bias_pct": end,
    }


def _setting(
    scan: WanderingScan, shapes: tuple[TimeShape, ...], level: float, *, log: bool
) -> tuple[float, float, float]:
    """Median, low and high of the shapes' setting by their probability, each standing for what is nearest to it."""
    setting = np.array([shape.setting for shape in shapes])
    place = np.log(setting) if log else setting
    if place.size == 1:
        return float(setting[0]), float(setting[0]), float(setting[0])
    between = (place[1:] + place[:-1]) / 2
    edges = np.concatenate([place[:1], between, place[-1:]])
    share = np.append(0.0, np.cumsum(scan.of_candidates))
    value, low, high = np.interp([0.5, 0.5 - level / 2, 0.5 + level / 2], share / share[-1], edges)
    found = np.exp([value, low, high]) if log else np.array([value, low, high])
    return float(found[0]), float(found[1]), float(found[2])


def _halves(blocks: RelationBlocks, finding: TimeFinding, level: float) -> Estimate:
    """Mean bias of the second half of the elapsed time less that of the first, at equal power.

    The bias goes as the model found says, and the wander left over by it makes the interval; what is not known of how
    the bias goes with power adds to that. Where time and power cannot be parted it is not assessed.
    """
    if finding.model is TimeModel.CONFOUNDED:
        return Estimate.missing("confounded", POINTS, level)
    later = blocks.at_s > (blocks.begins_s + blocks.ends_s) / 2
    if not 0 < int(later.sum()) < blocks.count:
        return Estimate.missing("too_short", POINTS, level)
    share = blocks.expected_w
    weights = np.where(later, share / share[later].sum(), -share / share[~later].sum())
    bias, _ = _curve(blocks, finding)
    _, covariance = finding.base.mean_covariance()
    moved = np.column_stack(list(finding.columns.values())).T @ weights
    by_power = float(moved @ covariance[1:, 1:] @ moved)
    if finding.scan is None:
        probability, size = finding.base.probability, finding.base.size
    else:
        probability, size = (values.reshape(-1, finding.base.size.size) for values in finding.scan.shapes)
        size = np.sum(probability * size, axis=0) / np.maximum(probability.sum(axis=0), 1e-300)
        probability = probability.sum(axis=0)
    by_wander = functional_variance(
        blocks.at_s, weights, blocks.noise, block_s=blocks.block_s, probability=probability, size=size
    )
    half = 100 * student_quantile(level, finding.base.degrees) * math.sqrt(by_wander + by_power)
    value = 100 * float(weights @ bias)
    return Estimate(value=value, low=value - half, high=value + half, unit=POINTS, level=level)


def _temperature(
    blocks: RelationBlocks, finding: TimeFinding, temperature_c: FloatArray | None, level: float
) -> Estimate:
    """Change of the bias for 10 °C, time left out."""
    if temperature_c is None or not np.any(np.isfinite(temperature_c)):
        return Estimate.missing("no_temperature", POINTS, level)
    values = blocks.means(temperature_c)
    known = np.isfinite(values)
    if known.sum() < blocks.count / 2:
        return Estimate.missing("no_temperature", POINTS, level)
    if float(np.std(values[known])) < LEAST_TEMPERATURE_SD_C:
        return Estimate.missing("not_varied", POINTS, level)
    filled = np.interp(blocks.at_s, blocks.at_s[known], values[known])
    return _beside_power(blocks, finding, filled - filled.mean(), 10.0, level)


def _beside_power(
    blocks: RelationBlocks, finding: TimeFinding, values: FloatArray, times: float, level: float
) -> Estimate:
    """The coefficient of ``values`` beside power and cadence, in percentage points for ``times`` of it."""
    columns = {"error": blocks.error, "one": np.ones(blocks.count), **finding.columns, "asked": values}
    products = wandering_products(blocks.at_s, columns, blocks.noise, block_s=blocks.block_s)
    prior_sd = {name: POWER_PRIORS[name] for name in finding.columns}
    fit: WanderingFit = fit_wandering(products, "error", ("one", *finding.columns, "asked"), prior_sd=prior_sd)
    value, low, high = (100 * times * number for number in fit.interval_of("asked", level))
    return Estimate(value=value, low=low, high=high, unit=POINTS, level=level)


def _curve(blocks: RelationBlocks, finding: TimeFinding) -> tuple[FloatArray, FloatArray]:
    """The bias of each block at equal power, and the curve fitted to it; the plain bias where confounded."""
    if finding.model is TimeModel.CONFOUNDED:
        return blocks.error, np.full(blocks.count, np.nan)
    if finding.scan is None:
        coefficients, _ = finding.base.mean_covariance()
        over_time = np.zeros(blocks.count)
    else:
        best = int(np.argmax(finding.scan.of_candidates))
        coefficients, own = finding.scan.coefficients_with(best)
        over_time = own * finding.shapes[best].values
    by_power = np.column_stack(list(finding.columns.values())) @ coefficients[1:]
    return blocks.error - by_power, coefficients[0] + over_time


def _percent(found: tuple[float, float, float], level: float) -> Estimate:
    value, low, high = (100 * number for number in found)
    return Estimate(value=value, low=low, high=high, unit="%", level=level)


def _minutes(value_s: float, low_s: float, high_s: float, level: float) -> Estimate:
    return Estimate(value=value_s / 60, low=low_s / 60, high=high_s / 60, unit="min", level=level)
