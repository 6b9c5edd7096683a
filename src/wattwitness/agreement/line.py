"""The line through the unit's power over the reference's: a gain and a zero."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch
from wattwitness.model.agreement import PowerLine
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.lines import ErrorsInVariablesLine, errors_in_variables_line
from wattwitness.stats.longrun import FittedSeconds, half_width

WINDOW_S = 30
LEAST_WINDOWS = 10
LEAST_SPREAD = 0.05
"""Relative standard deviation of the windows' powers below which a line says nothing."""


def power_line(expected_w: FloatArray, unit_w: FloatArray, *, level: float) -> PowerLine:
    """Fit unit = zero + (1 + gain) * expected on 30 s means that do not overlap; powers (n,), NaN where missing.

    Both meters err, each in proportion to its reading, so errors in variables (``stats.lines``), which ordinary
    regression would answer with too small a gain. Intervals respect slow wander, as that of the bias does.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return _no_line(stretch.lacks, level)
    starts = np.arange(0, stretch.present.size, WINDOW_S)
    counts = np.add.reduceat(stretch.present.astype(np.float64), starts)
    used = (counts > 0) & (counts >= stretch.run.density * WINDOW_S / 2)
    if used.sum() < LEAST_WINDOWS:
        return _no_line("too_few_windows", level)
    x, y = (np.add.reduceat(power, starts)[used] / counts[used] for power in (stretch.expected_w, stretch.unit_w))
    if np.std(x) < LEAST_SPREAD * x.mean():
        return _no_line("not_varied", level)
    ones = np.ones(x.size)
    line = errors_in_variables_line(x, y, ones, max(abs(stretch.ratio), 0.01) * ones)
    fit = _by_second(stretch, used, counts, line)
    if not (line.converged and fit.determined):
        return _no_line("no_line", level)
    zero_half, gain_half = (half_width(stretch.run, fit, fit.coefficient_weights(which), level) for which in (0, 1))
    gain, zero, gain_half = 100 * (line.slope - 1), line.intercept, 100 * gain_half
    return PowerLine(
        gain_pct=Estimate(value=gain, low=gain - gain_half, high=gain + gain_half, unit="%", level=level),
        zero_w=Estimate(value=zero, low=zero - zero_half, high=zero + zero_half, unit="W", level=level),
        low_w=float(x.min()),
        high_w=float(x.max()),
    )


def _by_second(
    stretch: CommonStretch, used: BoolArray, counts: FloatArray, line: ErrorsInVariablesLine
) -> FittedSeconds:
    """The line as a fit to single seconds: the fitted abscissae are the instruments of the windows' own.

    ``used`` and ``counts`` say of each window along the stretch whether it counts, and its samples.
    """
    window = np.arange(stretch.present.size) // WINDOW_S
    at = np.flatnonzero(stretch.present & used[window])
    adjusted_x = line.adjusted_x[(np.cumsum(used) - 1)[window[at]]]
    expected_w = stretch.expected_w[at]
    return FittedSeconds(
        at=at,
        instruments=np.vstack([np.ones(at.size), adjusted_x]) / counts[window[at]],
        regressors=np.vstack([np.ones(at.size), expected_w]),
        coefficients=np.array([line.intercept, line.slope]),
        error=stretch.unit_w[at] - line.intercept - line.slope * expected_w,
        scale=expected_w,
    )


def _no_line(slug: str, level: float) -> PowerLine:
    """No line, for the reason ``slug``."""
    return PowerLine(
        gain_pct=Estimate.missing(slug, "%", level),
        zero_w=Estimate.missing(slug, "W", level),
        low_w=float("nan"),
        high_w=float("nan"),
    )
