"""The sum of all witnesses: the unit at fault, the reference, the rider who eased off, or it cannot be told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.witnesses.changes import change_in, inside
from wattwitness.faults.witnesses.edges import edges_of
from wattwitness.faults.witnesses.ground import Ground, Stretch, ground_of, log_ratio, stretch_of
from wattwitness.faults.witnesses.heard import SPEAKS, Listener
from wattwitness.faults.witnesses.registry import WITNESSES
from wattwitness.faults.witnesses.words import signed, to_one
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray
from wattwitness.model.episodes import EpisodeKind, Finding, HeartAccounts, Witness

TELLS = math.log(20.0)
"""From 20 to 1 on somebody is found at fault."""

OF_THE_EFFORT = (EpisodeKind.DROP, EpisodeKind.SURGE, EpisodeKind.SPIKE, EpisodeKind.ZEROS)
"""Kinds that a change of the effort looks like. A step parts the meters for good, which no effort does."""

LEAST_EFFORT = 0.08
"""A smaller change of the effort, in its logarithm, is no easing off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What the witnesses amount to. ``odds``: how many to one the unit is at fault rather than the reference, ``None``
    where that is not the question. ``heart``: both accounts of the heart, where there are any.
    """

    finding: Finding
    reason: str
    odds: float | None
    witnesses: tuple[Witness, ...]
    heart: HeartAccounts | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """A ride with its models of normal behaviour, for weighing many candidates."""

    ground: Ground
    listeners: tuple[Listener, ...]


def prepare(ride: RideForFaults, outside: BoolArray) -> Prepared:
    """Fit what is normal on the seconds ``outside`` (n,) all candidates."""
    return _prepared(ground_of(ride, outside))


def _prepared(ground: Ground) -> Prepared:
    listeners = tuple(spec.listener(ground) for spec in WITNESSES)
    return Prepared(ground=ground, listeners=listeners)


def weigh(ride: RideForFaults, candidate: Candidate, outside: BoolArray) -> Weighed:
    """Hear all witnesses of one candidate. For many of one ride ``prepare`` once and call ``weigh_prepared``."""
    return weigh_prepared(prepare(ride, outside), candidate)


def weigh_prepared(prepared: Prepared, candidate: Candidate) -> Weighed:
    """Hear all witnesses of one candidate and sum up."""
    ground = prepared.ground
    stretch = stretch_of(ground, candidate)
    if candidate.kind is EpisodeKind.STEP:
        outside = ground.outside.copy()
        outside[stretch.first : stretch.stop] = False
        prepared = _prepared(ground_of(ground.ride, outside, stretch.first))
        ground = prepared.ground
    answers = [answer for listener in prepared.listeners if (answer := listener(stretch)) is not None]
    witnesses = tuple(answer.witness for answer in answers)
    accounts = [answer.accounts for answer in answers if answer.accounts is not None]
    finding, reason, odds = _found(ground, stretch, witnesses)
    return Weighed(
        finding=finding, reason=reason, odds=odds, witnesses=witnesses, heart=accounts[0] if accounts else None
    )


def _found(ground: Ground, stretch: Stretch, witnesses: Sequence[Witness]) -> tuple[Finding, str, float | None]:
    """Finding, reason and odds."""
    candidate = stretch.candidate
    eased = _rider(ground, stretch)
    if eased is not None:
        return Finding.RIDER, eased, None
    if candidate.rider:
        return Finding.UNDETERMINED, "Both meters changed, but not alike enough to say that only the effort did.", None
    if _both_missing(ground, stretch):
        return Finding.UNDETERMINED, "Neither meter has a sample here, so nothing can be said of either.", None
    log_odds = sum(witness.log_odds for witness in witnesses)
    odds = math.exp(log_odds)
    unit, reference = ground.ride.unit_name, ground.ride.reference_name
    spoken = [witness for witness in witnesses if abs(witness.log_odds) >= SPEAKS]
    strongest = max(spoken, key=lambda witness: abs(witness.log_odds), default=None)
    said = f" {strongest.says}" if strongest is not None else ""
    if log_odds >= TELLS:
        return Finding.UNIT, f"{unit} is at fault rather than {reference}, {to_one(log_odds)}.{said}", odds
    if log_odds <= -TELLS:
        return Finding.REFERENCE, f"{reference} is at fault rather than {unit}, {to_one(log_odds)}.{said}", odds
    return (
        Finding.UNDETERMINED,
        f"The witnesses do not tell {unit} from {reference}: {to_one(log_odds)} where 20 to 1 is asked for.",
        odds,
    )


def _edge_alike(ground: Ground, stretch: Stretch) -> bool:
    """Whether both meters made the same change, and no small one, at the onset or at the end."""
    return any(
        abs(edge.by_reference) >= LEAST_EFFORT and abs(edge.departure) <= 0.3 * abs(edge.by_reference)
        for edge in edges_of(ground, stretch)
    )


def _both_missing(ground: Ground, stretch: Stretch) -> bool:
    within = inside(ground, stretch)
    return not any(np.isfinite(power[within]).any() for power in (ground.by_reference_w, ground.by_unit_w))


def _rider(ground: Ground, stretch: Stretch) -> str | None:
    """Why it was the rider, if both meters changed alike; else ``None``.

    A detector that saw the effort itself fall is believed where the meters agree on an edge, whatever else the unit
    did meanwhile: that is an episode of its own.
    """
    candidate = stretch.candidate
    if candidate.kind not in OF_THE_EFFORT:
        return None
    by_reference, by_unit = (
        change_in(power, ground, stretch, unit="%") for power in (ground.by_reference_w, ground.by_unit_w)
    )
    if by_reference.value is None or by_unit.value is None:
        return None
    effort, shown = (math.log(max(1 + change / 100, 0.02)) for change in (by_reference.value, by_unit.value))
    together = effort * shown > 0 and abs(effort) >= LEAST_EFFORT
    apart = _apart(ground, stretch)
    alike = together and abs(apart) <= _allowed(ground, stretch, effort)
    seen = candidate.rider and (_edge_alike(ground, stretch) or (together and abs(shown) >= 0.6 * abs(effort)))
    if not alike and not seen:
        return None
    depth = candidate.depth_pct.value if candidate.rider else None
    did = "eased off" if (effort if depth is None else depth) < 0 else "pushed harder"
    names = ground.ride.reference_name, ground.ride.unit_name
    says = f"The rider {did}: {names[0]} changed by {signed(by_reference)} and {names[1]} by {signed(by_unit)}"
    return f"{says}, alike." if alike else f"{says}; both saw it begin or end, and what else {names[1]} did is apart."


def _apart(ground: Ground, stretch: Stretch) -> float:
    """The unit's departure from its relation to the reference over the stretch, in the logarithm; infinite without."""
    within = np.flatnonzero(inside(ground, stretch))
    apart = float(log_ratio(ground.unit, ground.reference, int(within[0]), int(within[-1]) + 1))
    return apart if math.isfinite(apart) else math.inf


def _allowed(ground: Ground, stretch: Stretch, effort: float) -> float:
    """How far apart the meters may be for an ``effort`` that changed so much (logarithm), and still be alike.

    Away from the power that the relation was learnt at, a zero or a gain that bends moves the unit with the effort.
    """
    candidate, sd = stretch.candidate, ground.departure_sd(stretch.seconds)
    if candidate.rider:
        return max(0.04 + 0.2 * abs(effort), 3.0 * sd)
    if candidate.seen_in is MeterSide.UNIT:
        return max(0.03 + 0.15 * abs(effort), 2.0 * sd)
    return max(0.02 + 0.1 * abs(effort), 2.0 * sd)
