"""A recorder's clock stood still, or leapt, while the ride went on."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.clock import ClockJump
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate

RODE_SHARE = 0.5


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """The jumps that the clock's fit found, but for a pause of both of which only one file holds a gap."""
    jumps = view.ride.clock.jumps
    found = (_candidate(view, number, jump) for number, jump in enumerate(jumps, start=1))
    return tuple(candidate for candidate in found if candidate is not None)


def _candidate(view: DetectorView, number: int, jump: ClockJump) -> Candidate | None:
    """A positive step: the unit's recorder lost so many seconds; a negative one: the reference's did."""
    at_s, step_s = jump.at_s.value, jump.step_s.value
    if at_s is None or step_s is None:
        return None
    rode_on = _reference_rode(view, at_s, step_s) if step_s > 0 else _unit_rode(view, number, -step_s)
    if not rode_on:
        return None
    return Candidate(
        kind=EpisodeKind.CLOCK_JUMP,
        start_s=max(at_s, 0.0),
        end_s=max(at_s, 0.0) + max(step_s, 0.0),
        depth_pct=Estimate.missing("a_clock", "%", view.settings.level),
        certainty=1.0,
        seen_in=MeterSide.UNIT if step_s > 0 else MeterSide.REFERENCE,
    )


def _reference_rode(view: DetectorView, at_s: float, step_s: float) -> bool:
    """Whether the reference has samples through the seconds that the unit's clock left out."""
    held = np.isfinite(view.ride.expected_w[max(round(at_s), 0) : max(round(at_s + step_s), 0)])
    return held.size == 0 or bool(held.mean() >= RODE_SHARE)


def _unit_rode(view: DetectorView, number: int, lost_s: float) -> bool:
    """Whether the unit has samples through the seconds that the reference's clock left out."""
    segments = view.ride.clock.segments
    if number >= len(segments):
        return True
    jump_s = segments[number].start_unit_s
    time_s = view.ride.recorded_unit.time_s
    around = time_s[(time_s > jump_s - lost_s - 30.0) & (time_s < jump_s + lost_s + 30.0)]
    return around.size < 2 or bool(np.diff(around).max() < RODE_SHARE * lost_s)


DETECTOR = Detector(
    name=EpisodeKind.CLOCK_JUMP.value,
    says="One recorder's clock loses or gains seconds against the other's in the middle of the ride.",
    find=find,
)
