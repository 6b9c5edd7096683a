"""Limits of agreement: within what the difference of one window falls, and how well that is known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch
from wattwitness.model.agreement import AgreementLimits
from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.longrun import FittedSeconds, LongRun, half_width
from wattwitness.stats.quantiles import normal_quantile
from wattwitness.stats.replicates import single_difference_variance

SHARE_OF_DIFFERENCES = 0.95
LEAST_WINDOWS = 10
MOST_STRETCHES = 8
LEAST_PRESENT = 0.8
"""A window counts with at least this share of its seconds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Windows:
    """Windows that count, N of them: mean difference and mean of what the fit leaves over, (N,) each.

    ``number`` (n,) gives the window of each second, -1 where it is in none or one meter has no sample.
    """

    difference_w: FloatArray
    left_over_w: FloatArray
    number: IntArray


def limits_of_agreement(
    expected_w: FloatArray, unit_w: FloatArray, *, windows_s: tuple[int, ...] = (1, 10, 30, 60), level: float
) -> tuple[AgreementLimits, ...]:
    """Return mean difference -/+ 1.96 SD of unit - expected, on windows that do not overlap, for each of ``windows_s``.

    Powers (n,), NaN where missing; windows run from the first common second. Bland & Altman (1986) Lancet 327:307-310,
    for repeated measures where the true value varies (1999) Stat. Methods Med. Res. 8:135-160, section 5.3. One ride
    holds no independent subjects: its windows are serial, and a slow wander makes their plain SD too small. Up to
    eight stretches of the ride stand for the subjects and the windows in each for its replicates, so that the SD is
    that of a window in a ride that goes on. The intervals of mean and limits (those papers take differences as
    independent) come from the influence of each window on the limit, mean +/- z SD by the delta method, whose long-run
    variance is found as that of the bias. Percent is of the ride's mean expected power, taken as known.
    """
    stretch = common_stretch(expected_w, unit_w)
    return tuple(_limits(stretch, window_s, level) for window_s in windows_s)


def difference_limits(mean: float, variance: float) -> tuple[float, float]:
    """Mean -/+ z SD with z 1.96: between these lie 95 % of normal differences."""
    reach = normal_quantile(SHARE_OF_DIFFERENCES) * float(np.sqrt(variance))
    return mean - reach, mean + reach


def _limits(stretch: CommonStretch, window_s: int, level: float) -> AgreementLimits:
    """Limits on windows of one length."""
    windows = _windows(stretch, window_s)
    count = windows.difference_w.size
    slug = stretch.lacks or ("too_few_windows" if count < LEAST_WINDOWS else "")
    if slug:
        watts, share = Estimate.missing(slug, "W", level), Estimate.missing(slug, "%", level)
        return AgreementLimits(
            window_s=window_s,
            windows=count,
            mean_w=watts,
            low_w=watts,
            high_w=watts,
            mean_pct=share,
            low_pct=share,
            high_pct=share,
        )
    mean_w = float(windows.difference_w.mean())
    variance = stretches_variance(windows.difference_w)
    low_w, high_w = difference_limits(mean_w, variance)
    fit = stretch.fit_of(windows.number >= 0)
    watts_of = {
        name: _interval(stretch.run, fit, windows, value, (value - mean_w) / variance if variance else 0.0, level)
        for name, value in (("mean", mean_w), ("low", low_w), ("high", high_w))
    }
    power_w = float(stretch.expected_w.sum() / stretch.present.sum())
    pct_of = {name: _percent_of(estimate, power_w) for name, estimate in watts_of.items()}
    return AgreementLimits(
        window_s=window_s,
        windows=count,
        mean_w=watts_of["mean"],
        low_w=watts_of["low"],
        high_w=watts_of["high"],
        mean_pct=pct_of["mean"],
        low_pct=pct_of["low"],
        high_pct=pct_of["high"],
    )


def _windows(stretch: CommonStretch, window_s: int) -> _Windows:
    """Windows one after the other; a last one cut short by the ride's end is left out."""
    whole = stretch.present.size // window_s
    seconds = whole * window_s
    counts = stretch.present[:seconds].reshape(whole, window_s).sum(axis=1)
    used = counts >= LEAST_PRESENT * window_s

    def means(values: FloatArray) -> FloatArray:
        sums = values[:seconds].reshape(whole, window_s).sum(axis=1)
        return np.asarray(sums[used] / counts[used], dtype=np.float64)

    number = np.full(stretch.present.size, -1)
    number[:seconds] = np.repeat(np.where(used, np.cumsum(used) - 1, -1), window_s)
    number[~stretch.present] = -1
    left_over_w = means(stretch.left_over_w) if not stretch.lacks else np.zeros(int(used.sum()))
    return _Windows(difference_w=means(stretch.unit_w - stretch.expected_w), left_over_w=left_over_w, number=number)


def stretches_variance(differences: FloatArray) -> float:
    """Variance of one window's difference (N >= 4 windows, in order): between stretches of the ride plus within."""
    parts = np.array_split(differences, min(MOST_STRETCHES, differences.size // 2))
    replicates = np.array([part.size for part in parts], dtype=np.float64)
    squares = sum(float(np.sum((part - part.mean()) ** 2)) for part in parts)
    within = squares / (differences.size - len(parts))
    return single_difference_variance(np.array([part.mean() for part in parts]), replicates, within)


def _interval(run: LongRun, fit: FittedSeconds, windows: _Windows, value: float, bend: float, level: float) -> Estimate:
    """Interval of mean + k SD at ``value``, from each window's influence d + ``bend`` / 2 (d^2 - mean d^2).

    d is the window's difference from the mean; ``bend`` is k / SD. Of d only what the fit leaves over, e, is chance.
    The rest, p = d - e, is what the rider's efforts write and stays: e + ``bend`` / 2 (2 p e + e^2 - mean e^2).
    """
    error = windows.left_over_w
    pattern = windows.difference_w - windows.difference_w.mean() - error
    influence = error + bend / 2 * (2 * pattern * error + error**2 - np.mean(error**2))
    fit = replace(fit, error=influence[windows.number[fit.at]])
    half = half_width(run, fit, np.full(fit.at.size, 1 / fit.at.size), level)
    return Estimate(value=value, low=value - half, high=value + half, unit="W", level=level)


def _percent_of(estimate: Estimate, power_w: float) -> Estimate:
    """An estimate in W as percent of ``power_w``."""
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return Estimate.missing(estimate.not_assessed or "unknown", "%", estimate.level)
    share = 100 / power_w
    return Estimate(
        value=share * estimate.value,
        low=share * estimate.low,
        high=share * estimate.high,
        unit="%",
        level=estimate.level,
    )
