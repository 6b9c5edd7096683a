"""What a comparison amounts to, as the exit status of a command."""

from __future__ import annotations

from enum import IntEnum

from wattwitness.model.clock import ClockStatus
from wattwitness.model.comparison import Comparison, PairComparison


class Outcome(IntEnum):
    """The exit status of ``compare``; 2 is for usage and unreadable input, which never get as far as a comparison."""

    PRODUCED = 0
    LIMIT_BROKEN = 1
    NOTHING_CONCLUDED = 3


def outcome_of(comparison: Comparison) -> Outcome:
    """Judge a comparison against what was asked of it.

    With a stated limit, one unit whose measured bias is beyond it breaks it, whatever the others do; a unit whose
    bias could not be measured never passes. Without one, a clock for any pair is something produced. The bias is
    compared as computed, never as rounded for show.
    """
    limit_pct = comparison.settings.limit_pct
    if limit_pct is not None:
        if any(breaks_limit(pair, limit_pct) for pair in comparison.pairs):
            return Outcome.LIMIT_BROKEN
        if any(not pair.overall.bias_pct.assessed for pair in comparison.pairs):
            return Outcome.NOTHING_CONCLUDED
    if any(_says_something(pair) for pair in comparison.pairs):
        return Outcome.PRODUCED
    return Outcome.NOTHING_CONCLUDED


def _says_something(pair: PairComparison) -> bool:
    """Whether a clock was found, or one given by hand left anything to compare."""
    if pair.clock.status is ClockStatus.BY_HAND:
        return pair.common_seconds > 0
    return pair.clock.status.usable


def breaks_limit(pair: PairComparison, limit_pct: float) -> bool:
    """Whether the measured bias is larger in size than ``limit_pct``; never where nothing was measured."""
    bias_pct = pair.overall.bias_pct.value
    return bias_pct is not None and abs(bias_pct) > limit_pct
