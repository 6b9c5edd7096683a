"""How the power shown follows cadence and resistance: display, flywheel and sensors together, as one kernel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.kernels import convolve_present, exponential_kernel, kernel_lag_s, mean_kernel
from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats

WIDTHS_S = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0)
TAUS_S = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)
DELAYS_S = (-4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6)
"""A delay below none: cadence is shown later than power."""

OUTLIER = 2.5
BETTER = 0.98
"""A kernel has to leave this share or less of what the plain one leaves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Following:
    """Weights of the last seconds (k,), newest first, and a pure delay."""

    kernel: FloatArray
    delay_s: float

    def __post_init__(self) -> None:
        """Copy and freeze the array."""
        object.__setattr__(self, "kernel", frozen_floats(self.kernel))

    @property
    def lag_s(self) -> float:
        """How late on average."""
        return kernel_lag_s(self.kernel) + self.delay_s

    def of(self, values: FloatArray) -> FloatArray:
        """``values`` (n,) as they would show."""
        return convolve_present(values, self.kernel, self.delay_s)


AT_ONCE = Following(kernel=np.ones(1), delay_s=0.0)


def follow(prompt_w: FloatArray, shown_w: FloatArray, used: BoolArray) -> Following:
    """The kernel and delay by which ``shown_w`` (n,) follows ``prompt_w`` (n,) best over the seconds ``used`` (n,).

    By the sum of bounded squares of the difference of changes over 5 s, so that a step or a drop weighs next to
    nothing; a ride that holds one effort leaves the plain one.
    """
    kernels = [mean_kernel(width) for width in WIDTHS_S] + [exponential_kernel(tau) for tau in TAUS_S]
    plain = _left(AT_ONCE.of(prompt_w), shown_w, used)
    scale = 1.4826 * float(np.median(np.abs(plain))) if plain.size else 0.0
    if plain.size < 120 or not scale > 0:
        return AT_ONCE
    scale = max(scale, 1.0)
    best, least = AT_ONCE, BETTER * _bounded(plain, scale)
    for kernel in kernels:
        for delay_s in DELAYS_S:
            tried = Following(kernel=kernel, delay_s=float(delay_s))
            score = _bounded(_left(tried.of(prompt_w), shown_w, used), scale)
            if score < least:
                best, least = tried, score
    return best


def _left(foretold_w: FloatArray, shown_w: FloatArray, used: BoolArray) -> FloatArray:
    left = np.where(used, shown_w - foretold_w, np.nan)
    change = left[5:] - left[:-5]
    return np.asarray(change[np.isfinite(change)])


def _bounded(left: FloatArray, scale: float) -> float:
    """Mean of squares, none counted beyond ``OUTLIER`` scatters."""
    return float(np.mean(np.minimum((left / scale) ** 2, OUTLIER**2 * 4))) if left.size else np.inf
