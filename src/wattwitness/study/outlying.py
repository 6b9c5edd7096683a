"""Rides that stand apart from the others, and rides that do not count: both named, none dropped silently."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wattwitness.model.study import LeftOutRide, OutlyingRide, RideFigures
from wattwitness.study.consistency import next_ride

LEAST_RIDES = 4
CHANCE = 0.05
"""Of naming any ride of a study in which none stands apart (shared among its rides: Bonferroni)."""


def outlying_rides(rides: Sequence[RideFigures]) -> tuple[OutlyingRide, ...]:
    """Rides beyond what the others foretell for one more ride, on the standardised bias."""
    used = [ride for ride in rides if ride.counts and ride.standardised_pct.value is not None]
    if len(used) < LEAST_RIDES:
        return ()
    level = 1 - CHANCE / len(used)
    found = []
    for ride in used:
        others = [other for other in used if other is not ride]
        without, foretold = next_ride(*_arrays(others), level=level)
        value, low, high, mean = ride.standardised_pct.value, foretold.low, foretold.high, without.value
        if value is None or low is None or high is None or mean is None or low <= value <= high:
            continue
        why = f"At {value:+.1f} % it lies outside the {low:+.1f} to {high:+.1f} % that the other rides foretell."
        found.append(OutlyingRide(name=ride.name, why=why, mean_without_pct=mean))
    return tuple(found)


def left_out_rides(rides: Sequence[RideFigures]) -> tuple[LeftOutRide, ...]:
    """Rides that do not count, with the mean bias as ridden if each had counted."""
    used = [ride.bias_pct.value for ride in rides if ride.counts and ride.bias_pct.value is not None]
    return tuple(
        LeftOutRide(
            name=ride.name,
            slug=ride.left_out,
            why=ride.left_out_why,
            mean_with_it_pct=float(np.mean([*used, ride.supposed_pct])) if math.isfinite(ride.supposed_pct) else None,
        )
        for ride in rides
        if not ride.counts
    )


def _arrays(rides: Sequence[RideFigures]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return (
        np.array([ride.standardised_pct.value for ride in rides], dtype=np.float64),
        np.array([ride.standardised_se_pct for ride in rides]),
        np.array([ride.standardised_degrees for ride in rides]),
    )
