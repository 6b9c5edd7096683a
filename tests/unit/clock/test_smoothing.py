"""Kernels against a filter run on samples, and the family told apart on spectra made by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from tests.unit.clock.rides import varied
from wattwitness.clock.display_lag import Sampling, combined, explanations
from wattwitness.clock.refine import fit_line
from wattwitness.clock.segments import Stretch
from wattwitness.clock.smoothing import KERNELS, Kernel, Shape
from wattwitness.clock.windows import differences, windows_along
from wattwitness.model.arrays import FloatArray

HZ = np.linspace(0.01, 0.5, 25)


@pytest.mark.parametrize("kernel", KERNELS)
def test_the_response_of_a_kernel_is_that_of_its_filter(kernel: Kernel) -> None:
    """Against the transform of an impulse passed through scipy's filter; the mean lag is its centre of mass."""
    impulse = np.zeros(4000)
    impulse[0] = 1.0
    if kernel.shape is Shape.MEAN:
        out = lfilter(np.ones(round(kernel.size_s)) / kernel.size_s, [1.0], impulse)
    else:
        keep = np.exp(-1 / kernel.size_s)
        out = lfilter([1 - keep], [1.0, -keep], impulse)
    expected = np.exp(-2j * np.pi * np.outer(HZ, np.arange(4000))) @ out
    assert kernel.response(HZ) == pytest.approx(expected, abs=1e-9)
    assert kernel.lag_s == pytest.approx(np.arange(4000) @ out, abs=1e-6)


def both_sides(width: int, *, on_reference: bool, seed: int) -> tuple[FloatArray, FloatArray]:
    """An hour of cadence with 0.5 rpm of own noise on each side, one side the mean of its last ``width`` samples."""
    rng = np.random.default_rng(seed)
    true = varied(3600, seed=seed)[::10]
    noisy = [true + 0.5 * rng.standard_normal(true.size) for _ in range(2)]
    which = 0 if on_reference else 1
    noisy[which] = lfilter(np.ones(width) / width, [1.0], noisy[which] - noisy[which][0]) + noisy[which][0]
    return np.round(noisy[0]), np.round(noisy[1])


@pytest.mark.parametrize(("width", "on_reference"), [(5, False), (4, True), (8, False)])
def test_a_trailing_mean_is_recognised_on_its_side_with_its_lag(width: int, on_reference: bool) -> None:
    """The likeliest hypothesis is that very mean, and it puts the lag back to none."""
    a, b = both_sides(width, on_reference=on_reference, seed=width)
    whole = (Stretch(start=0, stop=a.size, lag_at=np.zeros(a.size, dtype=np.int64)),)
    windows = windows_along(differences(a), differences(b), whole, width=60, reach=40)
    line = fit_line(windows, 1800.0, highest_hz=0.5, differenced=True)
    sampling = Sampling(hz=HZ, share_a=np.ones(HZ.size), share_b=np.ones(HZ.size), step=1.0)
    found = explanations(windows, line, sampling)
    best = found[0].hypothesis
    smoothed, other = (best.reference, best.unit) if on_reference else (best.unit, best.reference)
    assert smoothed == Kernel(shape=Shape.MEAN, size_s=width)
    assert other.lag_s <= 0.6
    lag = combined(found, 0.02, 2.0, 0.95)
    assert line.lag_s[0] + lag.value == pytest.approx(0.0, abs=0.15)
    assert line.lag_s[0] + lag.low <= 0.0 <= line.lag_s[0] + lag.high
    assert lag.prompt < 0.05


def test_two_unsmoothed_sides_are_told_to_be_so() -> None:
    """No smoothing is the likeliest, and the interval is the line's own."""
    a, b = both_sides(1, on_reference=False, seed=3)
    whole = (Stretch(start=0, stop=a.size, lag_at=np.zeros(a.size, dtype=np.int64)),)
    windows = windows_along(differences(a), differences(b), whole, width=60, reach=40)
    line = fit_line(windows, 1800.0, highest_hz=0.5, differenced=True)
    sampling = Sampling(hz=HZ, share_a=np.ones(HZ.size), share_b=np.ones(HZ.size), step=1.0)
    lag = combined(explanations(windows, line, sampling), 0.02, 2.0, 0.95)
    assert lag.prompt > 0.5
    assert abs(line.lag_s[0] + lag.value) < 0.1
