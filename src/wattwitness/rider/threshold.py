"""Threshold power from a 20-minute effort on each meter, and what its error does to every zone."""

from __future__ import annotations

from wattwitness.agreement.best_means import best_means
from wattwitness.model.arrays import FloatArray
from wattwitness.model.rider import ThresholdTest, ZoneSet

TEST_S = 1200
SHARE = 0.95
"""Threshold power as a part of the best 20-minute mean: common practice, with no source; studies find it within some
percent (Borszcz FK et al. 2018, Int. J. Sports Med. 39:737-742)."""


def threshold_test(
    reference_w: FloatArray, unit_w: FloatArray, zones: ZoneSet, *, share: float = SHARE
) -> ThresholdTest:
    """Best 20 minutes of each meter, shapes (n,), one value a second; each meter's own best, as riders take it."""
    (best,) = best_means(reference_w, reference_w, unit_w, durations_s=(TEST_S,))
    own, shown = (None if mean is None else share * mean for mean in (best.reference_w, best.unit_w))
    ends: tuple[tuple[str, float, float], ...] = ()
    if own is not None and shown is not None:
        ends = tuple((name, part * own, part * shown) for name, part in zip(zones.names, zones.upper, strict=False))
    return ThresholdTest(share=share, reference_w=own, unit_w=shown, zone_ends_w=ends)
