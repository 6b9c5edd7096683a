"""A meter's number leaps for a moment to what nobody rode."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.measure import exact_pct
from wattwitness.faults.recorded import RecordedPower, recorded_powers
from wattwitness.faults.running import running_maximum, stretches
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.episodes import EpisodeKind

LONGEST_S = 4.0
LEAST_TIMES, LEAST_W = 1.5, 120.0
"""A spike stands above the other meter and above its own seconds around it by this factor and as many watts."""

OTHER_S, OWN_S = 5, 6
TAKEN_SHARE = 0.5
"""The two meters have to disagree by so much of it: a sprint that both saw is none."""


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """Spikes in either recording."""
    return tuple(candidate for recorded in recorded_powers(view) for candidate in _spikes(view, recorded))


def _spikes(view: DetectorView, recorded: RecordedPower) -> list[Candidate]:
    if recorded.power_w.size < 20:
        return []
    grid = np.arange(recorded.foretold_w.size)
    other_w = np.interp(recorded.at_s, grid, running_maximum(np.nan_to_num(recorded.foretold_w), OTHER_S))
    high = recorded.power_w > LEAST_TIMES * other_w + LEAST_W
    found = []
    for first, end in zip(*stretches(high), strict=True):
        start_s = float(recorded.at_s[first]) - recorded.step_s / 2
        end_s = float(recorded.at_s[end - 1]) + recorded.step_s / 2
        reach = max(round(OWN_S / recorded.step_s), 1)
        around = np.concatenate([recorded.power_w[max(first - reach, 0) : first], recorded.power_w[end : end + reach]])
        top_w = float(recorded.power_w[first:end].max())
        if end_s - start_s > LONGEST_S or not around.size:
            continue
        usual_w = float(np.median(around))
        if top_w > LEAST_TIMES * float(around.max()) + LEAST_W and _disagree(
            view, recorded, start_s, end_s, top_w, usual_w
        ):
            found.append(
                Candidate(
                    kind=EpisodeKind.SPIKE,
                    start_s=max(start_s, 0.0),
                    end_s=end_s,
                    depth_pct=exact_pct(100.0 * (top_w / max(usual_w, 25.0) - 1.0), view.settings.level),
                    certainty=1.0,
                    seen_in=recorded.side,
                )
            )
    return found


def _disagree(
    view: DetectorView, recorded: RecordedPower, start_s: float, end_s: float, top_w: float, usual_w: float
) -> bool:
    """Whether the excess stands in one meter alone."""
    blur_s = 2 * view.blur_s if recorded.side is MeterSide.REFERENCE else 0
    cut = recorded.seconds(start_s, end_s, before=2, after=blur_s + 2)
    excess = recorded.shown_w[cut] - recorded.foretold_w[cut]
    known = np.isfinite(excess)
    least = TAKEN_SHARE * (top_w - usual_w) * min(end_s - start_s, recorded.step_s)
    return bool(known.any()) and float(excess[known].sum()) >= least


DETECTOR = Detector(
    name=EpisodeKind.SPIKE.value,
    says="A meter's number leaps for a few seconds far above the other meter and its own seconds around.",
    find=find,
)
