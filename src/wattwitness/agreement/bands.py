"""The bias by power and by cadence."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wattwitness.agreement.common import common_stretch, mean_powers, piece_bias
from wattwitness.model.agreement import CadenceBand, PowerBand
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.stats.moving import centred_mean

LEAST_SECONDS = 60
"""Two whole windows of the mean by which bands are entered: with less a band is one look, and gets no bias."""


def power_bands(expected_w: FloatArray, unit_w: FloatArray, *, width_w: float, level: float) -> tuple[PowerBand, ...]:
    """Return the bias in bands of power whose edges are multiples of ``width_w``; bands without a second are left out.

    Powers (n,), NaN where missing. A second enters by ``CommonStretch.band_power_w``, a 30 s mean.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return ()
    bands = []
    for low, high, mask in _bands(stretch.band_power_w, stretch.present, width_w):
        seconds, reference_w, shown_w = mean_powers(stretch, mask)
        bias = piece_bias(stretch, mask, least_seconds=LEAST_SECONDS, slug="too_few_seconds", level=level)
        bands.append(
            PowerBand(low_w=low, high_w=high, seconds=seconds, reference_w=reference_w, unit_w=shown_w, bias_pct=bias)
        )
    return tuple(bands)


def cadence_bands(
    cadence_rpm: FloatArray, expected_w: FloatArray, unit_w: FloatArray, *, width_rpm: float, level: float
) -> tuple[CadenceBand, ...]:
    """Return the bias in bands of the 30 s mean cadence, edges multiples of ``width_rpm``; empty bands left out.

    ``cadence_rpm`` (n,) is whichever meter's cadence is to be trusted, NaN where missing.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return ()
    cut = slice(stretch.first, stretch.first + stretch.present.size)
    bands = []
    for low, high, mask in _bands(centred_mean(cadence_rpm[cut], 30), stretch.present, width_rpm):
        seconds, reference_w, shown_w = mean_powers(stretch, mask)
        bias = piece_bias(stretch, mask, least_seconds=LEAST_SECONDS, slug="too_few_seconds", level=level)
        bands.append(
            CadenceBand(
                low_rpm=low, high_rpm=high, seconds=seconds, reference_w=reference_w, unit_w=shown_w, bias_pct=bias
            )
        )
    return tuple(bands)


def _bands(values: FloatArray, present: BoolArray, width: float) -> Iterator[tuple[float, float, BoolArray]]:
    """Low edge, high edge and mask of each band that holds a second, lowest first."""
    enters = present & np.isfinite(values)
    number = np.floor(np.maximum(values[enters], 0.0) / width).astype(np.int64)
    band = np.full(values.size, -1, dtype=np.int64)
    band[enters] = number
    for index in np.unique(number):
        yield float(index * width), float((index + 1) * width), band == index
