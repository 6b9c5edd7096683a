"""The bias of a stretch that somebody chose to look at, with what the whole ride tells of the error's wander."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.common import common_stretch, mean_powers, piece_bias
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate

LEAST_SECONDS = 60
"""With less no interval is given: as for halves and blocks of a ride."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenStretch:
    """What both meters showed from ``from_s`` until before ``to_s``, seconds after the reference's first sample.

    ``plain_pct`` is the bare quotient of the sums in percent, known also where ``bias_pct`` is not assessed for want of
    seconds; ``extra_kj`` is the unit's energy less the reference's. NaN where nothing is known.
    """

    from_s: float
    to_s: float
    seconds: int
    reference_w: float
    unit_w: float
    mean_rpm: float
    extra_kj: float
    plain_pct: float
    bias_pct: Estimate


def chosen_stretch(
    time_s: FloatArray,
    expected_w: FloatArray,
    unit_w: FloatArray,
    cadence_rpm: FloatArray,
    *,
    from_s: float,
    to_s: float,
    level: float,
) -> ChosenStretch:
    """Return the bias of the seconds from ``from_s`` until before ``to_s``.

    Arrays have shape (n,), one value a second, NaN where missing; ``expected_w`` is the reference through the unit's
    response. A short stretch holds few independent pieces of an error that wanders, so the interval takes the wander
    from the whole ride. It is of a stretch chosen beforehand: the worst of many that were looked at is worse than its
    interval says. Not assessed: ``too_short`` under a minute, ``no_common_seconds``, ``too_little_power``.
    Raises ValueError where the stretch does not end after it begins, or is not finite.
    """
    if not (math.isfinite(from_s) and math.isfinite(to_s) and from_s < to_s):
        raise ValueError("a stretch ends after it begins")
    whole = common_stretch(expected_w, unit_w)
    cut = slice(whole.first, whole.first + whole.present.size)
    mask = whole.present & (time_s[cut] >= from_s) & (time_s[cut] < to_s)
    seconds, reference_w, shown_w = mean_powers(whole, mask)
    turning = cadence_rpm[cut][mask]
    turning = turning[np.isfinite(turning)]
    slug = "too_short" if seconds else "no_common_seconds"
    return ChosenStretch(
        from_s=from_s,
        to_s=to_s,
        seconds=seconds,
        reference_w=reference_w,
        unit_w=shown_w,
        mean_rpm=float(turning.mean()) if turning.size else math.nan,
        extra_kj=seconds * (shown_w - reference_w) / 1000 if seconds else math.nan,
        plain_pct=100 * (shown_w / reference_w - 1) if seconds and reference_w > 0 else math.nan,
        bias_pct=piece_bias(whole, mask, least_seconds=LEAST_SECONDS, slug=slug, level=level),
    )
