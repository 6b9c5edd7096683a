"""What one unit over many rides does to the rider."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wattwitness.model.rider import DetectableChange, PlaceInField, RiderEffects, ZoneSet, ZoneShown, ZonesRidden
from wattwitness.model.study import Consistency, RideFigures
from wattwitness.rider.detectable import detectable_change
from wattwitness.rider.ranking import places
from wattwitness.rider.zones import zone_shown


def rider_effects(
    rides: Sequence[RideFigures],
    consistency: Consistency,
    zones: ZoneSet,
    *,
    threshold_w: float | None,
    field: Sequence[tuple[str, float]],
    level: float,
) -> RiderEffects:
    """Zones, tests, places and detectable change. ``threshold_w`` ``None``: the mean of those found on the rides."""
    used = [ride for ride in rides if ride.counts]
    tests = tuple(
        ride.threshold_test
        for ride in used
        if ride.threshold_test is not None and ride.threshold_test.reference_w is not None
    )
    found = [test.reference_w for test in tests if test.reference_w is not None]
    held_w = threshold_w if threshold_w is not None else (float(np.mean(found)) if found else None)
    effects = consistency.crude
    bias, following = effects.mean_bias_pct.value, effects.next_ride_pct
    held: tuple[ZoneShown, ...] = ()
    if held_w is not None and bias is not None and effects.between_ride_sd_pct.value is not None:
        within = [ride.within_pct for ride in used if math.isfinite(ride.within_pct)]
        held = zone_shown(
            zones,
            held_w,
            bias_pct=bias,
            between_pct=effects.between_ride_sd_pct.value,
            within_pct=float(np.sqrt(np.mean(np.square(within)))) if within else 0.0,
        )
    placed: tuple[PlaceInField, ...] = ()
    if field and bias is not None and following.low is not None and following.high is not None:
        placed = places(field, bias_pct=bias, low_pct=following.low, high_pct=following.high)
    return RiderEffects(
        zones=_added(tuple(ride.zones_ridden for ride in used if ride.zones_ridden is not None)),
        held=held,
        tests=tests,
        places=placed,
        change=_change(used, held_w, level),
    )


def _change(used: Sequence[RideFigures], threshold_w: float | None, level: float) -> DetectableChange:
    """From the scatter of the rides as observed, at equal power and cadence."""
    bias = [ride.standardised_pct.value for ride in used if ride.standardised_pct.value is not None]
    spread = float(np.std(bias, ddof=1)) if len(bias) > 1 else None
    return detectable_change(spread, len(bias) - 1.0, threshold_w=threshold_w, level=level)


def _added(ridden: Sequence[ZonesRidden]) -> tuple[ZonesRidden, ...]:
    """Rides with the same threshold in one table; rides without a stated one have each their own."""
    groups: dict[tuple[str, str], list[ZonesRidden]] = {}
    for one in ridden:
        key = (one.threshold_from, f"{one.threshold_w:.6f}" if one.threshold_from == "stated" else "")
        groups.setdefault(key, []).append(one)
    return tuple(_sum(group) for group in groups.values())


def _sum(group: Sequence[ZonesRidden]) -> ZonesRidden:
    first = group[0]
    origin = first.threshold_from
    if len(group) > 1 and origin != "stated":
        origin = f"ride by ride {origin}, here their mean over {len(group)} rides"
    shown, perfect = (
        tuple(tuple(int(number) for number in row) for row in np.sum([getattr(one, name) for one in group], axis=0))
        for name in ("shown", "perfect")
    )
    return ZonesRidden(
        zones=first.zones,
        threshold_w=float(np.mean([one.threshold_w for one in group])),
        threshold_from=origin,
        shown=shown,
        perfect=perfect,
    )
