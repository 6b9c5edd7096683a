"""The reference's account: did it see the effort change when the unit's number did?"""

from __future__ import annotations

import numpy as np

from wattwitness.faults.witnesses.changes import change_in, inside
from wattwitness.faults.witnesses.edges import edges_of
from wattwitness.faults.witnesses.ground import Ground, Stretch
from wattwitness.faults.witnesses.heard import SPEAKS, Heard, Listener, capped, supported
from wattwitness.faults.witnesses.words import signed, to_one
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.episodes import EpisodeKind, Witness, WitnessKind
from wattwitness.model.estimate import Estimate

NAME = "reference"

OWN_FAULTS = (
    EpisodeKind.FROZEN,
    EpisodeKind.MISSING,
    EpisodeKind.SPIKE,
    EpisodeKind.ZEROS,
)
"""Kinds that one meter's number shows by itself."""

SELF_EVIDENT = 7.0
"""Log odds where a meter's own number shows that it measured nothing: 1100 to 1."""


def listener(ground: Ground) -> Listener:
    """One for the reference of this ride."""

    def heard(stretch: Stretch) -> Heard:
        return Heard(witness=hear(ground, stretch))

    return heard


def hear(ground: Ground, stretch: Stretch) -> Witness:
    """What the reference did at the onset, at the end and between, against ordinary changes of effort."""
    by_reference = change_in(ground.by_reference_w, ground, stretch, unit="%")
    by_unit = change_in(ground.by_unit_w, ground, stretch, unit="%")
    log_odds, says = _weighed(ground, stretch, by_reference, by_unit)
    return Witness(
        kind=WitnessKind.REFERENCE,
        recorded_by=ground.ride.reference_name,
        change=by_reference,
        expected_if_unit_right=by_unit,
        expected_if_reference_right=by_reference,
        log_odds=log_odds,
        supports=supported(log_odds),
        says=says,
    )


def _weighed(ground: Ground, stretch: Stretch, by_reference: Estimate, by_unit: Estimate) -> tuple[float, str]:
    name, candidate = ground.ride.reference_name, stretch.candidate
    if candidate.kind in OWN_FAULTS and candidate.seen_in is MeterSide.REFERENCE:
        return -SELF_EVIDENT, f"{name} shows by its own number that it did not measure."
    if not np.isfinite(ground.by_reference_w[inside(ground, stretch)]).any():
        return -SELF_EVIDENT, f"{name} has no sample in this stretch."
    if candidate.kind in OWN_FAULTS and candidate.seen_in is MeterSide.UNIT:
        told = f"{name} rode on through it"
        changed = f": its power changed by {signed(by_reference)}" if by_reference.assessed else ""
        return SELF_EVIDENT, f"{told}{changed}."
    if candidate.kind is EpisodeKind.CLOCK_JUMP:
        return 0.0, f"Power cannot say whose clock leapt, that of {name} or that of {ground.ride.unit_name}."
    edges = edges_of(ground, stretch)
    if not edges:
        return 0.0, f"Too little of {name} lies beside this stretch to say what it saw."
    log_odds = capped(float(sum(edge.log_odds for edge in edges)), SELF_EVIDENT)
    moved = f"{name} changed by {signed(by_reference)}" if by_reference.assessed else f"What {name} did"
    against = f", {ground.ride.unit_name} by {signed(by_unit)}" if by_unit.assessed else ""
    where = "at the onset and at the end" if len(edges) == 2 else "at the onset"
    if abs(log_odds) < SPEAKS:
        return log_odds, f"{moved}{against}; {where} neither change stands out from ordinary changes of effort."
    right = name if log_odds > 0 else ground.ride.unit_name
    return log_odds, (
        f"{moved}{against}; {where} what {right} shows is the likelier change of effort, {to_one(log_odds)}."
    )
