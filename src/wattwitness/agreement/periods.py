"""The bias of halves and of blocks along the ride."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from wattwitness.agreement.common import CommonStretch, common_stretch, mean_powers, piece_bias
from wattwitness.model.agreement import PeriodBias
from wattwitness.model.arrays import FloatArray

LEAST_SECONDS = 30
"""A period with fewer common seconds than this gets no bias."""


def halves(time_s: FloatArray, expected_w: FloatArray, unit_w: FloatArray, *, level: float) -> tuple[PeriodBias, ...]:
    """Return the bias of the two halves of the elapsed time that both recorded; empty if there is none.

    Shapes (n,), ``time_s`` in steps of 1 s; powers NaN where missing.
    """
    stretch = common_stretch(expected_w, unit_w)
    if not stretch.present.size:
        return ()
    return _periods(stretch, time_s, np.array([0.0, 0.5, 1.0]) * stretch.present.size, level)


def blocks(
    time_s: FloatArray, expected_w: FloatArray, unit_w: FloatArray, *, block_min: float, level: float
) -> tuple[PeriodBias, ...]:
    """Return the bias of blocks of ``block_min`` minutes from the first second that both recorded.

    The last block is as short as the ride leaves it; its times say so. Empty if nothing is common.
    """
    stretch = common_stretch(expected_w, unit_w)
    if not stretch.present.size:
        return ()
    edges = np.arange(0.0, stretch.present.size, 60 * block_min)
    return _periods(stretch, time_s, np.append(edges, stretch.present.size), level)


def _periods(stretch: CommonStretch, time_s: FloatArray, edges_s: FloatArray, level: float) -> tuple[PeriodBias, ...]:
    """One period between each two edges, which are seconds after the stretch's first."""
    elapsed_s = np.arange(stretch.present.size)
    start_s = float(time_s[stretch.first])
    periods = []
    for low, high in pairwise(edges_s):
        mask = stretch.present & (elapsed_s >= low) & (elapsed_s < high)
        seconds, reference_w, unit_w = mean_powers(stretch, mask)
        periods.append(
            PeriodBias(
                start_s=start_s + float(low),
                end_s=start_s + float(high),
                seconds=seconds,
                reference_w=reference_w,
                unit_w=unit_w,
                bias_pct=piece_bias(stretch, mask, least_seconds=LEAST_SECONDS, slug="too_short", level=level),
            )
        )
    return tuple(periods)
