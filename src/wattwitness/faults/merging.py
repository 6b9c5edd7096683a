"""Candidates that are one and the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wattwitness.faults.candidate import Candidate
from wattwitness.model.arrays import BoolArray
from wattwitness.model.episodes import EpisodeKind

APART_S = 10.0
"""Two of one kind with less between them are one."""

RANK = (
    EpisodeKind.CLOCK_JUMP,
    EpisodeKind.MISSING,
    EpisodeKind.ZEROS,
    EpisodeKind.FROZEN,
    EpisodeKind.SPIKE,
    EpisodeKind.STEP,
    EpisodeKind.DROP,
    EpisodeKind.SURGE,
)
"""What is seen in the samples themselves explains what is seen between the meters."""


ACROSS_S = 120.0
SEEN_SHARE = 0.2
"""Or with so much between them in which next to nothing was seen; if they are about as deep."""

ALIKE_SHARE = 0.4


def bridged(candidates: Sequence[Candidate], seen: BoolArray) -> list[Candidate]:
    """Drops, or surges, on either side of a gap as one. ``seen`` (n,): seconds in which both were compared."""
    joined: list[Candidate] = []
    for one in sorted(candidates, key=lambda one: one.start_s):
        same = next((index for index, other in enumerate(joined) if _across(other, one, seen)), None)
        if same is None:
            joined.append(one)
        else:
            joined[same] = _joined(joined[same], one)
    return joined


def _across(earlier: Candidate, later: Candidate, seen: BoolArray) -> bool:
    """Whether nothing tells two of about one depth apart but seconds that nobody saw."""
    depths = earlier.depth_pct.value, later.depth_pct.value
    if earlier.kind is not later.kind or earlier.rider or later.rider or None in depths:
        return False
    between = seen[max(round(earlier.end_s), 0) : max(round(later.start_s), 0)]
    if not between.size or between.size > ACROSS_S or between.mean() > SEEN_SHARE:
        return False
    deeper = max(abs(depths[0] or 0.0), abs(depths[1] or 0.0))
    return abs((depths[0] or 0.0) - (depths[1] or 0.0)) <= ALIKE_SHARE * deeper


def merged(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Those of one kind and one meter that touch as one; what lies within one that explains it, left out."""
    joined: list[Candidate] = []
    for one in sorted(candidates, key=lambda one: (RANK.index(one.kind), one.start_s)):
        same = next((index for index, other in enumerate(joined) if _touches(other, one)), None)
        if same is not None:
            joined[same] = _joined(joined[same], one)
        elif not any(_within(one, other) for other in joined):
            joined.append(one)
    return joined


def _touches(one: Candidate, other: Candidate) -> bool:
    if one.kind is not other.kind or one.seen_in is not other.seen_in or one.rider is not other.rider:
        return False
    if one.kind in (EpisodeKind.CLOCK_JUMP, EpisodeKind.STEP):
        return False
    return one.start_s <= other.end_s + APART_S and other.start_s <= one.end_s + APART_S


def _joined(one: Candidate, other: Candidate) -> Candidate:
    """Both as one, with the depth of the longer."""
    longer = max(one, other, key=lambda each: each.end_s - each.start_s)
    return replace(
        longer,
        start_s=min(one.start_s, other.start_s),
        end_s=max(one.end_s, other.end_s),
        certainty=max(one.certainty, other.certainty),
        lasts=one.lasts or other.lasts,
    )


def _within(one: Candidate, other: Candidate) -> bool:
    """Whether at least half of ``one`` lies in ``other``, which is of the same meter or explains it."""
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return one.kind is not other.kind and one.seen_in is other.seen_in and shared >= 0.5 * (one.end_s - one.start_s)
