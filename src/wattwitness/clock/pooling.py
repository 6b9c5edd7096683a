"""Drift from two channels at once, and what is known of clocks where a ride is too short to tell."""

from __future__ import annotations

import numpy as np

from wattwitness.clock.refine import Line

DISAGREEMENT = 9.0
"""Sum of squared standardised differences, per free number, from which two channels are not pooled."""

SLOPE_UNIT = 1e-5
"""Slopes are scaled by this in the sums, to keep the matrices well conditioned."""

USUAL_DRIFT_PPM = 120.0
"""Standard deviation of the drift of such clocks, as far as the ride itself does not tell. Crystals differ by 10-20 ppm
as a rule; this allows for far worse ones."""

BEYOND_USUAL = 3.0
"""A drift that the ride puts this many of those away is taken as the ride tells it."""


def pooled(main: Line, other: Line) -> Line:
    """``main`` with what ``other`` knows of drift and jumps: its lags may differ by a constant (a display's delay).

    Generalised least squares. ``main`` alone where the two disagree, or ``other`` has other stretches.
    """
    if main.lag_s.size != other.lag_s.size or main.middle != other.middle:
        return main
    size = main.lag_s.size + 1
    scale = np.append(np.ones(size - 1), SLOPE_UNIT)
    weights = [np.linalg.pinv(line.covariance / np.outer(scale, scale), hermitian=True) for line in (main, other)]
    seen = [np.append(line.lag_s, line.slope) / scale for line in (main, other)]
    design = np.hstack([np.eye(size), np.append(np.ones(size - 1), 0.0)[:, None]])
    alone = np.hstack([np.eye(size), np.zeros((size, 1))])
    normal = alone.T @ weights[0] @ alone + design.T @ weights[1] @ design
    covariance = np.linalg.pinv(normal, hermitian=True)
    theta = covariance @ (alone.T @ weights[0] @ seen[0] + design.T @ weights[1] @ seen[1])
    misfits = (seen[0] - alone @ theta, seen[1] - design @ theta)
    chi2 = sum(float(misfit @ weight @ misfit) for misfit, weight in zip(misfits, weights, strict=True))
    if not np.isfinite(chi2) or chi2 > DISAGREEMENT * (size - 1):
        return main
    return Line(
        lag_s=theta[: size - 1],
        slope=float(theta[size - 1] * SLOPE_UNIT),
        middle=main.middle,
        covariance=np.asarray(covariance[:size, :size] * np.outer(scale, scale)),
        freedom=main.freedom,
    )


def with_usual_drift(line: Line) -> Line:
    """``line`` with what is known of such clocks: a short or quiet ride leaves the drift near none, a telling one where
    it is.
    """
    size = line.lag_s.size + 1
    error = max(float(line.covariance[-1, -1]), 0.0) ** 0.5
    if abs(line.slope) > BEYOND_USUAL * USUAL_DRIFT_PPM * 1e-6 and error < USUAL_DRIFT_PPM * 1e-6:
        return line
    scale = np.append(np.ones(size - 1), SLOPE_UNIT)
    weight = np.linalg.pinv(line.covariance / np.outer(scale, scale), hermitian=True)
    usual = np.zeros((size, size))
    usual[-1, -1] = (SLOPE_UNIT / (USUAL_DRIFT_PPM * 1e-6)) ** 2
    covariance = np.linalg.pinv(weight + usual, hermitian=True)
    theta = covariance @ weight @ (np.append(line.lag_s, line.slope) / scale)
    return Line(
        lag_s=theta[:-1],
        slope=float(theta[-1] * SLOPE_UNIT),
        middle=line.middle,
        covariance=np.asarray(covariance * np.outer(scale, scale)),
        freedom=line.freedom,
    )
