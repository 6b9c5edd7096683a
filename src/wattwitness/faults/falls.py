"""Drops and surges as candidates: an excursion of the residual with its depth, its edges and its certainty."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.excursions import Excursion, excursions
from wattwitness.faults.measure import certainty_of, depth_of
from wattwitness.faults.view import DetectorView
from wattwitness.model.episodes import EpisodeKind

LEAST_PEDALLED = 0.7
"""Share of the shortest episode's seconds that have to be pedalled; of a longer one's half of this."""

END_S = 5
"""An excursion that reaches to so near the last common second goes on to the end."""


def candidates_of(view: DetectorView, kind: EpisodeKind, sign: int) -> tuple[Candidate, ...]:
    """Excursions to one side (``sign`` -1 or +1), in order of time."""
    settings = view.settings
    depth, duration_s = settings.episode_depth_pct / 100.0, settings.episode_duration_s
    common = np.flatnonzero(view.residual.used)
    if not common.size:
        return ()
    found = [
        one
        for one in excursions(view.residual, sign, depth=depth, duration_s=duration_s)
        if _while_pedalling(view, one, sign, depth)
    ]
    return tuple(
        Candidate(
            kind=kind,
            start_s=max(one.first - view.late_s, 0.0),
            end_s=one.last - view.late_s,
            depth_pct=depth_of(view.residual, one, view.blur_s, settings.level),
            certainty=certainty_of(one.depth, one.sd, view.hours),
            lasts=bool(one.last >= common[-1] + 1 - END_S),
        )
        for one in sorted(found, key=lambda one: one.first)
    )


def _while_pedalling(view: DetectorView, found: Excursion, sign: int, depth: float) -> bool:
    """Whether it stands without the seconds in which the cranks all but stood: a display that holds its last number
    there, or a flywheel that runs on, is no fault.
    """
    cut = slice(found.first, found.last)
    usual = view.pedalled[cut] & view.residual.used[cut]
    least = max(LEAST_PEDALLED * view.settings.episode_duration_s, LEAST_PEDALLED / 2 * (found.last - found.first))
    foretold = float(view.residual.foretold_w[cut][usual].sum())
    if usual.sum() < least or foretold <= 0:
        return False
    return sign * float(view.residual.left_w[cut][usual].sum()) / foretold >= 0.85 * depth
