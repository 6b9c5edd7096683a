"""A meter shows one number on and on while the effort goes on changing."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.recorded import RecordedPower, recorded_powers, runs
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.arrays import IntArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate

CHANCE = 1e-3
"""How many runs as long a whole ride may be expected to hold by chance."""

LEAST_CHANGE, LEAST_STEPS = 0.04, 2.5
"""The other meter's power has to move through at least this share of its mean and so many of the display's steps; less
than half of both where the run is twice as long as any of the display's should be."""

FIFTH, FIFTH_TIMES = 5, 3.0
MANY = 3
"""With so many long runs that fill half of the ride the meter always does so: it shows a target, not a measurement."""

JOINED_STEPS = 2.5


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """Runs of one number in either recording that are far longer than its display's usual ones."""
    return tuple(candidate for recorded in recorded_powers(view) for candidate in _frozen(view, recorded))


def _frozen(view: DetectorView, recorded: RecordedPower) -> list[Candidate]:
    if recorded.power_w.size < 60 or recorded.recording.event_driven:
        return []
    joined = np.diff(recorded.own_s) <= max(JOINED_STEPS * recorded.step_s, 3.0)
    first, last = runs(recorded.power_w, joined)
    riding = recorded.power_w[first] > 0
    first, last = first[riding], last[riding]
    lengths = last - first + 1
    least = least_run(lengths)
    long = lengths >= least
    if long.sum() >= MANY and lengths[long].sum() > lengths.sum() / 2:
        return []
    length_s = recorded.at_s[last] - recorded.at_s[first] + recorded.step_s
    found = []
    for place in np.flatnonzero(long & (length_s >= view.settings.episode_duration_s)):
        start_s = float(recorded.at_s[first[place]]) + recorded.step_s / 2
        end_s = float(recorded.at_s[last[place]]) + recorded.step_s / 2
        if _effort_changed(recorded, start_s, end_s, 1.0 if lengths[place] < 2 * least else 0.4):
            found.append(
                Candidate(
                    kind=EpisodeKind.FROZEN,
                    start_s=max(start_s, 0.0),
                    end_s=end_s,
                    depth_pct=Estimate.missing("one_number", "%", view.settings.level),
                    certainty=1.0 - CHANCE,
                    seen_in=recorded.side,
                )
            )
    return found


def least_run(lengths: IntArray) -> float:
    """The shortest run (samples) that the ride's other runs do not explain.

    Runs of a display that now and then repeats itself have lengths that die away geometrically, with the share of
    samples that repeat the one before; where a recorder holds the last number through losses, runs of three and more
    are commoner than that, and die away as they themselves show. Nor is it told where four others are a third as long.
    The longest of all.
    """
    samples = int(lengths.sum())
    usual = np.minimum(lengths, 6)
    repeats = float((usual - 1).sum() + 1) / max(samples, 1)
    threes, fives = int(np.sum(lengths >= 3)), int(np.sum(lengths >= 5))
    tail = math.sqrt((fives + 0.5) / (threes + 1.0))
    by_repeats = 1.0 + math.log(max(samples, 2) / CHANCE) / -math.log(min(max(repeats, 0.02), 0.99))
    by_tail = 3.0 + math.log(max(threes, 1) / CHANCE) / -math.log(min(max(tail, 0.02), 0.99))
    fifth = int(np.sort(lengths)[-FIFTH]) if lengths.size >= FIFTH else 1
    return max(by_repeats, by_tail, FIFTH_TIMES * fifth)


def _effort_changed(recorded: RecordedPower, start_s: float, end_s: float, share: float) -> bool:
    """Whether the other meter's power moved in the meantime by ``share`` of what is asked for."""
    other_w = recorded.foretold_w[recorded.seconds(start_s, end_s)]
    other_w = other_w[np.isfinite(other_w)]
    if other_w.size < 5:
        return False
    smooth = np.convolve(other_w, np.ones(3) / 3.0, mode="valid")
    changes = np.abs(np.diff(recorded.power_w))
    step_w = float(changes[changes > 0].min()) if np.any(changes > 0) else 1.0
    return float(np.ptp(smooth)) > share * max(LEAST_CHANGE * float(other_w.mean()), LEAST_STEPS * step_w)


DETECTOR = Detector(
    name=EpisodeKind.FROZEN.value,
    says="A meter shows one number for much longer than its display ever does, while the effort changes.",
    find=find,
)
