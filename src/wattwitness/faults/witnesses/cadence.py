"""Cadence: held or changed, and how it goes with the effort on the rest of this ride.

Cadence alone is a weak witness, since a rider who changes the resistance changes the power at the same cadence. Where
the resistance was logged, the surface over both speaks instead.
"""

from __future__ import annotations

import numpy as np

from wattwitness.faults.witnesses.changes import change_in, why_silent
from wattwitness.faults.witnesses.ground import ADDED_W, Ground, RunningMeans, Stretch
from wattwitness.faults.witnesses.heard import SPEAKS, Heard, Listener, capped, supported
from wattwitness.faults.witnesses.places import against_around, here, log_density, places, robust_spread
from wattwitness.faults.witnesses.words import signed, to_one
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName

NAME = "cadence"

LEAST_PLACES = 20
LEAST_SPREAD = 0.01
MOST_LOG_ODDS = 1.1
"""Natural logarithm of 3 to 1: a rider may always have changed the resistance."""


def listener(ground: Ground) -> Listener:
    """One for the fuller of the two cadences."""
    recorded = list(ground.ride.channels(ChannelName.CADENCE))
    logged = any(True for _ in ground.ride.channels(ChannelName.RESISTANCE))
    effort = RunningMeans.of(np.log(np.fmin(ground.by_reference_w, np.inf) + ADDED_W))
    by_unit = RunningMeans.of(np.log(ground.by_unit_w + ADDED_W))

    def hear(stretch: Stretch) -> Heard | None:
        if not recorded:
            return None
        _, recorded_by, rpm = max(recorded, key=lambda held: int(np.isfinite(held[2]).sum()))
        change = change_in(rpm, ground, stretch, unit="rpm", rounding=1.0)
        foretold, log_odds = _foretold(ground, stretch, rpm, effort, by_unit)
        if logged:
            log_odds = 0.0
        return Heard(
            witness=Witness(
                kind=WitnessKind.CADENCE,
                recorded_by=recorded_by,
                change=change,
                expected_if_unit_right=foretold[0],
                expected_if_reference_right=foretold[1],
                log_odds=log_odds,
                supports=supported(log_odds),
                says=_says(ground, recorded_by, change, log_odds, logged),
            )
        )

    return hear


def _foretold(
    ground: Ground, stretch: Stretch, rpm: FloatArray, effort: RunningMeans, by_unit: RunningMeans
) -> tuple[tuple[Estimate, Estimate], float]:
    """What cadence should have done by the unit's effort and by the reference's, and the log odds between them.

    Cadence's change over a stretch is a share of the effort's, as a straight line through all stretches of that length.
    """
    nothing = Estimate.missing("no_pattern", "rpm")
    turning = RunningMeans.of(rpm)
    first, length = places(ground, stretch.seconds)
    moved, went = (against_around(held, first, first + length) for held in (turning, effort))
    known = np.isfinite(moved) & np.isfinite(went)
    by = [here(held, stretch, ground) for held in (by_unit, effort)]
    measured = here(turning, stretch, ground)
    if np.count_nonzero(known) < LEAST_PLACES or not np.isfinite([*by, measured]).all():
        return (nothing, nothing), 0.0
    moved, went = moved[known], went[known]
    share = float(went @ moved) / (float(went @ went) + 0.05**2 * went.size)
    spread = max(robust_spread(moved - share * went), LEAST_SPREAD * float(np.nanmean(rpm)), 0.3)
    both = [
        Estimate(value=share * x, low=share * x - 1.96 * spread, high=share * x + 1.96 * spread, unit="rpm") for x in by
    ]
    log_odds = log_density(measured - share * by[1], spread) - log_density(measured - share * by[0], spread)
    return (both[0], both[1]), capped(float(log_odds), MOST_LOG_ODDS)


def _says(ground: Ground, recorded_by: str, change: Estimate, log_odds: float, logged: bool) -> str:
    silent = why_silent(change, recorded_by, "recorded", "cadence")
    if silent:
        return silent
    if not change.assessed:
        return f"The cadence of {recorded_by} is missing in or beside this stretch."
    says = f"Cadence ({recorded_by}) changed by {signed(change, 1)}"
    if logged:
        return f"{says}; what that means at the logged resistance, the surface over both says."
    if abs(log_odds) >= SPEAKS:
        name = ground.ride.reference_name if log_odds > 0 else ground.ride.unit_name
        says += f", which on this ride goes better with what {name} shows, {to_one(log_odds)}"
    return f"{says}. No resistance was logged, and cadence alone cannot exclude that it was changed."
