"""A gap inside one recorder's riding while the other rides on."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.recorded import RecordedPower, recorded_powers
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate

EVENT_SPACING_S = 15.0
"""A recorder that writes only when something changes may leave so long between samples."""

USUAL_TIMES = 2.0
"""A gap is longer than so many of the longest usual spacings (99 of 100 are shorter)."""

RIDING_W = 30.0
RIDING_SHARE = 0.5
"""The other meter has to show riding through at least so much of it."""


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """Gaps in the power of either recording; none for a pause that the file tells of, or where both stopped."""
    return tuple(candidate for recorded in recorded_powers(view) for candidate in _gaps(view, recorded))


def _gaps(view: DetectorView, recorded: RecordedPower) -> list[Candidate]:
    spacing_s = np.diff(recorded.own_s)
    if spacing_s.size < 20:
        return []
    least_s = max(
        view.settings.episode_duration_s,
        USUAL_TIMES * float(np.quantile(spacing_s, 0.99)),
        EVENT_SPACING_S if recorded.recording.event_driven else 0.0,
    )
    found = []
    for place in np.flatnonzero(spacing_s > least_s + recorded.step_s):
        left_s, back_s = float(recorded.own_s[place]), float(recorded.own_s[place + 1])
        if any(pause.start_s < back_s and pause.end_s > left_s for pause in recorded.recording.pauses):
            continue
        start_s = float(recorded.at_s[place]) + recorded.step_s / 2
        end_s = float(recorded.at_s[place + 1]) - recorded.step_s / 2
        with np.errstate(invalid="ignore"):
            riding = recorded.foretold_w[recorded.seconds(start_s, end_s)] > RIDING_W
        if end_s - start_s < least_s or not riding.size or riding.mean() < RIDING_SHARE:
            continue
        found.append(
            Candidate(
                kind=EpisodeKind.MISSING,
                start_s=max(start_s, 0.0),
                end_s=end_s,
                depth_pct=Estimate.missing("no_sample", "%", view.settings.level),
                certainty=1.0,
                seen_in=recorded.side,
            )
        )
    return found


DETECTOR = Detector(
    name=EpisodeKind.MISSING.value,
    says="One recorder holds no power for a while, without a pause that its file tells of, and the other rides on.",
    find=find,
)
