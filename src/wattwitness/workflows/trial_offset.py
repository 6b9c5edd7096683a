"""A clock offset tried by hand: what it does to the bias and to the difference, at once and without intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.series import pair_series
from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.clock.grid import align
from wattwitness.clock.response import compared_unit_power, expected_power
from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.response import ResponseFit

LEAST_SECONDS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrialOffset:
    """What one offset makes of a pair. ``bias_pct`` has no interval: a whole comparison gives one.

    ``agreement`` is the correlation of both powers over the seconds they share, which is highest where the efforts lie
    on one another; ``bias_pct`` and it are NaN with less than a minute in common, or where nothing varies.
    ``difference_pct`` (n,) is the 30 s mean difference on ``time_s`` (n,), seconds after the reference's first sample.
    """

    offset_s: float
    bias_pct: float
    agreement: float
    common_seconds: int
    time_s: FloatArray
    difference_pct: FloatArray


def trial_offset(
    reference: Recording, unit: Recording, offset_s: float, *, response: ResponseFit | None = None
) -> TrialOffset:
    """Put the unit on the reference's time by ``offset_s`` alone and say what comes of it.

    ``response`` is that of a comparison already made; with the one that a comparison at this offset finds, the bias is
    that comparison's. Without, both powers are taken as they are. Raises ValueError where ``offset_s`` is not finite.
    """
    pair = align(reference, unit, clock_by_hand(unit, offset_s))
    missing = np.full(pair.time_s.size, np.nan)
    reference_w = pair.reference.get(ChannelName.POWER, missing)
    unit_w = pair.unit.get(ChannelName.POWER, missing)
    expected_w = reference_w if response is None else expected_power(reference_w, response)
    compared_w = unit_w if response is None else compared_unit_power(unit_w, response)
    both = np.isfinite(expected_w) & np.isfinite(compared_w)
    seconds = int(both.sum())
    return TrialOffset(
        offset_s=offset_s,
        bias_pct=_bias_pct(expected_w[both], compared_w[both]),
        agreement=_agreement(expected_w[both], compared_w[both]),
        common_seconds=seconds,
        time_s=pair.time_s,
        difference_pct=pair_series(pair, expected_w).difference_pct,
    )


def _bias_pct(expected_w: FloatArray, unit_w: FloatArray) -> float:
    if expected_w.size < LEAST_SECONDS or expected_w.mean() < 1.0:
        return math.nan
    return float(100 * (unit_w.sum() / expected_w.sum() - 1))


def _agreement(expected_w: FloatArray, unit_w: FloatArray) -> float:
    if expected_w.size < LEAST_SECONDS or np.ptp(expected_w) == 0 or np.ptp(unit_w) == 0:
        return math.nan
    return float(np.corrcoef(expected_w, unit_w)[0, 1])
