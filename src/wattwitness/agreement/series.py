"""What the panels draw: both powers and their difference along the ride."""

from __future__ import annotations

import numpy as np

from wattwitness.model.agreement import PairSeries
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName
from wattwitness.stats.moving import centred_mean, sample_density

LEAST_W = 50.0
"""A ratio is shown only where both meters exceed this: below it a percentage says little."""


def pair_series(pair: AlignedPair, expected_w: FloatArray) -> PairSeries:
    """Return the series of ``pair`` on its grid; a channel that is not there is NaN throughout.

    ``expected_w`` (n,) is the reference through the unit's response.
    """
    missing = np.full(pair.time_s.size, np.nan)
    unit_w = pair.unit.get(ChannelName.POWER, missing)
    return PairSeries(
        time_s=pair.time_s,
        reference_w=pair.reference.get(ChannelName.POWER, missing),
        expected_w=expected_w,
        unit_w=unit_w,
        difference_pct=_difference_pct(expected_w, unit_w),
        reference_rpm=pair.reference.get(ChannelName.CADENCE, missing),
        unit_rpm=pair.unit.get(ChannelName.CADENCE, missing),
        reference_bpm=pair.reference.get(ChannelName.HEART_RATE, missing),
        unit_bpm=pair.unit.get(ChannelName.HEART_RATE, missing),
        reference_resistance=pair.reference.get(ChannelName.RESISTANCE, missing),
        unit_resistance=pair.unit.get(ChannelName.RESISTANCE, missing),
    )


def _difference_pct(expected_w: FloatArray, unit_w: FloatArray) -> FloatArray:
    """30 s mean difference in percent of the 30 s mean expected power, over the same seconds."""
    both = np.isfinite(expected_w) & np.isfinite(unit_w)
    density = sample_density(both)
    expected, unit = (
        centred_mean(np.where(both, power, np.nan), 30, density=density) for power in (expected_w, unit_w)
    )
    shown = both & (expected > LEAST_W) & (unit > LEAST_W)
    return np.where(shown, 100 * (unit / np.where(shown, expected, 1.0) - 1), np.nan)
