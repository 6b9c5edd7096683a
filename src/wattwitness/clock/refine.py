"""Offset and drift below a sample, from all windows at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.spectra import ComplexArray, Spectra, best_weights, spectra, summed_cross
from wattwitness.clock.windows import Windows
from wattwitness.model.arrays import FloatArray

DRIFT_GRID = np.arange(-400e-6, 401e-6, 20e-6)
DELAY_GRID = np.arange(-3.0, 3.01, 0.1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """Lag of each stretch in seconds (S,), at ``middle`` (a reference second) if it reached there, and the common
    slope (s per s of the reference); ``covariance`` (S+1, S+1) of both, slope last; ``freedom`` for Student's t."""

    lag_s: FloatArray
    slope: float
    middle: float
    covariance: FloatArray
    freedom: int

    def delay_s(self, windows: Windows) -> FloatArray:
        """What the line says beyond each window's whole-second lag, shape (W,)."""
        return self.lag_s[windows.stretch] + self.slope * (windows.at - self.middle) - windows.lag


def fit_line(windows: Windows, highest_hz: float, middle: float) -> tuple[Line, Spectra, ComplexArray]:
    """Maximise the sum over windows of the weighted cross-correlation, interpolated in the frequency domain.

    No window has to give an answer of its own, so weak ones only add what they know. Returns the line, the spectra, and
    the cross-spectrum of the ride along the line. The covariance is the sandwich of the windows' scores (White H 1982,
    Econometrica 50:1-25), which also holds where the model is not exact.
    """
    seen = spectra(windows, highest_hz)
    line = _start(windows, middle)
    cross = summed_cross(seen, line.delay_s(windows))
    for turn in range(3):
        weights = best_weights(seen, cross)
        if turn == 0:
            line = _searched(windows, seen, weights, line)
        line = climb(windows, seen, weights.astype(np.complex128), line)
        cross = summed_cross(seen, line.delay_s(windows))
    return line, seen, cross


def _start(windows: Windows, middle: float) -> Line:
    count = int(windows.stretch.max()) + 1
    lag = np.array([np.median(windows.lag[windows.stretch == k]) for k in range(count)], dtype=np.float64)
    return Line(lag_s=lag, slope=0.0, middle=middle, covariance=np.zeros((count + 1, count + 1)), freedom=1)


def gain(seen: Spectra, weights: ComplexArray | FloatArray, delay_s: FloatArray) -> FloatArray:
    """Weighted cross-correlation of each window, (W, D), at delays (W, D) or (D,)."""
    delay = np.broadcast_to(delay_s, (seen.cross.shape[0], delay_s.shape[-1]))
    turned = np.exp(2j * np.pi * delay[:, :, None] * seen.hz)
    return np.asarray(np.real(np.einsum("wf,wdf->wd", seen.cross * weights, turned)))


def _searched(windows: Windows, seen: Spectra, weights: FloatArray, start: Line) -> Line:
    """The best of a grid of drifts and offsets: the climb needs to begin on the right hill."""
    fine = np.arange(-8.0, 8.01, 0.1)
    curve = np.real((seen.cross * weights) @ np.exp(2j * np.pi * np.outer(seen.hz, fine)))
    best, chosen = -np.inf, start
    count = start.lag_s.size
    for slope in DRIFT_GRID:
        lag = start.lag_s.copy()
        total = 0.0
        for k in range(count):
            mine = np.flatnonzero(windows.stretch == k)
            base = lag[k] + slope * (windows.at[mine] - windows.at[mine].mean()) - windows.lag[mine]
            at = np.round((base[:, None] + DELAY_GRID + 8.0) / 0.1).astype(int)
            sums = curve[mine[:, None], np.clip(at, 0, fine.size - 1)].sum(axis=0)
            top = int(np.argmax(sums))
            total += float(sums[top])
            lag[k] += DELAY_GRID[top] - slope * (windows.at[mine].mean() - start.middle)
        if total > best:
            best = total
            chosen = Line(
                lag_s=lag, slope=float(slope), middle=start.middle, covariance=start.covariance, freedom=start.freedom
            )
    return chosen


def climb(windows: Windows, seen: Spectra, weights: ComplexArray, start: Line) -> Line:
    """Newton's method on the sum of windows, and the sandwich covariance at its top."""
    count = start.lag_s.size
    design = np.zeros((windows.at.size, count + 1))
    design[np.arange(windows.at.size), windows.stretch] = 1.0
    # Slope in s per 1000 s keeps the matrix well scaled.
    design[:, -1] = (windows.at - start.middle) / 1000.0
    theta = np.append(start.lag_s, start.slope * 1000.0)
    angle = 2 * np.pi * seen.hz
    weighted = seen.cross * weights
    slopes, bends = np.zeros(0), np.zeros(0)
    inverse = np.zeros((count + 1, count + 1))
    for _ in range(12):
        delay = design @ theta - windows.lag
        turned = weighted * np.exp(1j * np.outer(delay, angle))
        slopes = np.real((turned * (1j * angle)).sum(axis=1))
        bends = np.real((turned * angle**2).sum(axis=1))
        hessian = (design * bends[:, None]).T @ design
        inverse = np.linalg.pinv(hessian, rcond=1e-10, hermitian=True)
        move = inverse @ (design.T @ slopes)
        theta = theta + np.clip(move, -0.5, 0.5)
        if np.max(np.abs(move)) < 1e-4:
            break
    freedom = max(1, int(np.sum(windows.energy > 0)) - count - 1)
    scores = design * slopes[:, None]
    meat = scores.T @ scores * (freedom + count + 1) / freedom
    scale = np.append(np.ones(count), 1e-3)
    covariance = (inverse @ meat @ inverse) * np.outer(scale, scale)
    return Line(
        lag_s=theta[:-1], slope=float(theta[-1]) / 1000.0, middle=start.middle, covariance=covariance, freedom=freedom
    )
