"""The error's anatomy: a zero and a gain in the torque domain, and what else the bias goes with."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from wattwitness.agreement.dependence import (
    cadence_at_equal_torque,
    left_share,
    power_at_equal_cadence,
    rising_less_falling,
)
from wattwitness.agreement.relation import RelationBlocks
from wattwitness.agreement.steps_up_down import step_direction
from wattwitness.model.anatomy import Anatomy
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import normal_quantile
from wattwitness.stats.theil_sen import theil_sen
from wattwitness.stats.wandering import WanderingFit, fit_wandering, wandering_products

POINTS = "percentage points"
MOST_TORQUE_BINS = 12
LEAST_BIN_BLOCKS = 4
LEAST_RELIABILITY = 0.8
"""Part of the spread of torque that must be the rider's and not the noise of a meter, for a line through it."""


GAIN_FLOOR = 0.0004
ZERO_FLOOR_NM = 0.008
"""Standard uncertainty that rounding, the clock and the response leave in gain and zero, found on simulated rides
without any noise: no interval is narrower, and less than this is no difference."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnatomyFound:
    """The result, and the fit of ``gain`` and ``zero`` behind it (``None`` where there is none)."""

    anatomy: Anatomy
    fit: WanderingFit | None


def gain_and_zero(blocks: RelationBlocks, extra: dict[str, FloatArray], *, watts: bool = False) -> WanderingFit:
    """Fit unit = (1 + gain) · reference + zero · angular velocity, both meters in error.

    Divided by the reference's power this is linear, error = gain + zero / torque, and errors in proportion to the
    reading become equal ones. ``extra`` are further columns (n,), ``watts`` adds a constant power (W). The errors of
    both meters and their wander: ``stats.wandering``.
    """
    reciprocal = blocks.omega / blocks.expected_w
    columns = {"gain": np.ones(blocks.count), "zero": reciprocal, **extra}
    noise = {"zero": -float(reciprocal.sum())}
    if watts:
        columns["watts"] = 1 / blocks.expected_w
        noise["watts"] = -float(columns["watts"].sum())
    products = wandering_products(blocks.at_s, {"error": blocks.error, **columns}, blocks.noise, block_s=blocks.block_s)
    return fit_wandering(products, "error", tuple(columns), reference_noise=noise)


def error_anatomy(
    blocks: RelationBlocks,
    expected_w: FloatArray,
    unit_w: FloatArray,
    *,
    level: float,
    left_share_pct: FloatArray | None = None,
    time_shape: FloatArray | None = None,
) -> AnatomyFound:
    """Take the error apart.

    ``blocks`` are cut with cadence; powers and ``left_share_pct`` are one value a second, NaN where missing;
    ``time_shape`` (one value a block) is how the bias changed along the ride, zero at its end. Not assessed: the
    blocks' own reason (``no_cadence``, ``too_short`` …); ``not_varied`` where the torque all but stayed the same.
    """
    if blocks.lacks:
        return AnatomyFound(anatomy=nothing_taken_apart(blocks.lacks, level), fit=None)
    extra = {} if time_shape is None else {"time": time_shape}
    fit = gain_and_zero(blocks, extra)
    zero, gain, correlation = _zero_and_gain(blocks, fit, level)
    torques = _torques(blocks, fit, extra)
    median = theil_sen(torques[:, 0], torques[:, 1], level) if zero.assessed else None
    share, per_point = left_share(blocks, left_share_pct, expected_w, level)
    anatomy = Anatomy(
        zero_nm=zero,
        gain_pct=gain,
        zero_gain_correlation=correlation,
        per_10_rpm_pct=cadence_at_equal_torque(blocks, extra, level),
        per_100_w_pct=power_at_equal_cadence(blocks, extra, level),
        up_minus_down_pct=rising_less_falling(blocks, step_direction(expected_w, unit_w), extra, level),
        left_share_pct=share,
        per_left_point_pct=per_point,
        torque_nm=_parts(torques, blocks),
        median_zero_nm=float("nan") if median is None else median.intercept,
        median_gain_pct=float("nan") if median is None else 100 * (median.slope - 1),
    )
    return AnatomyFound(anatomy=anatomy, fit=fit)


def along_ride(blocks: RelationBlocks, shape: FloatArray) -> FloatArray:
    """The column (n,) by which the error changes along the ride as ``shape`` (n,) does.

    What changes may be the gain, which moves every block alike, or the zero (a transducer that warms up), which moves
    those of little torque most, in the same course or steadily: whichever the ride makes likeliest.
    """
    if not np.all(np.isfinite(blocks.omega)):
        return shape
    reciprocal = blocks.omega / blocks.expected_w
    reciprocal = reciprocal / float(reciprocal.mean())
    steady = (blocks.at_s - blocks.ends_s) / max(blocks.ends_s - blocks.begins_s, 1.0)
    columns = (shape, shape * reciprocal, steady * reciprocal)
    return max(columns, key=lambda column: gain_and_zero(blocks, {"time": column}).evidence)


def without_zero_and_gain(anatomy: Anatomy, slug: str) -> Anatomy:
    """The anatomy without what is left open for the reason ``slug``: another account fits as well."""
    return replace(
        anatomy,
        zero_nm=Estimate.missing(slug, anatomy.zero_nm.unit, anatomy.zero_nm.level),
        gain_pct=Estimate.missing(slug, anatomy.gain_pct.unit, anatomy.gain_pct.level),
        zero_gain_correlation=math.nan,
        median_zero_nm=math.nan,
        median_gain_pct=math.nan,
    )


def nothing_taken_apart(slug: str, level: float) -> Anatomy:
    """Nothing assessed, for the reason ``slug``."""
    points = Estimate.missing(slug, POINTS, level)
    return Anatomy(
        zero_nm=Estimate.missing(slug, "N·m", level),
        gain_pct=Estimate.missing(slug, "%", level),
        zero_gain_correlation=float("nan"),
        per_10_rpm_pct=points,
        per_100_w_pct=points,
        up_minus_down_pct=points,
        left_share_pct=Estimate.missing(slug, "%", level),
        per_left_point_pct=points,
        torque_nm=np.zeros((0, 2)),
    )


def _zero_and_gain(blocks: RelationBlocks, fit: WanderingFit, level: float) -> tuple[Estimate, Estimate, float]:
    """Zero, gain and their correlation; not assessed where noise makes most of the spread of torque."""
    reciprocal = blocks.omega / blocks.expected_w
    scatter = float(fit.probability @ fit.size)
    noise = scatter * float(np.mean(reciprocal**2)) / 2
    if noise > (1 - LEAST_RELIABILITY) * float(np.var(reciprocal)):
        return Estimate.missing("not_varied", "N·m", level), Estimate.missing("not_varied", "%", level), float("nan")
    _, covariance = fit.mean_covariance()
    correlation = float(covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]))
    return (
        _estimate(fit.interval_of("zero", level), ZERO_FLOOR_NM, 1.0, "N·m", level),
        _estimate(fit.interval_of("gain", level), GAIN_FLOOR, 100.0, "%", level),
        correlation,
    )


def _estimate(found: tuple[float, float, float], floor: float, times: float, unit: str, level: float) -> Estimate:
    """Value, low and high, the floor's standard uncertainty added to each side, ``times`` as large."""
    value, low, high = (times * number for number in found)
    floor_half = normal_quantile(level) * floor * times
    down, up = math.hypot(value - low, floor_half), math.hypot(high - value, floor_half)
    return Estimate(value=value, low=value - down, high=value + up, unit=unit, level=level)


def _torques(blocks: RelationBlocks, fit: WanderingFit, extra: dict[str, FloatArray]) -> FloatArray:
    """Torque of both meters in each block, shape (n, 2).

    What the bias did along the ride is taken off the unit's, so that they lie around the fitted line.
    """
    coefficients, _ = fit.mean_covariance()
    over_time = sum((coefficients[fit.names.index(name)] * values for name, values in extra.items()), np.zeros(1))
    reference = blocks.expected_w / blocks.omega
    return np.column_stack([reference, reference * (1 + blocks.error - over_time)])


def _parts(torques: FloatArray, blocks: RelationBlocks) -> FloatArray:
    """Their means over parts of the ride sorted by the torque of both meters."""
    order = np.argsort(blocks.both_w / blocks.omega)
    parts = np.array_split(order, max(min(MOST_TORQUE_BINS, blocks.count // LEAST_BIN_BLOCKS), 1))
    return np.array([torques[part].mean(axis=0) for part in parts])
