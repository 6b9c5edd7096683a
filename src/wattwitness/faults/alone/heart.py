"""The heart's account of a stretch: as the shown power would have it, and as the rest of the ride foretells.

The heart's model is that of two meters; in the reference's place stands the power shown, with what was foretold in the
stretches in question.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.witnesses.ground import Ground, stretch_of
from wattwitness.faults.witnesses.heard import Heard
from wattwitness.faults.witnesses.heart_rate import listener
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.response import Response, ResponseFit, ResponseKind

SHOWN, FORETOLD = "the number", "an effort that went on"

Asked = Callable[[int, int], Heard | None]
"""Hears the heart on seconds from the first up to the second; ``None`` without heart rate."""


def heart_of(ride: AloneRide, foretold_w: FloatArray, in_question: BoolArray) -> Asked:
    """A heart fitted outside the seconds ``in_question`` (n,), driven there by ``foretold_w`` (n,)."""
    if ride.heart_bpm is None:
        return lambda _first, _last: None
    effort_w = np.where(in_question & np.isfinite(foretold_w), foretold_w, ride.power_w)
    pair = AlignedPair(
        time_s=ride.time_s,
        reference={ChannelName.POWER: effort_w},
        unit={ChannelName.POWER: ride.power_w, ChannelName.HEART_RATE: ride.heart_bpm},
    )
    standing = RideForFaults(
        pair=pair,
        expected_w=effort_w,
        unit_w=ride.power_w,
        response=ResponseFit(reference=_prompt(), unit=_prompt()),
        clock=clock_by_hand(ride.recorded, 0.0),
        recorded_reference=ride.recorded,
        recorded_unit=ride.recorded,
        reference_name=FORETOLD,
        unit_name=SHOWN,
    )
    ground = Ground(ride=standing, outside=~in_question, by_reference_w=effort_w, by_unit_w=ride.power_w)
    hear = listener(ground)

    def asked(first: int, last: int) -> Heard | None:
        candidate = Candidate(
            kind=EpisodeKind.DROP,
            start_s=float(first),
            end_s=float(last),
            depth_pct=Estimate.missing("not_asked", "%"),
            certainty=1.0,
        )
        return hear(stretch_of(ground, candidate))

    return asked


def _prompt() -> Response:
    none = Estimate.missing("not_of_this_kind", "s")
    return Response(
        kind=ResponseKind.PROMPT,
        width_s=none,
        tau_s=none,
        delay_s=Estimate(value=0.0, low=0.0, high=0.0, unit="s"),
    )
