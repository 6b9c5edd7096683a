"""The unit's number falls away from what the reference foretells, and comes back."""

from __future__ import annotations

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.falls import candidates_of
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.episodes import EpisodeKind


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """Every stretch at least as deep and as long as the settings say, and surely no chance."""
    return candidates_of(view, EpisodeKind.DROP, -1)


DETECTOR = Detector(
    name=EpisodeKind.DROP.value,
    says="The unit falls below its own relation to the reference and comes back, or stays down to the end.",
    find=find,
    on_residual=True,
)
