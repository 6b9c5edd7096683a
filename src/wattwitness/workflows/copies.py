"""Two units that are one recording: their agreement with each other would look like two witnesses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from wattwitness.model.clock import ClockStatus
from wattwitness.model.comparison import PairComparison
from wattwitness.model.recording import Notice


def warned_of_copies(
    pairs: Sequence[PairComparison], between_units: Sequence[PairComparison]
) -> tuple[PairComparison, ...]:
    """The pairs, each later copy of a unit with a notice.

    ``between_units`` holds every unit against every later one, in the order of ``combinations`` over ``pairs``.
    """
    warned = list(pairs)
    for (first, second), between in zip(combinations(range(len(pairs)), 2), between_units, strict=True):
        if between.clock.status is not ClockStatus.SAME_SOURCE:
            continue
        notice = Notice(
            slug="unit_is_a_copy",
            message=(
                f"This is the same recording as unit {first + 1}: the two count as one witness, and nothing is learnt "
                "from their agreement."
            ),
            about=pairs[second].unit.source.file_name,
        )
        warned[second] = replace(warned[second], notices=(*warned[second].notices, notice))
    return tuple(warned)
