"""The smallest real change of a rider's threshold that two tests on this unit can show."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.rider import DetectableChange
from wattwitness.stats.variance_components import one_way

FACTOR = 1.959963984540054 * math.sqrt(2)
"""Two tests, each with its error: 95 % of differences of no change at all are smaller."""

REFERENCE_SD_PCT = 1.2
"""From one test to the next, a meter in use (0.9 to 1.8): Maier T et al. (2017) Int. J. Sports Med. 38:456-461."""

RIDER_SD_PCT = 1.2
"""From one test to the next, the rider: Paton CD, Hopkins WG, Int. J. Sports Med. (read in a secondary source)."""


def detectable_change(
    spread_pct: float | None,
    degrees: float,
    *,
    threshold_w: float | None = None,
    reference_sd_pct: float = REFERENCE_SD_PCT,
    rider_sd_pct: float = RIDER_SD_PCT,
    level: float = 0.95,
) -> DetectableChange:
    """From the standard deviation of the unit's observed bias over rides (percent, with its degrees of freedom).

    That spread holds the reference's own scatter too, so it does not flatter the unit. ``None``: not known.
    """
    from scipy.special import chdtri

    reference = FACTOR * reference_sd_pct
    with_rider = FACTOR * math.hypot(reference_sd_pct, rider_sd_pct)
    if spread_pct is None or not degrees > 0:
        missing = Estimate.missing("too_few_rides", "%", level)
        return DetectableChange(
            unit_pct=missing,
            reference_pct=reference,
            unit_with_rider_pct=None,
            reference_with_rider_pct=with_rider,
            threshold_w=threshold_w,
        )
    value = FACTOR * spread_pct
    # chdtri gives the point that its second argument lies above.
    low, high = (value * math.sqrt(degrees / float(chdtri(degrees, 0.5 - side * level / 2))) for side in (-1, 1))
    return DetectableChange(
        unit_pct=Estimate(value=value, low=min(low, high), high=max(low, high), unit="%", level=level),
        reference_pct=reference,
        unit_with_rider_pct=FACTOR * math.hypot(spread_pct, rider_sd_pct),
        reference_with_rider_pct=with_rider,
        threshold_w=threshold_w,
    )


def within_subject_sd(tests: Sequence[FloatArray]) -> float:
    """Standard deviation of repeated tests of the same rider, over riders, each (n_j,): Bland JM, Altman DG (1996) BMJ
    313:744. Raises ValueError where no rider was tested twice.
    """
    square = one_way(tests).within_square
    if math.isnan(square):
        raise ValueError("no one was tested twice")
    return math.sqrt(square)
