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

OWN_FAULTS = (EpisodeKind.FROZEN, EpisodeKind.MISSING, EpisodeKind.SPIKE, EpisodeKind.ZEROS, EpisodeKind.CLOCK_JUMP)
"""Kinds that one meter's record shows by itself; whose, the detector says that held it against the other's."""

SELF_EVIDENT = 10.0
"""Log odds of those: no other witness outweighs a number that measured nothing."""

MOST_LOG_ODDS = 7.0
"""What both edges together can say at most: 1100 to 1."""


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
    name = ground.ride.reference_name
    evident = _self_evident(ground, stretch, by_reference)
    if evident is not None:
        return evident
    edges = edges_of(ground, stretch)
    if not edges:
        return 0.0, f"Too little of {name} lies beside this stretch to say what it saw."
    log_odds = capped(float(sum(edge.log_odds for edge in edges)), MOST_LOG_ODDS)
    moved = f"{name} changed by {signed(by_reference)}" if by_reference.assessed else f"What {name} did"
    against = f", {ground.ride.unit_name} by {signed(by_unit)}" if by_unit.assessed else ""
    where = "at the onset and at the end" if len(edges) == 2 else "at the onset"
    if abs(log_odds) < SPEAKS:
        return log_odds, f"{moved}{against}; {where} neither change stands out from ordinary changes of effort."
    right = name if log_odds > 0 else ground.ride.unit_name
    return log_odds, (
        f"{moved}{against}; {where} what {right} shows is the likelier change of effort, {to_one(log_odds)}."
    )


def _self_evident(ground: Ground, stretch: Stretch, by_reference: Estimate) -> tuple[float, str] | None:
    """Log odds and words where one meter's own record shows that it did not measure; ``None`` where neither does."""
    names = {MeterSide.REFERENCE: ground.ride.reference_name, MeterSide.UNIT: ground.ride.unit_name}
    candidate = stretch.candidate
    side = candidate.seen_in
    if candidate.kind is EpisodeKind.CLOCK_JUMP and side is MeterSide.EITHER:
        return 0.0, f"Power cannot say whose clock leapt, that of {' or that of '.join(names.values())}."
    if candidate.kind in OWN_FAULTS and side is not MeterSide.EITHER:
        sign = 1.0 if side is MeterSide.UNIT else -1.0
        return sign * SELF_EVIDENT, _own_fault(candidate.kind, side, names, by_reference)
    present = [np.isfinite(power[inside(ground, stretch)]).any() for power in (ground.by_reference_w, ground.by_unit_w)]
    if present[1] and not present[0]:
        return -SELF_EVIDENT, f"{names[MeterSide.REFERENCE]} has no sample in this stretch."
    if present[0] and not present[1]:
        return SELF_EVIDENT, f"{names[MeterSide.UNIT]} has no sample in this stretch."
    return None


def _own_fault(kind: EpisodeKind, side: MeterSide, names: dict[MeterSide, str], by_reference: Estimate) -> str:
    name = names[side]
    other = names[MeterSide.UNIT if side is MeterSide.REFERENCE else MeterSide.REFERENCE]
    did = {
        EpisodeKind.FROZEN: "showed one number on and on",
        EpisodeKind.MISSING: "has no sample",
        EpisodeKind.SPIKE: "leapt for a moment",
        EpisodeKind.ZEROS: "showed zero",
        EpisodeKind.CLOCK_JUMP: "left out time",
    }[kind]
    changed = ""
    if side is MeterSide.UNIT and by_reference.assessed and kind is not EpisodeKind.CLOCK_JUMP:
        changed = f" and changed by {signed(by_reference)}"
    return f"{name} {did} while {other} went on{changed}."
