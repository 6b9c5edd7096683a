"""The line through the unit's power over the reference's: a gain and a zero."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch
from wattwitness.model.agreement import PowerLine
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.lines import errors_in_variables_line
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
    if not line.converged:
        return _no_line("no_line", level)
    half = _half_widths(stretch, used, counts, line.adjusted_x, (line.intercept, line.slope), level)
    gain, zero = 100 * (line.slope - 1), line.intercept
    return PowerLine(
        gain_pct=Estimate(value=gain, low=gain - 100 * half[1], high=gain + 100 * half[1], unit="%", level=level),
        zero_w=Estimate(value=zero, low=zero - half[0], high=zero + half[0], unit="W", level=level),
        low_w=float(x.min()),
        high_w=float(x.max()),
    )


def _half_widths(
    stretch: CommonStretch,
    used: np.ndarray[tuple[int], np.dtype[np.bool_]],
    counts: FloatArray,
    adjusted_x: FloatArray,
    line: tuple[float, float],
    level: float,
) -> tuple[float, float]:
    """Half-widths of intercept and slope: the fitted abscissae are the instruments of the windows' own."""
    window = np.arange(stretch.present.size) // WINDOW_S
    at = np.flatnonzero(stretch.present & used[window])
    place = np.cumsum(used) - 1
    weight = 1 / counts[window[at]]
    instruments = weight * np.vstack([np.ones(at.size), adjusted_x[place[window[at]]]])
    expected_w = stretch.expected_w[at]
    fit = FittedSeconds(
        at=at,
        instruments=instruments,
        regressors=np.vstack([np.ones(at.size), expected_w]),
        coefficients=np.array(line),
        error=stretch.unit_w[at] - line[0] - line[1] * expected_w,
        scale=expected_w,
    )
    zero, gain = (half_width(stretch.run, fit, fit.coefficient_weights(which), level) for which in (0, 1))
    return zero, gain


def _no_line(slug: str, level: float) -> PowerLine:
    """No line, for the reason ``slug``."""
    return PowerLine(
        gain_pct=Estimate.missing(slug, "%", level),
        zero_w=Estimate.missing(slug, "W", level),
        low_w=float("nan"),
        high_w=float("nan"),
    )
