"""A meter writes zero again and again while the rider pedals."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.measure import exact_pct
from wattwitness.faults.recorded import RecordedPower, cadence_holds, recorded_powers, runs
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.episodes import EpisodeKind

LEAST_S = 3.0
"""Fewer seconds of zero can be a dead spot of the pedalling, or the edge of coasting."""

PEDALLED_W = 50.0
TAKEN_SHARE = 0.6
"""The two meters have to disagree by so much of the work in the stretch: a display that is late sees coasting too."""

JOINED_STEPS = 2.5


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """Runs of zero in either recording while the other meter shows power and no cadence says that the cranks stood."""
    return tuple(candidate for recorded in recorded_powers(view) for candidate in _zeros(view, recorded))


def _zeros(view: DetectorView, recorded: RecordedPower) -> list[Candidate]:
    if recorded.power_w.size < 20:
        return []
    joined = np.diff(recorded.own_s) <= max(JOINED_STEPS * recorded.step_s, 3.0)
    first, last = runs(recorded.power_w, joined)
    length_s = recorded.at_s[last] - recorded.at_s[first] + recorded.step_s
    found = []
    for place in np.flatnonzero((recorded.power_w[first] == 0) & (length_s >= LEAST_S - 1e-6)):
        start_s = float(recorded.at_s[first[place]]) - recorded.step_s / 2
        end_s = start_s + float(length_s[place])
        if _pedalled(view, recorded, start_s, end_s):
            found.append(
                Candidate(
                    kind=EpisodeKind.ZEROS,
                    start_s=max(start_s, 0.0),
                    end_s=end_s,
                    depth_pct=exact_pct(-100.0, view.settings.level),
                    certainty=1.0,
                    seen_in=recorded.side,
                )
            )
    return found


def _pedalled(view: DetectorView, recorded: RecordedPower, start_s: float, end_s: float) -> bool:
    """Whether the rider pedalled through the run, by the other meter and the cadence."""
    inside = recorded.seconds(start_s, end_s)
    if not cadence_holds(view, inside):
        return False
    blur_s = 2 * view.blur_s if recorded.side is MeterSide.REFERENCE else 0
    around = recorded.seconds(start_s, end_s, before=1, after=blur_s + 1)
    # The other meter as it stands: a relation fitted to a ride that is mostly zeros foretells zeros.
    other = view.ride.expected_w if recorded.side is MeterSide.UNIT else view.ride.unit_w
    missed_w = other[around] - recorded.shown_w[around]
    other_w = other[inside]
    known = np.isfinite(missed_w)
    if not known.any() or not np.isfinite(other_w).any():
        return False
    usual_w = float(np.nanmean(other_w))
    return usual_w >= PEDALLED_W and float(missed_w[known].sum()) >= TAKEN_SHARE * usual_w * (end_s - start_s)


DETECTOR = Detector(
    name=EpisodeKind.ZEROS.value,
    says="A meter writes zero for seconds on end while the other shows power and the cranks turn.",
    find=find,
)
