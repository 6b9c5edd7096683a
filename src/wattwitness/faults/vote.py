"""Three meters or more vote: the others of a ride are heard on an episode that one pair showed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from wattwitness.faults.witnesses.heard import TELLS
from wattwitness.faults.witnesses.other_meter import other_meter
from wattwitness.faults.witnesses.words import to_one
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Episode, Finding

MOST_VOTES = 6.9
"""All other meters together count for at most 1000 to 1: they share the road, the rider and the clock."""


def with_votes(episode: Episode, others: Sequence[tuple[str, FloatArray, FloatArray]]) -> Episode:
    """``episode`` with every other meter of the ride heard, and the finding that follows.

    ``others``: name, what its own relation to the reference foretells, and its power, (n,) each, one value a second
    from the reference's first sample, NaN where missing. A finding that the rider eased off, or
    where unit against reference was not the question (no odds), stands.
    """
    if not others:
        return episode
    heard = tuple(other_meter(episode, *other) for other in others)
    witnesses = (*episode.witnesses, *heard)
    if episode.odds is None or episode.finding is Finding.RIDER:
        return replace(episode, witnesses=witnesses)
    votes = sum(witness.log_odds for witness in heard)
    votes = min(max(votes, -MOST_VOTES), MOST_VOTES)
    log_odds = math.log(episode.odds) + votes
    finding = Finding.UNDETERMINED
    if abs(log_odds) >= TELLS:
        finding = Finding.UNIT if log_odds > 0 else Finding.REFERENCE
    return replace(
        episode,
        witnesses=witnesses,
        odds=math.exp(log_odds),
        finding=finding,
        reason=_reason(episode, finding, log_odds, [witness.says for witness in heard]),
    )


def _reason(episode: Episode, finding: Finding, log_odds: float, said: Sequence[str]) -> str:
    """The reason as it stood where the votes did not change the finding, else what changed it."""
    votes = " ".join(said)
    if finding is episode.finding:
        return f"{episode.reason} {votes}"
    verdict = {
        Finding.UNIT: f"The unit is at fault, {to_one(log_odds)}",
        Finding.REFERENCE: f"The reference is at fault, {to_one(log_odds)}",
    }.get(finding, f"With all meters heard it cannot be told, {to_one(log_odds)} where 20 to 1 is asked for")
    return f"{verdict}, now that the other meters were heard. {votes}"
