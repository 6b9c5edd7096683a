"""Octave bands of a channel with missing samples, each scaled so that no stretch of the ride rules the rest."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray

BANDS = 8
"""Band j holds periods from about 2**(j+1) to 2**(j+2) seconds: 2-4 s, 4-8 s, ... 256-512 s."""

CLIP = 4.0
"""Scaled values beyond this many standard deviations are cut there: a single surge is no proof of a clock."""


LEAST_USUAL = 0.05
"""The usual mean square counts as at least this much of that of the whole: no blowing up of what is nothing."""


def octave_bands(values: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Split ``values`` (shape (n,), one a second, NaN where missing) into octave bands.

    Returns bands of shape (BANDS, n), scaled to a local mean square of about 1 and 0 where missing, and which samples
    each band has (same shape). A band is the difference of two smoothings; a smoothing is a normalised convolution
    (Knutsson & Westin 1993, Proc. CVPR 515-523, from memory): the kernel's weight shared out over present samples.
    """
    present = np.isfinite(values)
    bands = np.zeros((BANDS, values.size))
    has = np.zeros((BANDS, values.size), dtype=np.bool_)
    finer = np.where(present, values, 0.0)
    if not present.any():
        return bands, has
    finer = np.where(present, finer - finer[present].mean(), 0.0)
    for j in range(BANDS):
        half = 2**j
        smooth, weight = smoothed_present(finer, present, half)
        # A second whose neighbours are missing has no variation at this scale.
        enough = present & (weight >= 1.6 / half if j else weight > 0.6)
        band = np.where(enough, finer - smooth, 0.0)
        bands[j], has[j] = _scaled(band, enough, half)
        finer = np.where(present, smooth, 0.0)
    return bands, has


def smoothed_present(values: FloatArray, present: BoolArray, half: int) -> tuple[FloatArray, FloatArray]:
    """Triangular mean of half-width ``half`` + 1 over present samples (``values`` 0 elsewhere), and the share of weight
    present, shape (n,) both.
    """
    total = _triangle(values, half)
    weight = _triangle(present.astype(np.float64), half)
    return np.divide(total, weight, out=np.zeros_like(total), where=weight > 0), weight


def _triangle(values: FloatArray, half: int) -> FloatArray:
    """Convolution with a triangle of base 2·half + 1 and sum 1: two boxes of half + 1 samples, one each way."""
    width = half + 1
    padded = np.concatenate([np.zeros(width), values, np.zeros(width)])
    once = np.cumsum(padded)
    once[width:] -= once[:-width].copy()
    twice = np.cumsum(once)
    twice[width:] -= twice[:-width].copy()
    start = width + half
    return np.asarray(twice[start : start + values.size] / width**2)


def _scaled(band: FloatArray, enough: BoolArray, half: int) -> tuple[FloatArray, BoolArray]:
    """Divide by the root of local and overall mean square, half each; cut at ``CLIP``."""
    count = int(enough.sum())
    overall = float(band @ band) / count if count else 0.0
    if count < 20 or overall <= 1e-9:
        return np.zeros_like(band), np.zeros_like(enough)
    local, weight = smoothed_present(band**2, enough, max(120, 8 * half))
    # Coasting and sprints rule a mean square: the usual stretch of the ride sets the scale.
    usual = max(float(np.median(local[enough])), LEAST_USUAL * overall)
    local = np.where(weight > 0, local, usual)
    return np.clip(band / np.sqrt(0.5 * local + 0.5 * usual), -CLIP, CLIP), enough
