"""How a recording's samples are spaced: evenly, with gaps, or only when something changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import Pause

UNEVEN_SHARE = 0.15
"""Share of spacings off the usual one from which a recording counts as written only when something changed."""

EVENT_USUAL_S = 2.5
"""Recordings written only when something changed have many spacings of at least this."""

EVENT_LONGEST_S = 30.0
"""A spacing above this is a gap even in a recording written only when something changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch without samples that is no pause: the times of the samples on both sides of it."""

    start_s: float
    end_s: float

    @property
    def length_s(self) -> float:
        """Seconds between the samples on both sides."""
        return self.end_s - self.start_s


def is_event_driven(time_s: FloatArray) -> bool:
    """Say whether the recorder wrote only when something changed, from increasing time stamps, shape (n,).

    Such a recorder writes every few seconds, at uneven spacing: many spacings (of those up to ``EVENT_LONGEST_S``)
    differ from the median by more than a third of it, a tenth are of ``EVENT_USUAL_S`` or more, and the shortest one is
    not the rule. A recorder that writes evenly and loses samples has most of its spacings at the shortest. Common
    practice; no published rule.
    """
    spacing = np.diff(time_s)
    spacing = spacing[spacing <= EVENT_LONGEST_S]
    if spacing.size < 10:
        return False
    usual = float(np.median(spacing))
    uneven = float(np.mean(np.abs(spacing - usual) > usual / 3)) >= UNEVEN_SHARE
    seldom = float(np.quantile(spacing, 0.9)) >= EVENT_USUAL_S
    shortest = float(np.quantile(spacing, 0.02))
    return uneven and seldom and float(np.mean(spacing <= 1.2 * shortest)) < 0.5


def find_gaps(time_s: FloatArray, *, event_driven: bool, pauses: Sequence[Pause] = ()) -> tuple[Gap, ...]:
    """Find the stretches without samples that no pause explains, from increasing time stamps, shape (n,).

    A gap is a spacing above 1.5 times the usual one; where the recorder wrote only when something changed, above
    ``EVENT_LONGEST_S``.
    """
    spacing = np.diff(time_s)
    if spacing.size == 0:
        return ()
    limit = EVENT_LONGEST_S if event_driven else 1.5 * float(np.median(spacing))
    gaps = (Gap(start_s=float(time_s[i]), end_s=float(time_s[i + 1])) for i in np.flatnonzero(spacing > limit))
    return tuple(gap for gap in gaps if not any(p.start_s < gap.end_s and p.end_s > gap.start_s for p in pauses))
