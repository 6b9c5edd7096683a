"""The bias of the whole ride, by three intervals around one value."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch, percent, ratio_half_width
from wattwitness.model.agreement import OverallBias
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.bootstrap import stationary_block_length, stationary_bootstrap_ratio
from wattwitness.stats.quantiles import normal_quantile, student_quantile

METERS_IN_USE_PCT = 3.2
"""Standard deviation of the deviation of 54 meters in use: Maier, Schmid, Mueller, Steiner & Wehrlin (2017)
Int. J. Sports Med. 38:456-461, abstract (read)."""

RESAMPLES = 2000

SHORT_SHARE = 50
"""A ride is called short for its wander when the correlation time is likely to be beyond this part of it. Intervals
hold up to a thirtieth; the estimate scatters by half, so the notice is given early rather than late."""


def overall_bias(
    expected_w: FloatArray, unit_w: FloatArray, *, level: float, reference_uncertainty_pct: float | None, seed: int
) -> OverallBias:
    """Return the bias of the ride: 100 * (sum(unit) / sum(expected) - 1) over the seconds both were present.

    Powers have shape (n,), one a second, NaN where missing; ``expected_w`` is the reference through the unit's
    response. ``reference_uncertainty_pct`` is a standard uncertainty; ``None`` takes that of meters in use.
    """
    stretch = common_stretch(expected_w, unit_w)
    if reference_uncertainty_pct is None:
        uncertainty, origin = METERS_IN_USE_PCT, "default: spread among 54 meters in use (Maier et al. 2017)"
    else:
        uncertainty, origin = reference_uncertainty_pct, "given"
    if stretch.lacks:
        missing = Estimate.missing(stretch.lacks, "%", level)
        bias = bootstrap = naive = with_reference = missing
        wander_time_s, wander_pct, short = float("nan"), float("nan"), False
    else:
        half = ratio_half_width(stretch, stretch.fit, level)
        bias = percent(stretch.ratio, half, level)
        bootstrap = _bootstrap(stretch, level, seed)
        naive = percent(stretch.ratio, _naive_half_width(stretch, level), level)
        reference_half = normal_quantile(level) * stretch.ratio * uncertainty / 100
        with_reference = percent(stretch.ratio, math.hypot(half, reference_half), level)
        wander = stretch.run.wander
        wander_time_s, wander_pct = wander.correlation_time_s(), _wander_pct(stretch)
        short = wander.probability_beyond(stretch.present.size / SHORT_SHARE) > 0.5
    return OverallBias(
        bias_pct=bias,
        bootstrap_pct=bootstrap,
        naive_pct=naive,
        bias_with_reference_pct=with_reference,
        reference_uncertainty_pct=uncertainty,
        reference_uncertainty_origin=origin,
        wander_time_s=wander_time_s,
        wander_pct=wander_pct,
        short_for_wander=short,
    )


def _naive_half_width(stretch: CommonStretch, level: float) -> float:
    """Half-width for the ratio if the seconds were independent (they are not): linearised, Student's t."""
    seconds = int(stretch.present.sum())
    variance = float(np.sum(stretch.error_w**2)) * seconds / (seconds - 1)
    return student_quantile(level, seconds - 1) * math.sqrt(variance) / float(stretch.expected_w.sum())


def _bootstrap(stretch: CommonStretch, level: float, seed: int) -> Estimate:
    """Percentile interval of the stationary bootstrap, blocks chosen on what the ratio leaves over."""
    block_s = stationary_block_length(stretch.error_w[stretch.present])
    ratios = stationary_bootstrap_ratio(
        stretch.unit_w, stretch.expected_w, block_s=block_s, resamples=RESAMPLES, seed=seed
    )
    low, high = np.quantile(ratios, [0.5 - level / 2, 0.5 + level / 2]) if ratios.size else (-np.inf, np.inf)
    return Estimate(
        value=100 * (stretch.ratio - 1),
        low=100 * (min(float(low), stretch.ratio) - 1),
        high=100 * (max(float(high), stretch.ratio) - 1),
        unit="%",
        level=level,
    )


def _wander_pct(stretch: CommonStretch) -> float:
    """Standard deviation of the relative error over 30 s means, percent of the expected power; NaN with under three.

    Means with less than half of their usual samples, or under a quarter of the ride's mean power, say nothing of it.
    """
    starts = np.arange(0, stretch.present.size, 30)
    counts = np.add.reduceat(stretch.present.astype(np.float64), starts)
    expected = np.add.reduceat(stretch.expected_w, starts)
    least_w = 0.25 * stretch.expected_w.sum() / stretch.present.sum()
    tells = (counts > 0) & (counts >= 15 * stretch.run.density) & (expected > least_w * counts)
    if tells.sum() < 3:
        return float("nan")
    errors = np.add.reduceat(stretch.error_w, starts)[tells] / expected[tells]
    return float(100 * np.std(errors, ddof=1))
