"""Whether the unit shows the rider's own unsteadiness, or a number smoother than any legs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.common import common_stretch
from wattwitness.agreement.efforts import surging
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.stats.moving import centred_mean
from wattwitness.stats.quantiles import normal_quantile

LEAST_SECONDS = 300
SCALES_S = ((5, 60), (30, 300))
"""Means of the first, less those of the second: what a display with a few seconds' mean would show of the rider, and
what even one of half a minute must."""

LATE_S = (0, 10, 20)
FOLLOWS = 0.3
"""A display that shows less than this part of the rider's unsteadiness on every scale does not measure it."""

SMOOTHER = 0.4
"""Its own unsteadiness must be under this part of the reference's too: one unsteady for itself errs in another way."""

LEVEL = 0.99


@dataclass(frozen=True, slots=True, kw_only=True)
class Fluctuation:
    """How much of the reference's unsteadiness while the effort held the unit shows: ``followed`` (0 none, 1 all) on
    the scale that follows best, with the ``high`` end of its 99 % interval, ``ratio`` of the two standard deviations
    there, and the reference's own, ``reference_pct`` of its power. ``rider`` says that this is the legs' and not only
    noise.
    """

    seconds: int
    followed: float
    high: float
    ratio: float
    reference_pct: float
    rider: bool

    @property
    def too_smooth(self) -> bool:
        """Whether the unit does not show the legs at all."""
        return self.rider and self.high < FOLLOWS and self.ratio < SMOOTHER


def fluctuation(reference_w: FloatArray, expected_w: FloatArray, unit_w: FloatArray) -> Fluctuation | None:
    """Hold the unit's unsteadiness against the reference's in the seconds in which the effort held.

    Powers (n,), NaN where missing: as measured, through the unit's response, as compared. The slope of the unit's
    deviations on the reference's is near one for any meter that measures, whatever its gain, and near zero for a
    target; a display slower than its response says is given up to 20 s. ``None`` with under five minutes of held
    effort. ``rider``: neighbouring stretches of the reference go together, which its noise alone would not.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return None
    surges, known = surging(stretch)
    held = known & ~surges
    seconds = int(held.sum())
    if seconds < LEAST_SECONDS:
        return None
    cut = slice(stretch.first, stretch.first + stretch.present.size)
    found = [
        _on_scale(stretch.expected_w, stretch.unit_w, stretch.present, held, scale, late)
        for scale in SCALES_S
        for late in LATE_S
    ]
    followed, high, ratio, spread = max(found, key=lambda one: one[1])
    return Fluctuation(
        seconds=seconds,
        followed=followed,
        high=high,
        ratio=ratio,
        reference_pct=100 * spread / float(stretch.expected_w[held].mean()),
        rider=_of_the_rider(reference_w[cut], held),
    )


def _deviation(power_w: FloatArray, present: BoolArray, scale: tuple[int, int]) -> FloatArray:
    """Short means less long ones, NaN where there are none."""
    known = np.where(present, power_w, np.nan)
    return np.asarray(centred_mean(known, scale[0]) - centred_mean(known, scale[1]), dtype=np.float64)


def _on_scale(
    expected_w: FloatArray,
    unit_w: FloatArray,
    present: BoolArray,
    held: BoolArray,
    scale: tuple[int, int],
    late_s: int,
) -> tuple[float, float, float, float]:
    """Part followed, high end, ratio of standard deviations, the reference's standard deviation (W)."""
    size = expected_w.size - late_s
    own = _deviation(unit_w, present, scale)[late_s:]
    true = _deviation(expected_w, present, scale)[:size]
    used = held[:size] & held[late_s:] & np.isfinite(own) & np.isfinite(true)
    if used.sum() < LEAST_SECONDS / 2:
        return 0.0, 1.0, 1.0, 0.0
    own, true = own[used] - own[used].mean(), true[used] - true[used].mean()
    variance = float(true @ true)
    if variance <= 0:
        return 0.0, 1.0, 1.0, 0.0
    followed = float(own @ true) / variance
    left = own - followed * true
    independent = max(used.sum() / (2 * scale[0]), 3.0)
    error = float(np.sqrt(left @ left / variance / independent))
    spread = float(np.sqrt(variance / true.size))
    return followed, followed + normal_quantile(LEVEL) * error, float(np.sqrt(own @ own / variance)), spread


def _of_the_rider(reference_w: FloatArray, held: BoolArray) -> bool:
    """Whether neighbouring 5 s means of the reference deviate together from the minute around them."""
    whole = reference_w.size // 5 * 5
    blocks = np.where(held, reference_w, np.nan)[:whole].reshape(-1, 5).mean(axis=1)
    apart = blocks - centred_mean(blocks, 13)
    pairs = apart[1:] * apart[:-1]
    pairs = pairs[np.isfinite(pairs)]
    variance = float(np.nanmean(apart**2)) if np.isfinite(apart).any() else 0.0
    if pairs.size < LEAST_SECONDS / 10 or variance <= 0:
        return False
    # Deviations from a mean of 13 are correlated by about -1/13 where there is nothing but noise.
    return bool(float(pairs.mean()) / variance + 1 / 13 > normal_quantile(LEVEL) / np.sqrt(pairs.size))
