"""Offset and drift below a sample, from all windows at once."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.smoothing import Kernel
from wattwitness.clock.spectra import ComplexArray, Spectra, best_weights, spectra, summed_cross, unfolded
from wattwitness.clock.windows import Windows
from wattwitness.model.arrays import BoolArray, FloatArray

GRID_STEP_S = 0.3
"""The grid of drifts moves the ends of the ride by this much from one to the next."""

SEARCHED_SLOPE, LARGEST_SLOPE = 400e-6, 600e-6
"""Drifts and delays searched, and where the climb ends."""

LEARNT = 1.4
"""Factor on the variance because the weights are learnt from the same windows: in 200 simulated hours the errors of
drift were 1.2 times what the sandwich alone said."""

LEAST_WINDOWS = 5
UNTOLD_S, UNTOLD_SLOPE = 1.5, 300e-6
"""Windows from which drift is fitted; standard uncertainty of the lag and the drift where nothing tells them."""

LEAST_S, LEAST_SLOPE = 1e-3, 4e-6
"""Standard uncertainty added to every lag and drift: a display's response is not the same all along a ride."""

FARTHEST_CLIMB_S = 4.0
"""A climb that leads farther from where it began has left its hill."""

DELAY_GRID = np.arange(-6.0, 6.01, 0.1)
FINE_S = 14.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """Lag of each stretch in seconds (S,), at ``middle`` (a reference second) if it reached there, and the common
    slope (s per s of the reference); ``covariance`` (S+1, S+1) of both, slope last; ``freedom`` for Student's t;
    ``folded``: the share of folding that fitted.
    """

    lag_s: FloatArray
    slope: float
    middle: float
    covariance: FloatArray
    freedom: int
    folded: float = 1.0

    def delay_s(self, windows: Windows) -> FloatArray:
        """What the line says beyond each window's whole-second lag, shape (W,)."""
        return self.lag_s[windows.stretch] + self.slope * (windows.at - self.middle) - windows.lag


SAFE_HZ = 0.3
"""The first turns use no more than this: above, folding misleads until the lag is known."""

SEEN_HZ = 0.4


SHARES = (0.0, 0.35, 0.7, 1.0)
"""How much of the folding that instants would show is tried."""


def fit_line(
    windows: Windows,
    middle: float,
    *,
    highest_hz: float,
    differenced: bool,
    kernels: tuple[Kernel, Kernel] | None = None,
    start: Line | None = None,
    drift: bool = True,
) -> Line:
    """Maximise the sum over windows of the weighted cross-correlation, interpolated in the frequency domain.

    No window has to give an answer of its own, so weak ones only add what they know. The covariance is the sandwich of
    the windows' scores (White H 1982, Econometrica 50:1-25, from memory), which also holds where the model is not
    exact. ``middle`` is the reference second at which the lag is stated. ``kernels`` (reference, unit): smoothing whose
    phase is taken out first, so that the lag is that of the clocks; ``start``: where to begin;
    ``drift``: whether there is enough to fit one.
    """
    seen = _without_phase(spectra(windows, min(highest_hz, SAFE_HZ)), kernels)
    line = start or _start(windows, middle)
    for turn in range(3):
        weights = best_weights(seen, summed_cross(seen, line.delay_s(windows)))
        if turn == 0:
            line = _searched(windows, seen, weights, line)
        line = climb(windows, seen, weights, line, drift=drift)
    if highest_hz < SEEN_HZ:
        return line
    wide = _without_phase(spectra(windows, SEEN_HZ), kernels)
    share = _folded_share(windows, wide, line, differenced=differenced)
    for _ in range(4):
        delay_s = line.delay_s(windows)
        clear = unfolded(wide, delay_s, differenced=differenced, share=share)
        line = climb(windows, clear, best_weights(clear, summed_cross(clear, delay_s)), line)
    return replace(line, folded=share)


def _without_phase(of: Spectra, kernels: tuple[Kernel, Kernel] | None) -> Spectra:
    """The cross-spectra without the phase that both kernels give them."""
    if kernels is None:
        return of
    response = kernels[0].response(of.hz) * np.conj(kernels[1].response(of.hz))
    return replace(of, cross=of.cross * np.conj(response) / np.maximum(np.abs(response), 1e-6))


def _folded_share(windows: Windows, wide: Spectra, line: Line, *, differenced: bool) -> float:
    """Which share of folding leaves the most that both sides have in common, each at its own best line."""
    weights = best_weights(wide, summed_cross(wide, line.delay_s(windows)))
    common = []
    for share in SHARES:
        tried = line
        for _ in range(2):
            clear = unfolded(wide, tried.delay_s(windows), differenced=differenced, share=share)
            tried = climb(windows, clear, weights, tried)
        clear = unfolded(wide, tried.delay_s(windows), differenced=differenced, share=share)
        common.append(float(np.real(weights @ summed_cross(clear, tried.delay_s(windows)))))
    return SHARES[int(np.argmax(common))]


