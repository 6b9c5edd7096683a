"""A stretch that a detector points at, before any witness has been heard."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.anatomy import MeterSide
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """Seconds after the reference's first sample, onset and end at half depth.

    ``depth_pct`` is the change of the unit over what its relation to the reference foretells, in percent.
    ``seen_in``: whose number shows it by itself (a frozen, missing or leaping number needs no second meter);
    ``EITHER`` where only the two together do. ``rider``: both meters changed alike, so it is the effort that changed,
    and ``depth_pct`` is the change of the effort.
    """

    kind: EpisodeKind
    start_s: float
    end_s: float
    depth_pct: Estimate
    certainty: float
    seen_in: MeterSide = MeterSide.EITHER
    rider: bool = False
    lasts: bool = False
