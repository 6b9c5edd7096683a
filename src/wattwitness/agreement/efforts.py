"""The bias of steady and of surging effort."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch, mean_powers, piece_bias
from wattwitness.model.agreement import EffortBias, EffortKind
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.stats.moving import centred_mean

SURGING_SPREAD = 0.10
"""Relative standard deviation of 10 s means over a minute above which the effort surges. A rider holding a power
stays near 0.03 to 0.04; a minute half at 350 W and half at 150 W has 0.4."""

LEAST_SECONDS = 60


def effort_biases(expected_w: FloatArray, unit_w: FloatArray, *, level: float) -> tuple[EffortBias, ...]:
    """Return the bias while the effort held and while it changed; a kind that did not occur is left out.

    Powers (n,), NaN where missing. See ``surging``.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return ()
    surges, known = surging(stretch)
    efforts = []
    for kind, mask in ((EffortKind.STEADY, known & ~surges), (EffortKind.SURGING, known & surges)):
        seconds, reference_w, shown_w = mean_powers(stretch, mask)
        if seconds:
            bias = piece_bias(stretch, mask, least_seconds=LEAST_SECONDS, slug="too_few_seconds", level=level)
            efforts.append(
                EffortBias(kind=kind, seconds=seconds, reference_w=reference_w, unit_w=shown_w, bias_pct=bias)
            )
    return tuple(efforts)


def surging(stretch: CommonStretch) -> tuple[BoolArray, BoolArray]:
    """Return where the effort surges, and where that is known, (n,) each.

    The 10 s centred means of the expected power within 30 s either side are taken, and their standard deviation held
    against ``SURGING_SPREAD`` of their mean, or of half the ride's mean if that is more, so that soft pedalling is not
    called surging for a few watts. The unit has no say: a unit that fails is no change of effort.
    """
    typical_w = stretch.expected_w.sum() / stretch.present.sum()
    smooth = centred_mean(stretch.reference_w, 10)
    mean = centred_mean(smooth, 60)
    variance = centred_mean((smooth - typical_w) ** 2, 60) - (mean - typical_w) ** 2
    known = stretch.present & np.isfinite(variance)
    level_w = np.maximum(np.where(known, mean, 0.0), typical_w / 2)
    spread = np.sqrt(np.maximum(np.where(known, variance, 0.0), 0.0)) / level_w
    return known & (spread > SURGING_SPREAD), known