def _start(windows: Windows, middle: float) -> Line:
    count = int(windows.stretch.max()) + 1
    lag = np.array([np.median(windows.lag[windows.stretch == k]) for k in range(count)], dtype=np.float64)
    return Line(lag_s=lag, slope=0.0, middle=middle, covariance=np.zeros((count + 1, count + 1)), freedom=1)


def _searched(windows: Windows, seen: Spectra, weights: FloatArray, start: Line) -> Line:
    """The best of a grid of drifts and offsets: the climb needs to begin on the right hill."""
    fine = np.arange(-FINE_S, FINE_S + 0.01, 0.1)
    turns = np.exp(2j * np.pi * np.outer(seen.hz, fine))
    # Not a matrix product: its threads cost more than they bring on matrices this small.
    curve = np.real(np.einsum("wf,fd->wd", seen.cross * weights, turns))
    best, chosen = -np.inf, start
    count = start.lag_s.size
    span = float(np.ptp(windows.at)) if windows.at.size else 0.0
    step = min(200e-6, GRID_STEP_S / max(span / 2, 1.0))
    for slope in np.arange(-SEARCHED_SLOPE, SEARCHED_SLOPE + step / 2, step):
        lag = start.lag_s.copy()
        total = 0.0
        for k in range(count):
            mine = np.flatnonzero(windows.stretch == k)
            base = lag[k] + slope * (windows.at[mine] - windows.at[mine].mean()) - windows.lag[mine]
            at = np.round((base[:, None] + DELAY_GRID + FINE_S) / 0.1).astype(int)
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


def climb(
    windows: Windows, seen: Spectra, weights: FloatArray | ComplexArray, start: Line, *, drift: bool = True
) -> Line:
    """Newton's method on the sum of windows, and the sandwich covariance at its top.

    Drift is left out where too few windows could tell it. A stretch whose windows show no top near where the climb
    begins stays there. Whatever the windows do not tell carries ``UNTOLD_S`` or ``UNTOLD_SLOPE``.
    """
    count = start.lag_s.size
    told = np.append(
        [bool(np.any(windows.used[windows.stretch == k])) for k in range(count)],
        drift and windows.used.sum() >= LEAST_WINDOWS,
    )
    while True:
        line, lost = _climbed(windows, seen.cross * weights, 2 * np.pi * seen.hz, start, told)
        if not lost.any():
            return line
        told = told & ~lost


def _climbed(
    windows: Windows, weighted: ComplexArray, angle: FloatArray, start: Line, told: BoolArray
) -> tuple[Line, BoolArray]:
    """The climb over the numbers that are ``told`` (S + 1,), and which of those ran away.

    Half of the spread of scores is each window's own, half that of all alike: a stretch of one window has no spread.
    """
    count = start.lag_s.size
    used = int(windows.used.sum())
    design = np.zeros((windows.at.size, count + 1))
    design[np.arange(windows.at.size), windows.stretch] = 1.0
    # Slope in s per 1000 s keeps the matrix well scaled.
    design[:, -1] = (windows.at - start.middle) / 1000.0
    begun = np.append(start.lag_s, start.slope * 1000.0 if told[-1] else 0.0)
    theta = begun.copy()
    free = design[:, told]
    slopes: FloatArray = np.zeros(windows.at.size)
    bends: FloatArray = np.zeros(windows.at.size)
    inverse: FloatArray = np.zeros((free.shape[1], free.shape[1]))
    for _ in range(12):
        turned = weighted * np.exp(1j * np.outer(design @ theta - windows.lag, angle))
        slopes = np.real((turned * (1j * angle)).sum(axis=1))
        bends = np.real((turned * angle**2).sum(axis=1))
        inverse = np.asarray(np.linalg.pinv((free * bends[:, None]).T @ free, rcond=1e-10, hermitian=True))
        move = np.clip(inverse @ (free.T @ slopes), -0.5, 0.5)
        theta[told] += move
        theta[-1] = np.clip(theta[-1], -LARGEST_SLOPE * 1000, LARGEST_SLOPE * 1000)
        if np.max(np.abs(move), initial=0.0) < 1e-4:
            break
    freedom = max(1, used - int(told.sum()))
    scores = free * slopes[:, None]
    alike = (free * bends[:, None]).T @ free * float(slopes @ slopes) / max(float(bends.sum()), 1e-30)
    meat = (scores.T @ scores + alike) / 2 * LEARNT * max(used, 1) / freedom
    covariance = np.diag(np.append(np.full(count, UNTOLD_S**2), UNTOLD_SLOPE**2))
    scale = np.append(np.ones(count), 1e-3)[told]
    covariance[np.ix_(told, told)] = (inverse @ meat @ inverse) * np.outer(scale, scale)
    covariance[np.diag_indices(count + 1)] += np.append(np.full(count, LEAST_S**2), LEAST_SLOPE**2)
    lost = told & (np.abs(theta - begun) > FARTHEST_CLIMB_S)
    lost[-1] = False
    line = Line(
        lag_s=theta[:-1], slope=float(theta[-1]) / 1000.0, middle=start.middle, covariance=covariance, freedom=freedom
    )
    return line, lost
